package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func giveawayOut(x farm.Giveaway) any {
	return api.Giveaway{Id: x.ID, OccurredAt: x.OccurredAt, CastingsLotId: x.LotID, Amount: amountOut(x.Entered), To: api.RecipientKind(x.To),
		MemberId: nonZero(x.MemberID), HouseholdId: nonZero(x.HouseholdID), RecipientClass: ptrIf(x.Class), Note: ptrIf(x.Note),
		MassG: int64(x.Grams), Reversed: x.Reversed, EntryId: x.EntryID, Day: dayOut(x.Day), RecordedAt: x.RecordedAt,
		ByMemberId: nonZero(x.RecordedBy)}
}

// ListGiveaways lists giveaways.
func (s *Server) ListGiveaways(c echo.Context, g api.GardenId, p api.ListGiveawaysParams) error {
	f := service.GiveawayFilter{Lot: value(p.CastingsLotId), From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Giveaways(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, giveawayOut)
}

// CreateGiveaway gives castings away.
func (s *Server) CreateGiveaway(c echo.Context, g api.GardenId, p api.CreateGiveawayParams) error {
	in, err := body[api.GiveawayNew](c)
	if err != nil {
		return err
	}
	x := service.GiveawayNew{ID: value(in.Id), OccurredAt: value(in.OccurredAt), LotID: in.CastingsLotId, Amount: amountIn(in.Amount),
		To: farm.RecipientKind(in.To), MemberID: value(in.MemberId), HouseholdID: value(in.HouseholdId), Class: value(in.RecipientClass),
		Note: value(in.Note)}
	r := reply[farm.Giveaway]{Status: http.StatusCreated, Wire: giveawayOut,
		Location: func(x farm.Giveaway) string { return gardenPath(g, "giveaways", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Giveaway], error) {
		return s.svc.GiveCastings(ctx, a, g, x, o)
	})
}

// GetGiveawayLabel prints the label for a bag.
func (s *Server) GetGiveawayLabel(c echo.Context, g api.GardenId, id api.GiveawayId) error {
	label, err := s.svc.GiveawayLabel(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return c.String(http.StatusOK, label)
}

// GetShares says what each contributor is due of a season's castings.
func (s *Server) GetShares(c echo.Context, g api.GardenId, p api.GetSharesParams) error {
	x, err := s.svc.Shares(c.Request().Context(), actor(c), g, value(p.Season))
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, api.Shares{From: dayOut(x.Days.Start), To: dayOut(x.Days.End),
		Rule:     api.SharingRule{Kind: api.SharingKind(x.Rule.Kind), ReservePercent: x.Rule.ReservePct},
		ToShareG: int64(x.Castings), ReservedG: int64(x.Reserved), Shares: mapped(x.Shares, shareOut)})
}

func shareOut(x farm.Share) api.Share {
	name := x.Name
	if name == "" {
		name = "an erased household"
	}
	return api.Share{MemberId: nonZero(x.MemberID), HouseholdId: nonZero(x.HouseholdID), Name: name, Basis: x.Basis,
		DueG: int64(x.Due), ReceivedG: int64(max(x.Received, 0))}
}
