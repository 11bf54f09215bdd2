package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func careOut(c farm.CareEvent) any {
	out := api.CareEvent{Id: c.ID, BinId: c.BinID, SectionId: nonZero(c.SectionID), Kind: api.CareKind(c.Kind), Water: measureOut(c.Water),
		RemovedMaterial: nonZero(c.Material), RemovedTo: nonZero(api.RemovedTo(c.To)), OverflowPlaceId: nonZero(c.PlaceID),
		BeddingBatchId: nonZero(c.BatchID), MassG: nonZero(int64(c.Grams)), Note: nonZero(c.Note), EntryId: nonZero(c.EntryID),
		OccurredAt: c.OccurredAt, Day: dayOut(c.Day), RecordedAt: c.RecordedAt, ByMemberId: nonZero(c.RecordedBy)}
	switch {
	case c.Entered == nil:
	case c.Kind == farm.FedBeddingOnly:
		out.Bedding = ptr(amountOut(*c.Entered))
	default:
		out.Removed = ptr(amountOut(*c.Entered))
	}
	return out
}

// CreateCareEvent records what was done for a bin.
func (s *Server) CreateCareEvent(c echo.Context, g api.GardenId, bin api.BinId, p api.CreateCareEventParams) error {
	in, err := body[api.CareEventNew](c)
	if err != nil {
		return err
	}
	event := farm.CareEvent{ID: value(in.Id), BinID: bin, SectionID: value(in.SectionId), Kind: farm.CareKind(in.Kind), Water: measureIn(in.Water),
		Material: value(in.RemovedMaterial), To: farm.RemovedTo(value(in.RemovedTo)), PlaceID: value(in.OverflowPlaceId),
		BatchID: value(in.BeddingBatchId), Note: value(in.Note), OccurredAt: value(in.OccurredAt)}
	if event.Entered, err = oneAmount(event.Kind, in); err != nil {
		return err
	}
	r := reply[farm.CareEvent]{Status: http.StatusCreated, Wire: careOut,
		Location: func(x farm.CareEvent) string { return underBin(g, bin, "care-events", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.CareEvent], error) {
		return s.svc.RecordCare(ctx, a, g, event, o)
	})
}

// oneAmount is the amount that the kind of event has, and refuses the other.
func oneAmount(kind farm.CareKind, in api.CareEventNew) (*farm.Entered, error) {
	var f farm.Faults
	if in.Removed != nil && kind != farm.FoodRemoved {
		f.Add("care.invalid", "/removed", "removed: belongs to food_removed; leave it out for %s", kind)
	}
	if in.Bedding != nil && kind != farm.FedBeddingOnly {
		f.Add("care.invalid", "/bedding", "bedding: belongs to fed_bedding_only; leave it out for %s", kind)
	}
	if kind == farm.FedBeddingOnly {
		return amountInPtr(in.Bedding), f.Err()
	}
	return amountInPtr(in.Removed), f.Err()
}

// ListCareEvents lists care events, the latest first.
func (s *Server) ListCareEvents(c echo.Context, g api.GardenId, p api.ListCareEventsParams) error {
	list, err := s.svc.CareEvents(c.Request().Context(), actor(c), g, binDays(p.BinId, p.From, p.To), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, careOut)
}
