package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func pledgeOut(p farm.Pledge) any {
	return api.Pledge{Id: p.ID, SeriesId: nonZero(p.SeriesID), RepeatWeeks: ptr(int32(p.RepeatWeeks)), WindowId: nonZero(p.WindowID),
		ExpectedOn: dayOutPtr(p.ExpectedOn), SiteId: nonZero(p.SiteID), Material: p.Material, Amount: amountOut(p.Entered), MassG: int64(p.Mass),
		HouseholdId: nonZero(p.HouseholdID), MemberId: nonZero(p.MemberID), Status: api.PledgeStatus(p.Status), Reason: ptrIf(p.Reason),
		Note: ptrIf(p.Note), OccurredAt: p.PromisedAt, Day: dayOut(p.PromisedOn), RecordedAt: p.RecordedAt, ByMemberId: nonZero(p.RecordedBy)}
}

// ListPledges lists pledges, the latest first; a donor sees their own.
func (s *Server) ListPledges(c echo.Context, g api.GardenId, p api.ListPledgesParams) error {
	f := service.PledgeFilter{WindowID: value(p.WindowId), Status: farm.PledgeStatus(value(p.Status)), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Pledges(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, pledgeOut)
}

// CreatePledge notes a promise of scraps.
func (s *Server) CreatePledge(c echo.Context, g api.GardenId, p api.CreatePledgeParams) error {
	in, err := body[api.PledgeNew](c)
	if err != nil {
		return err
	}
	x := service.PledgeNew{ID: value(in.Id), OccurredAt: value(in.OccurredAt), WindowID: value(in.WindowId), ExpectedOn: dayInPtr(in.ExpectedOn),
		SiteID: value(in.SiteId), Material: in.Material, Mass: amountIn(in.Amount), HouseholdID: value(in.HouseholdId),
		RepeatWeeks: int(value(in.RepeatWeeks)), Note: value(in.Note)}
	r := reply[farm.Pledge]{Status: http.StatusCreated, Wire: pledgeOut,
		Location: func(p farm.Pledge) string { return gardenPath(g, "pledges", p.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Pledge], error) {
		return s.svc.CreatePledge(ctx, a, g, x, o)
	})
}

// GetPledge shows one pledge.
func (s *Server) GetPledge(c echo.Context, g api.GardenId, id api.PledgeId) error {
	p, err := s.svc.Pledge(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, reply[farm.Pledge]{Status: http.StatusOK, Wire: pledgeOut}, p)
}

// DecidePledge says what becomes of a pledge.
func (s *Server) DecidePledge(c echo.Context, g api.GardenId, id api.PledgeId, p api.DecidePledgeParams) error {
	in, err := body[api.PledgeDecision](c)
	if err != nil {
		return err
	}
	r := reply[farm.Pledge]{Status: http.StatusOK, Wire: pledgeOut}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Pledge], error) {
		return s.svc.DecidePledge(ctx, a, g, id, farm.PledgeDecision(in.Decision), value(in.Reason), o)
	})
}
