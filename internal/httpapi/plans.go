package httpapi

import (
	"context"
	"encoding/hex"
	"net/http"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

// perPercent turns millionths into percent.
const perPercent = 10_000

func planTotalsOut(t farm.PlanTotals) api.PlanTotals {
	return api.PlanTotals{SupplyG: int64(t.Supply), FedG: int64(t.Fed), FrozenAtEndG: int64(t.Frozen), OverflowG: int64(t.Overflow),
		DeclinedG: int64(t.Declined), BeddingG: int64(t.Bedding), Visits: int32(t.Visits)}
}

func planProofOut(p farm.PlanProof) api.PlanProof {
	return api.PlanProof{Value: p.Value, LowerBound: p.Bound, GapPercent: float64(p.GapPPM) / perPercent,
		ControllableGapPercent: float64(p.ControllablePPM) / perPercent, ProvenOptimal: p.Optimal, Stopped: ptrIf(p.Stopped),
		Pivots: p.Pivots, Engine: p.Engine, InputSha256: hex.EncodeToString(p.InputSHA256[:])}
}

func planSummaryOut(p service.PlanRecord) any {
	return api.PlanSummary{Id: p.ID, State: api.PlanState(p.State), From: dayOut(p.Request.From), Days: int32(p.Request.Days),
		ComputedAt: p.ComputedAt, PublishedAt: nonZero(p.PublishedAt), Totals: planTotalsOut(p.Totals), Proof: planProofOut(p.Proof)}
}

func planTaskOut(t farm.PlanTask) api.PlanTask {
	out := api.PlanTask{Id: t.ID, Kind: api.PlanTaskKind(t.Kind), Day: dayOut(t.Day), LotId: nonZero(t.LotID), PledgeId: nonZero(t.PledgeID),
		Expected: ptrIf(t.Expected), Material: ptrIf(t.Material), BinId: nonZero(t.BinID), SectionId: nonZero(t.SectionID),
		SiteId: nonZero(t.SiteID), MassG: int64(t.Mass), BeddingG: nonZero(int64(t.Bedding)), BeddingBatchId: nonZero(t.BatchID),
		Why: t.Why, DoneByFeedingId: nonZero(t.DoneBy)}
	if t.BinID != uuid.Nil {
		out.KeeperIds = ptr(append([]uuid.UUID{}, t.KeeperIDs...))
	}
	return out
}

func planOut(p service.Plan) any {
	return api.Plan{Id: p.ID, State: api.PlanState(p.State), From: dayOut(p.Request.From), Days: int32(p.Request.Days),
		ComputedAt: p.ComputedAt, PublishedAt: nonZero(p.PublishedAt), Totals: planTotalsOut(p.Totals), Proof: planProofOut(p.Proof),
		Tasks: mapped(p.Tasks, planTaskOut), Notes: append([]string{}, p.Notes...),
		Bindings: mapped(p.Bindings, func(b farm.PlanBinding) api.PlanBinding {
			return api.PlanBinding{What: b.What, Rule: b.Rule, WorthPerKg: b.WorthPerKg, Sentence: b.Sentence}
		})}
}

func planReply(status int) reply[service.Plan] {
	return reply[service.Plan]{Status: status, Wire: planOut}
}

// ListPlans lists plans in short, newest first.
func (s *Server) ListPlans(c echo.Context, g api.GardenId, p api.ListPlansParams) error {
	list, err := s.svc.Plans(c.Request().Context(), actor(c), g, farm.PlanState(value(p.State)), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, planSummaryOut)
}

// ComputePlan works out a plan. Unpledged supply is reckoned with unless the
// request says not to.
func (s *Server) ComputePlan(c echo.Context, g api.GardenId, p api.ComputePlanParams) error {
	in, err := body[api.PlanRequest](c)
	if err != nil {
		return err
	}
	req := farm.PlanRequest{From: dayInPtr(in.From), Days: int(in.Days), Nearest: int(value(in.NearestBins)),
		Expected: in.ExpectedSupply == nil || *in.ExpectedSupply}
	r := planReply(http.StatusCreated)
	r.Location = func(x service.Plan) string { return gardenPath(g, "plans", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.Plan], error) {
		return s.svc.ComputePlan(ctx, a, g, req, o)
	})
}

// GetPlan shows one plan.
func (s *Server) GetPlan(c echo.Context, g api.GardenId, id api.PlanId) error {
	p, err := s.svc.Plan(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, planReply(http.StatusOK), p)
}

// GetPlanProblem shows the problem behind a plan, to the byte.
func (s *Server) GetPlanProblem(c echo.Context, g api.GardenId, id api.PlanId) error {
	problem, err := s.svc.PlanProblem(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, echo.MIMEApplicationJSON, problem)
}

// PublishPlan makes a plan the garden's plan.
func (s *Server) PublishPlan(c echo.Context, g api.GardenId, id api.PlanId, p api.PublishPlanParams) error {
	return once(s, c, p.IdempotencyKey, planReply(http.StatusOK), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.Plan], error) {
		return s.svc.PublishPlan(ctx, a, g, id, o)
	})
}

// GetPublishedPlan shows the garden's plan.
func (s *Server) GetPublishedPlan(c echo.Context, g api.GardenId) error {
	p, err := s.svc.PublishedPlan(c.Request().Context(), actor(c), g)
	if err != nil {
		return err
	}
	return send(c, planReply(http.StatusOK), p)
}
