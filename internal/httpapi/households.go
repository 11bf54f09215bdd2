package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func householdOut(h farm.Household) any {
	return api.Household{Id: h.ID, Name: h.Name, Plot: h.Plot, Contact: ptrIf(h.Contact), Baseline: ptr(api.Baseline(h.Baseline)),
		Erased: h.Erased(), Version: int32(h.Version), CreatedAt: h.CreatedAt}
}

func householdReply(status int) reply[farm.Household] {
	return reply[farm.Household]{Status: status, Wire: householdOut, Version: func(h farm.Household) int { return h.Version }}
}

// ListHouseholds lists the households that are not erased.
func (s *Server) ListHouseholds(c echo.Context, g api.GardenId, p api.ListHouseholdsParams) error {
	list, err := s.svc.Households(c.Request().Context(), actor(c), g, value(p.NamePrefix), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, householdOut)
}

// CreateHousehold adds a household.
func (s *Server) CreateHousehold(c echo.Context, g api.GardenId, p api.CreateHouseholdParams) error {
	in, err := body[api.HouseholdNew](c)
	if err != nil {
		return err
	}
	h := farm.Household{ID: value(in.Id), Name: value(in.Name), Plot: value(in.Plot), Contact: value(in.Contact),
		Baseline: farm.Baseline(value(in.Baseline))}
	r := householdReply(http.StatusCreated)
	r.Location = func(x farm.Household) string { return gardenPath(g, "households", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Household], error) {
		return s.svc.CreateHousehold(ctx, a, g, h, o)
	})
}

// GetHousehold shows one household.
func (s *Server) GetHousehold(c echo.Context, g api.GardenId, id api.HouseholdId) error {
	h, err := s.svc.Household(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, householdReply(http.StatusOK), h)
}

// UpdateHousehold changes a household.
func (s *Server) UpdateHousehold(c echo.Context, g api.GardenId, id api.HouseholdId, p api.UpdateHouseholdParams) error {
	in, err := body[api.HouseholdPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	h, err := s.svc.UpdateHousehold(c.Request().Context(), actor(c), g, id, v, func(h *farm.Household) {
		set(&h.Name, in.Name)
		set(&h.Plot, in.Plot)
		set(&h.Contact, in.Contact)
		setAs(&h.Baseline, in.Baseline)
	})
	if err != nil {
		return err
	}
	return send(c, householdReply(http.StatusOK), h)
}

// EraseHousehold forgets who a household is.
func (s *Server) EraseHousehold(c echo.Context, g api.GardenId, id api.HouseholdId, p api.EraseHouseholdParams) error {
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	h, err := s.svc.EraseHousehold(c.Request().Context(), actor(c), g, id, v)
	if err != nil {
		return err
	}
	return send(c, householdReply(http.StatusOK), h)
}
