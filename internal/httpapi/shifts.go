package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func shiftWire(s service.ShiftNow) api.Shift {
	return api.Shift{Id: s.ID, Kind: api.ShiftKind(s.Kind), SiteId: s.SiteID, StartsAt: s.StartsAt, EndsAt: s.EndsAt,
		Places: int32(s.Places), Note: ptrIf(s.Note), Cancelled: s.Cancelled, State: api.ShiftState(s.State),
		Claims: mapped(s.Claims, func(c farm.Claim) api.ShiftClaim {
			return api.ShiftClaim{MemberId: c.MemberID, State: api.ClaimState(c.State), At: c.ChangedAt}
		}), Version: int32(s.Version)}
}

func shiftOut(s service.ShiftNow) any { return shiftWire(s) }

func shiftReply(status int) reply[service.ShiftNow] {
	return reply[service.ShiftNow]{Status: status, Wire: shiftOut, Version: func(s service.ShiftNow) int { return s.Version }}
}

// ListShifts lists shifts, the soonest first.
func (s *Server) ListShifts(c echo.Context, g api.GardenId, p api.ListShiftsParams) error {
	f := service.ShiftFilter{Kind: farm.ShiftKind(value(p.Kind)), State: farm.ShiftState(value(p.State)),
		From: dayInPtr(p.From), Until: dayInPtr(p.To)}
	list, err := s.svc.Shifts(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, shiftOut)
}

// CreateShift adds a shift.
func (s *Server) CreateShift(c echo.Context, g api.GardenId, p api.CreateShiftParams) error {
	in, err := body[api.ShiftNew](c)
	if err != nil {
		return err
	}
	shift := farm.Shift{ID: value(in.Id), Kind: farm.ShiftKind(in.Kind), SiteID: in.SiteId, StartsAt: in.StartsAt,
		EndsAt: in.EndsAt, Places: int(in.Places), Note: value(in.Note)}
	r := shiftReply(http.StatusCreated)
	r.Location = func(x service.ShiftNow) string { return gardenPath(g, "shifts", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.ShiftNow], error) {
		return s.svc.AddShift(ctx, a, g, shift, o)
	})
}

// GetShift shows one shift.
func (s *Server) GetShift(c echo.Context, g api.GardenId, id api.ShiftId) error {
	shift, err := s.svc.Shift(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, shiftReply(http.StatusOK), shift)
}

// UpdateShift changes a shift.
func (s *Server) UpdateShift(c echo.Context, g api.GardenId, id api.ShiftId, p api.UpdateShiftParams) error {
	in, err := body[api.ShiftPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	shift, err := s.svc.UpdateShift(c.Request().Context(), actor(c), g, id, v, func(x *farm.Shift) { patchShift(x, in) })
	if err != nil {
		return err
	}
	return send(c, shiftReply(http.StatusOK), shift)
}

func patchShift(x *farm.Shift, in api.ShiftPatch) {
	set(&x.SiteID, in.SiteId)
	set(&x.StartsAt, in.StartsAt)
	set(&x.EndsAt, in.EndsAt)
	set(&x.Cancelled, in.Cancelled)
	if in.Kind != nil {
		x.Kind = farm.ShiftKind(*in.Kind)
	}
	if in.Places != nil {
		x.Places = int(*in.Places)
	}
	if f := patchOf(in.Note); f.Set {
		x.Note = f.Value
	}
}

// MoveShift claims, releases, swaps or marks a place.
func (s *Server) MoveShift(c echo.Context, g api.GardenId, id api.ShiftId, p api.MoveShiftParams) error {
	in, err := body[api.ShiftMove](c)
	if err != nil {
		return err
	}
	m := service.PlaceMove{Kind: farm.ShiftMoveKind(in.Move), MemberID: value(in.MemberId), ToID: value(in.ToMemberId), Reason: value(in.Reason)}
	r := shiftReply(http.StatusOK)
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.ShiftNow], error) {
		return s.svc.MoveShift(ctx, a, g, id, m, o)
	})
}
