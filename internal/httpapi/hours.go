package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func hoursOut(h farm.Hours) any {
	return api.Hours{Id: h.ID, MemberId: &h.MemberID, Minutes: int32(h.Minutes), Work: h.Work, OccurredAt: h.OccurredAt,
		Day: dayOut(h.Day), RecordedAt: h.RecordedAt, ByMemberId: &h.RecordedBy}
}

// ListHours lists entered hours, the newest first.
func (s *Server) ListHours(c echo.Context, g api.GardenId, p api.ListHoursParams) error {
	f := service.HoursFilter{Member: value(p.MemberId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Hours(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, hoursOut)
}

// CreateHours enters hours.
func (s *Server) CreateHours(c echo.Context, g api.GardenId, p api.CreateHoursParams) error {
	in, err := body[api.HoursNew](c)
	if err != nil {
		return err
	}
	h := farm.Hours{ID: value(in.Id), MemberID: value(in.MemberId), Minutes: int(in.Minutes), Work: in.Work, OccurredAt: value(in.OccurredAt)}
	r := reply[farm.Hours]{Status: http.StatusCreated, Wire: hoursOut, Location: func(x farm.Hours) string { return gardenPath(g, "hours", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Hours], error) {
		return s.svc.EnterHours(ctx, a, g, h, o)
	})
}
