package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func lureOut(l farm.Lure) any {
	return api.Lure{Id: l.ID, BinId: l.BinID, SectionId: l.SectionID, UnfedSince: dayOutPtr(l.UnfedSince), State: api.LureState(l.State),
		NextStep: l.NextStep(), Steps: mapped(l.Steps, lureStepOut), Note: nonZero(l.Note), OccurredAt: l.OccurredAt, Day: dayOut(l.Day),
		RecordedAt: l.RecordedAt, ByMemberId: nonZero(l.RecordedBy)}
}

func lureStepOut(s farm.LureStep) api.LureStep {
	return api.LureStep{Kind: api.LureStepKind(s.Kind), Dusting: measureOut(s.Dusting), WormTransferId: nonZero(s.TransferID),
		Note: nonZero(s.Note), OccurredAt: s.OccurredAt}
}

// CreateLure begins a lure.
func (s *Server) CreateLure(c echo.Context, g api.GardenId, bin api.BinId, p api.CreateLureParams) error {
	in, err := body[api.LureNew](c)
	if err != nil {
		return err
	}
	lure := farm.Lure{ID: value(in.Id), BinID: bin, SectionID: in.SectionId, UnfedSince: dayInPtr(in.UnfedSince), Note: value(in.Note),
		OccurredAt: value(in.OccurredAt)}
	r := reply[farm.Lure]{Status: http.StatusCreated, Wire: lureOut, Location: func(x farm.Lure) string { return gardenPath(g, "lures", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Lure], error) {
		return s.svc.BeginLure(ctx, a, g, lure, o)
	})
}

// CreateLureStep records the next step of a lure.
func (s *Server) CreateLureStep(c echo.Context, g api.GardenId, id api.LureId, p api.CreateLureStepParams) error {
	in, err := body[api.LureStepNew](c)
	if err != nil {
		return err
	}
	step := service.LureStep{Kind: farm.LureStepKind(in.Kind), Dusting: measureIn(in.Dusting), ToSection: value(in.ToSectionId),
		Note: value(in.Note), OccurredAt: value(in.OccurredAt)}
	if in.Worms != nil {
		step.Worms = ptr(wormsIn(*in.Worms))
	}
	r := reply[farm.Lure]{Status: http.StatusCreated, Wire: lureOut, Location: func(x farm.Lure) string { return gardenPath(g, "lures", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Lure], error) {
		return s.svc.TakeLureStep(ctx, a, g, id, step, o)
	})
}

// ListLures lists lures, the latest first.
func (s *Server) ListLures(c echo.Context, g api.GardenId, p api.ListLuresParams) error {
	f := service.LureFilter{Bin: value(p.BinId), State: farm.LureState(value(p.State))}
	list, err := s.svc.Lures(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, lureOut)
}
