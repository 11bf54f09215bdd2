package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func dryOut(d service.DryOnHand) any {
	return api.DryBedding{Id: d.ID, OccurredAt: d.ReceivedAt, Material: d.Material, Amount: amountOut(d.Entered), SiteId: d.SiteID,
		Reserve: ptr(d.Reserve), Note: nonZero(d.Note), MassG: int64(d.Weight.Net), RemainingG: int64(d.OnHand), Reversed: ptr(d.Reversed),
		EntryId: d.EntryID, Day: dayOut(d.ReceivedOn), RecordedAt: d.RecordedAt, ByMemberId: nonZero(d.RecordedBy)}
}

// ListDryBedding lists dry bedding.
func (s *Server) ListDryBedding(c echo.Context, g api.GardenId, p api.ListDryBeddingParams) error {
	f := service.DryFilter{Material: value(p.Material), SiteID: value(p.SiteId), InStock: value(p.InStock)}
	list, err := s.svc.DryBeddings(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, dryOut)
}

// CreateDryBedding receives dry bedding.
func (s *Server) CreateDryBedding(c echo.Context, g api.GardenId, p api.CreateDryBeddingParams) error {
	in, err := body[api.DryBeddingNew](c)
	if err != nil {
		return err
	}
	dry := service.DryIntake{ID: value(in.Id), OccurredAt: value(in.OccurredAt), Material: in.Material, Mass: amountIn(in.Amount),
		SiteID: in.SiteId, Reserve: value(in.Reserve), Note: value(in.Note)}
	r := reply[service.DryOnHand]{Status: http.StatusCreated, Wire: dryOut,
		Location: func(x service.DryOnHand) string { return gardenPath(g, "dry-bedding", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.DryOnHand], error) {
		return s.svc.ReceiveDryBedding(ctx, a, g, dry, o)
	})
}

func batchOut(b service.BatchSeen) any {
	out := api.BeddingBatch{Id: b.ID, OccurredAt: b.StartedAt, SiteId: b.SiteID, Water: measureOut(b.Water), Tubs: nonZero(int32(b.Tubs)),
		StandIn: ptr(b.StandIn), Note: nonZero(b.Note), WaterG: ptr(int64(b.WaterG)), MassG: int64(b.WaterG), RemainingG: int64(b.OnHand),
		MoisturePercent: b.MoisturePct, ReadyOn: dayOut(b.ReadyOn), Ready: b.Ready, Reversed: ptr(b.Reversed), EntryId: b.EntryID,
		Day: dayOut(b.StartedOn), RecordedAt: b.RecordedAt, ByMemberId: nonZero(b.RecordedBy), Looks: mapped(b.Looks, lookOut)}
	out.Parts = mapped(b.Parts, func(p farm.BeddingPart) api.BeddingPartLaid {
		out.MassG += int64(p.Net)
		return api.BeddingPartLaid{DryBeddingId: p.DryID, Material: p.Material, Amount: amountOutPtr(p.Entered), MassG: int64(p.Net)}
	})
	return out
}

func lookOut(l farm.BeddingLook) api.BeddingLook {
	return api.BeddingLook{OccurredAt: l.SeenAt, TemperatureC: &l.TempC, RoomC: &l.RoomC, Squeeze: ptr(int32(l.Squeeze)),
		Smell: ptr(api.Smell(l.Smell)), Ready: l.Ready()}
}

func batchReply(status int, g api.GardenId) reply[service.BatchSeen] {
	return reply[service.BatchSeen]{Status: status, Wire: batchOut,
		Location: func(x service.BatchSeen) string { return gardenPath(g, "bedding-batches", x.ID) }}
}

// ListBeddingBatches lists batches of bedding.
func (s *Server) ListBeddingBatches(c echo.Context, g api.GardenId, p api.ListBeddingBatchesParams) error {
	f := service.BatchFilter{SiteID: value(p.SiteId), InStock: value(p.InStock)}
	list, err := s.svc.Batches(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, batchOut)
}

// CreateBeddingBatch starts a batch of bedding.
func (s *Server) CreateBeddingBatch(c echo.Context, g api.GardenId, p api.CreateBeddingBatchParams) error {
	in, err := body[api.BeddingBatchNew](c)
	if err != nil {
		return err
	}
	start := service.BatchStart{ID: value(in.Id), OccurredAt: value(in.OccurredAt), SiteID: in.SiteId, Water: measureIn(in.Water),
		Tubs: int(value(in.Tubs)), StandIn: value(in.StandIn), Note: value(in.Note)}
	for _, part := range in.Parts {
		start.Parts = append(start.Parts, service.PartOf{ID: part.DryBeddingId, Amount: amountInPtr(part.Amount)})
	}
	return once(s, c, p.IdempotencyKey, batchReply(http.StatusCreated, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.BatchSeen], error) {
		return s.svc.StartBatch(ctx, a, g, start, o)
	})
}

// GetBeddingBatch shows one batch of bedding.
func (s *Server) GetBeddingBatch(c echo.Context, g api.GardenId, id api.BeddingBatchId) error {
	b, err := s.svc.Batch(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, reply[service.BatchSeen]{Status: http.StatusOK, Wire: batchOut}, b)
}

// CreateBeddingLook notes a look at a batch of bedding.
func (s *Server) CreateBeddingLook(c echo.Context, g api.GardenId, id api.BeddingBatchId, p api.CreateBeddingLookParams) error {
	in, err := body[api.BeddingLookNew](c)
	if err != nil {
		return err
	}
	look := farm.BeddingLook{SeenAt: value(in.OccurredAt), TempC: in.TemperatureC, RoomC: in.RoomC,
		Squeeze: farm.Squeeze(in.Squeeze), Smell: farm.Smell(in.Smell)}
	return once(s, c, p.IdempotencyKey, batchReply(http.StatusCreated, g), func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.BatchSeen], error) {
		return s.svc.LookAtBatch(ctx, a, g, id, look, o)
	})
}
