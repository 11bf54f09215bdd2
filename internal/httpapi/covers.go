package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

func coverOut(c farm.Cover) any {
	return api.Cover{Id: c.ID, KeeperMemberId: c.KeeperID, StandInMemberId: c.StandInID, From: dayOut(c.Days.Start),
		To: dayOut(c.Days.End), Handover: ptrIf(c.Handover), Version: int32(c.Version)}
}

func coverReply(status int) reply[farm.Cover] {
	return reply[farm.Cover]{Status: status, Wire: coverOut, Version: func(c farm.Cover) int { return c.Version }}
}

// ListCovers lists covers, the soonest first.
func (s *Server) ListCovers(c echo.Context, g api.GardenId, p api.ListCoversParams) error {
	f := service.CoverFilter{Keeper: value(p.KeeperId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Covers(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, coverOut)
}

// CreateCover names a stand-in.
func (s *Server) CreateCover(c echo.Context, g api.GardenId, p api.CreateCoverParams) error {
	in, err := body[api.CoverNew](c)
	if err != nil {
		return err
	}
	cover := farm.Cover{ID: value(in.Id), KeeperID: in.KeeperMemberId, StandInID: in.StandInMemberId,
		Days: measure.DayRange{Start: dayIn(in.From), End: dayIn(in.To)}, Handover: value(in.Handover)}
	r := coverReply(http.StatusCreated)
	r.Location = func(x farm.Cover) string { return gardenPath(g, "covers", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Cover], error) {
		return s.svc.NameStandIn(ctx, a, g, cover, o)
	})
}

// UpdateCover changes a cover.
func (s *Server) UpdateCover(c echo.Context, g api.GardenId, id api.CoverId, p api.UpdateCoverParams) error {
	in, err := body[api.CoverPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	cover, err := s.svc.UpdateCover(c.Request().Context(), actor(c), g, id, v, func(x *farm.Cover) { patchCover(x, in) })
	if err != nil {
		return err
	}
	return send(c, coverReply(http.StatusOK), cover)
}

func patchCover(x *farm.Cover, in api.CoverPatch) {
	set(&x.StandInID, in.StandInMemberId)
	if in.From != nil {
		x.Days.Start = dayIn(*in.From)
	}
	if in.To != nil {
		x.Days.End = dayIn(*in.To)
	}
	if f := patchOf(in.Handover); f.Set {
		x.Handover = f.Value
	}
}
