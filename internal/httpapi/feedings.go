package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func feedingOut(f service.FeedingSeen) any {
	out := api.Feeding{Id: f.ID, OccurredAt: f.FedAt, BinId: f.BinID, SectionId: f.SectionID, PlanTaskId: nonZero(f.PlanTaskID),
		Note: nonZero(f.Note), MassG: int64(f.FoodMass()), BeddingMassG: int64(f.BeddingMass()), EntryId: f.EntryID, Reversed: f.Reversed,
		Day: dayOut(f.FedOn), RecordedAt: f.RecordedAt, ByMemberId: nonZero(f.RecordedBy), Warnings: mapped(f.Warnings, warningOut),
		Lots: mapped(f.Lots, func(l farm.FedLot) api.FedLot {
			return api.FedLot{LotId: l.LotID, Material: l.Material, Unrecorded: l.Unrecorded, Amount: amountOutPtr(l.Entered), MassG: int64(l.Net)}
		}),
		Bedding: mapped(f.Bedding, beddingLaidOut)}
	if f.CoverMM != nil {
		out.CoverMm = ptr(int32(*f.CoverMM))
	}
	return out
}

func beddingLaidOut(b farm.BeddingLaid) api.BeddingLaid {
	out := api.BeddingLaid{BeddingBatchId: nonZero(b.BatchID), DryBeddingId: nonZero(b.DryID), Amount: amountOutPtr(b.Entered), MassG: int64(b.Net())}
	if out.BeddingBatchId != nil {
		out.AgedDays = ptr(int32(b.AgedDays))
	}
	return out
}

func warningOut(w farm.Warning) api.AdviceItem {
	return api.AdviceItem{Code: w.Code, Urgency: api.Urgency(w.Urgency), WhatToDo: w.Do, Why: w.Why, Caution: nonZero(w.Caution), Source: w.Source}
}

// ListFeedings lists feedings.
func (s *Server) ListFeedings(c echo.Context, g api.GardenId, p api.ListFeedingsParams) error {
	f := service.FeedingFilter{BinID: value(p.BinId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Feedings(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, feedingOut)
}

// CreateFeeding records a feeding.
func (s *Server) CreateFeeding(c echo.Context, g api.GardenId, p api.CreateFeedingParams) error {
	in, err := body[api.FeedingNew](c)
	if err != nil {
		return err
	}
	feed := feedIn(in)
	r := reply[service.FeedingSeen]{Status: http.StatusCreated, Wire: feedingOut,
		Location: func(x service.FeedingSeen) string { return gardenPath(g, "feedings", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.FeedingSeen], error) {
		return s.svc.Feed(ctx, a, g, feed, o)
	})
}

func feedIn(in api.FeedingNew) service.FeedIn {
	f := service.FeedIn{ID: value(in.Id), OccurredAt: value(in.OccurredAt), BinID: in.BinId, SectionID: in.SectionId,
		PlanTaskID: value(in.PlanTaskId), Note: value(in.Note)}
	if in.CoverMm != nil {
		f.CoverMM = ptr(int(*in.CoverMm))
	}
	for _, l := range listIn(in.Lots) {
		f.Lots = append(f.Lots, service.PartOf{ID: l.LotId, Amount: amountInPtr(l.Amount)})
	}
	for _, u := range listIn(in.Unrecorded) {
		f.Unrecorded = append(f.Unrecorded, service.Unrecorded{LotID: value(u.LotId), Material: u.Material, Mass: amountIn(u.Amount)})
	}
	for _, b := range listIn(in.Bedding) {
		f.Bedding = append(f.Bedding, service.LaidOf{BatchID: value(b.BeddingBatchId), DryID: value(b.DryBeddingId), Amount: amountInPtr(b.Amount)})
	}
	return f
}

// GetFeeding shows one feeding.
func (s *Server) GetFeeding(c echo.Context, g api.GardenId, id api.FeedingId) error {
	f, err := s.svc.Feeding(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, reply[service.FeedingSeen]{Status: http.StatusOK, Wire: feedingOut}, f)
}
