package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func wormsIn(a api.WormAmount) farm.WormAmount {
	return farm.WormAmount{Method: farm.WormMethod(a.Method), LiveMass: measureIn(a.LiveMass), Material: measureIn(a.MaterialMass),
		FractionPct: value(a.WormFractionPercent), SharePct: value(a.SharePercent), Count: int(value(a.Count)), MeanMG: value(a.MeanWormMg)}
}

func wormsOut(a farm.WormAmount) api.WormAmount {
	return api.WormAmount{Method: api.WormAmountMethod(a.Method), LiveMass: measureOut(a.LiveMass), MaterialMass: measureOut(a.Material),
		WormFractionPercent: nonZero(a.FractionPct), SharePercent: nonZero(a.SharePct), Count: nonZero(int32(a.Count)), MeanWormMg: nonZero(a.MeanMG)}
}

func wormEndIn(e api.WormEnd) farm.WormEnd {
	return farm.WormEnd{BinID: value(e.BinId), SectionID: value(e.SectionId), Outside: value(e.Outside)}
}

func wormEndOut(e farm.WormEnd) api.WormEnd {
	return api.WormEnd{BinId: nonZero(e.BinID), SectionId: nonZero(e.SectionID), Outside: ptrIf(e.Outside)}
}

func transferOut(t farm.Transfer) any {
	out := api.WormTransfer{Id: t.ID, OccurredAt: t.OccurredAt, From: wormEndOut(t.From), To: wormEndOut(t.To), Worms: wormsOut(t.Worms),
		Species: api.SpeciesGroup(t.Species), Lost: measureOut(t.LostEntered), Reason: api.TransferReason(t.Reason), Note: ptrIf(t.Note),
		MassG: int64(t.Grams), RelSdPermille: int32(t.RelSDPermille), FoundG: int64(t.Found), Reversed: t.Reversed,
		EntryId: t.EntryID, Day: dayOut(t.Day), RecordedAt: t.RecordedAt, ByMemberId: nonZero(t.RecordedBy)}
	if t.BeddingAlong != nil {
		out.BeddingAlong = ptr(amountOut(*t.BeddingAlong))
	}
	return out
}

// ListWormTransfers lists worm transfers.
func (s *Server) ListWormTransfers(c echo.Context, g api.GardenId, p api.ListWormTransfersParams) error {
	f := service.BinDays{Bin: value(p.BinId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Transfers(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, transferOut)
}

// CreateWormTransfer records worms moved.
func (s *Server) CreateWormTransfer(c echo.Context, g api.GardenId, p api.CreateWormTransferParams) error {
	in, err := body[api.WormTransferNew](c)
	if err != nil {
		return err
	}
	move := service.WormMove{ID: value(in.Id), OccurredAt: value(in.OccurredAt), From: wormEndIn(in.From), To: wormEndIn(in.To),
		Worms: wormsIn(in.Worms), Species: farm.Species(value(in.Species)), BeddingAlong: amountInPtr(in.BeddingAlong),
		Lost: measureIn(in.Lost), Reason: farm.TransferReason(value(in.Reason)), Note: value(in.Note)}
	r := reply[farm.Transfer]{Status: http.StatusCreated, Wire: transferOut,
		Location: func(t farm.Transfer) string { return gardenPath(g, "worm-transfers", t.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Transfer], error) {
		return s.svc.MoveWorms(ctx, a, g, move, o)
	})
}

func lineageOut(x service.LineageStep) any {
	return api.LineageStep{TransferId: x.TransferID, Day: dayOut(x.Day), FromBinId: nonZero(x.FromBin), ToBinId: nonZero(x.ToBin),
		Outside: ptrIf(x.Outside), MassG: int64(x.Grams), Depth: int32(x.Depth)}
}

// GetBinLineage walks through the transfers that led to a bin, or from it.
func (s *Server) GetBinLineage(c echo.Context, g api.GardenId, bin api.BinId, p api.GetBinLineageParams) error {
	forward := value(p.Direction) == api.Forward
	steps, err := s.svc.Lineage(c.Request().Context(), actor(c), g, bin, forward)
	if err != nil {
		return err
	}
	return sendList(c, map[string]any{"items": mapped(steps, lineageOut)}, "")
}
