package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func harvestOut(h farm.Harvest) any {
	out := api.Harvest{Id: h.ID, OccurredAt: h.OccurredAt, BinId: h.BinID, SectionId: h.SectionID, Amount: amountOut(h.Entered),
		Emptied: h.Emptied, Note: ptrIf(h.Note), CastingsLotId: h.LotID, MassG: int64(h.Grams), ClosedG: int64(h.Closed),
		Reversed: h.Reversed, EntryId: h.EntryID, Day: dayOut(h.Day), RecordedAt: h.RecordedAt, ByMemberId: nonZero(h.RecordedBy)}
	if h.WormsOut != nil {
		out.WormsCarriedOut = ptr(wormsOut(*h.WormsOut))
	}
	if h.Emptied {
		out.WormsLeftG = ptr(int64(h.WormsLeft))
	}
	return out
}

// ListHarvests lists harvests.
func (s *Server) ListHarvests(c echo.Context, g api.GardenId, p api.ListHarvestsParams) error {
	f := service.BinDays{Bin: value(p.BinId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Harvests(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, harvestOut)
}

// CreateHarvest records a harvest.
func (s *Server) CreateHarvest(c echo.Context, g api.GardenId, p api.CreateHarvestParams) error {
	in, err := body[api.HarvestNew](c)
	if err != nil {
		return err
	}
	h := service.HarvestNew{ID: value(in.Id), LotID: value(in.CastingsLotId), OccurredAt: value(in.OccurredAt), BinID: in.BinId,
		SectionID: in.SectionId, Amount: amountIn(in.Amount), Emptied: value(in.Emptied), Note: value(in.Note)}
	if in.WormsCarriedOut != nil {
		h.WormsOut = ptr(wormsIn(*in.WormsCarriedOut))
	}
	r := reply[farm.Harvest]{Status: http.StatusCreated, Wire: harvestOut,
		Location: func(x farm.Harvest) string { return gardenPath(g, "harvests", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Harvest], error) {
		return s.svc.Harvest(ctx, a, g, h, o)
	})
}

func castingsOut(l service.CastingsOnHand) any {
	return api.CastingsLot{Id: l.ID, HarvestId: l.HarvestID, BinId: l.BinID, HarvestedOn: dayOut(l.HarvestedOn),
		Stage: api.CastingsStage(l.Stage), HarvestedG: int64(l.Harvested), RemainingG: int64(l.OnHand), Steps: mapped(l.Steps, castingsStepOut)}
}

func castingsStepOut(x farm.CastingsStep) api.CastingsStep {
	out := api.CastingsStep{Stage: api.CastingsStage(x.Stage), OccurredAt: x.OccurredAt, Note: ptrIf(x.Note)}
	if x.Weighed {
		out.MassG = ptr(int64(x.Mass))
	}
	return out
}

// ListCastingsLots lists castings lots.
func (s *Server) ListCastingsLots(c echo.Context, g api.GardenId, p api.ListCastingsLotsParams) error {
	f := service.CastingsFilter{Stage: farm.CastingsStage(value(p.Stage)), InStock: value(p.InStock)}
	list, err := s.svc.CastingsLots(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, castingsOut)
}

// GetCastingsLot shows one castings lot.
func (s *Server) GetCastingsLot(c echo.Context, g api.GardenId, id api.CastingsLotId) error {
	lot, err := s.svc.CastingsLot(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, castingsOut(lot))
}

// CreateCastingsStep dries, screens, rests or readies a castings lot.
func (s *Server) CreateCastingsStep(c echo.Context, g api.GardenId, id api.CastingsLotId, p api.CreateCastingsStepParams) error {
	in, err := body[api.CastingsStepNew](c)
	if err != nil {
		return err
	}
	step := service.CastingsStepNew{Stage: farm.CastingsStage(in.Stage), OccurredAt: value(in.OccurredAt), Amount: amountInPtr(in.Amount),
		Screenings: amountInPtr(in.Screenings), ScreeningsBin: value(in.ScreeningsBinId), ScreeningsSection: value(in.ScreeningsSectionId),
		Note: value(in.Note)}
	r := reply[service.CastingsOnHand]{Status: http.StatusCreated, Wire: castingsOut,
		Location: func(l service.CastingsOnHand) string { return gardenPath(g, "castings-lots", l.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.CastingsOnHand], error) {
		return s.svc.StepCastings(ctx, a, g, id, step, o)
	})
}
