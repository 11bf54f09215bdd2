package httpapi

import (
	"context"
	"net/http"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func lotOut(l service.LotOnHand) any {
	return api.Lot{Id: l.ID, OccurredAt: l.ReceivedAt, Day: dayOut(l.ReceivedOn), Material: l.Material, Amount: amountOut(l.Entered),
		SiteId: l.SiteID, HouseholdId: nonZero(l.FromHousehold), MemberId: nonZero(l.FromMember), WindowId: nonZero(l.WindowID),
		PledgeId: nonZero(l.PledgeID), Storage: api.StorageKind(l.Place), UseBy: dayOutPtr(l.UseBy), Note: ptrIf(l.Note),
		Status: api.LotStatus(l.Status), RejectionReason: ptrIf(l.RejectionReason), MassG: int64(l.Weight.Net),
		RemainingG: int64(l.OnHand), RelSdPermille: int32(l.Weight.RelSDPermille), DensityUsedGPerL: nonZero(l.Weight.DensityGPerL),
		Group: api.GoEasyGroup(l.Group), ParentLotId: nonZero(l.ParentID), EntryId: l.EntryID,
		RecordedAt: l.RecordedAt, ByMemberId: nonZero(l.RecordedBy)}
}

func lotReply(status int, garden uuid.UUID) reply[service.LotOnHand] {
	r := reply[service.LotOnHand]{Status: status, Wire: lotOut}
	if status == http.StatusCreated {
		r.Location = func(l service.LotOnHand) string { return gardenPath(garden, "lots", l.ID) }
	}
	return r
}

// ListLots lists lots, the latest first.
func (s *Server) ListLots(c echo.Context, g api.GardenId, p api.ListLotsParams) error {
	f := service.LotFilter{Status: farm.LotStatus(value(p.Status)), OnHand: value(p.InStock), SiteID: value(p.SiteId),
		WindowID: value(p.WindowId), Material: value(p.Material), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Lots(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, lotOut)
}

// GetLot shows one lot.
func (s *Server) GetLot(c echo.Context, g api.GardenId, id api.LotId) error {
	lot, err := s.svc.Lot(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, lotReply(http.StatusOK, g), lot.LotOnHand)
}

// TakeInLot books scraps that arrived.
func (s *Server) TakeInLot(c echo.Context, g api.GardenId, p api.TakeInLotParams) error {
	in, err := body[api.LotNew](c)
	if err != nil {
		return err
	}
	intake := service.Intake{ID: value(in.Id), OccurredAt: value(in.OccurredAt), Material: in.Material, Mass: amountIn(in.Amount),
		SiteID: in.SiteId, HouseholdID: value(in.HouseholdId), MemberID: value(in.MemberId), WindowID: value(in.WindowId),
		PledgeID: value(in.PledgeId), Place: farm.StoragePlace(value(in.Storage)), UseBy: dayInPtr(in.UseBy),
		Status: verdictAtTheTable(in.Verdict), Reason: value(in.Reason), Note: value(in.Note)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusCreated, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.TakeIn(ctx, a, g, intake, o)
	})
}

func verdictAtTheTable(v *api.IntakeVerdict) farm.LotStatus {
	if v == nil || *v == api.IntakeVerdictPending {
		return farm.LotReceived
	}
	return farm.LotStatus(*v)
}

// JudgeLot accepts or rejects a received lot.
func (s *Server) JudgeLot(c echo.Context, g api.GardenId, id api.LotId, p api.JudgeLotParams) error {
	in, err := body[api.LotVerdict](c)
	if err != nil {
		return err
	}
	v := service.Verdict{Status: farm.LotStatus(in.Verdict), Reason: value(in.Reason), Notice: value(in.Notice),
		SortedOut: amountInPtr(in.SortedOut), OccurredAt: value(in.OccurredAt)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusOK, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.JudgeLot(ctx, a, g, id, v, o)
	})
}

// StoreLot moves a lot or a part of it.
func (s *Server) StoreLot(c echo.Context, g api.GardenId, id api.LotId, p api.StoreLotParams) error {
	in, err := body[api.LotStorage](c)
	if err != nil {
		return err
	}
	to := service.Storage{Place: farm.StoragePlace(in.Storage), SiteID: value(in.SiteId), UseBy: dayInPtr(in.UseBy),
		Part: amountInPtr(in.Part), PartID: value(in.PartLotId), OccurredAt: value(in.OccurredAt)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusOK, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.StoreLot(ctx, a, g, id, to, o)
	})
}

// SpoilLot books scraps that went bad.
func (s *Server) SpoilLot(c echo.Context, g api.GardenId, id api.LotId, p api.SpoilLotParams) error {
	in, err := body[api.LotSpoilage](c)
	if err != nil {
		return err
	}
	x := service.Spoilage{To: farm.SpoiledTo(in.Destination), Part: amountInPtr(in.Amount), Note: value(in.Note), OccurredAt: value(in.OccurredAt)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusOK, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.SpoilLot(ctx, a, g, id, x, o)
	})
}

// OverflowLot sends scraps to an overflow place.
func (s *Server) OverflowLot(c echo.Context, g api.GardenId, id api.LotId, p api.OverflowLotParams) error {
	in, err := body[api.LotOverflow](c)
	if err != nil {
		return err
	}
	x := service.ToOverflow{PlaceID: in.OverflowPlaceId, Part: amountInPtr(in.Amount), Note: value(in.Note), OccurredAt: value(in.OccurredAt)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusOK, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.OverflowLot(ctx, a, g, id, x, o)
	})
}

// ReweighLot weighs what is left again.
func (s *Server) ReweighLot(c echo.Context, g api.GardenId, id api.LotId, p api.ReweighLotParams) error {
	in, err := body[api.LotReweighing](c)
	if err != nil {
		return err
	}
	x := service.Reweighing{Cause: farm.ReweighCause(in.Cause), Mass: amountIn(in.Amount), OccurredAt: value(in.OccurredAt)}
	return once(s, c, p.IdempotencyKey, lotReply(http.StatusOK, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.LotOnHand], error) {
		return s.svc.ReweighLot(ctx, a, g, id, x, o)
	})
}
