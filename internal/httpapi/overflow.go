package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func overflowOut(p farm.OverflowPlace) any {
	return api.OverflowPlace{Id: p.ID, Name: p.Name, Kind: api.OverflowKind(p.Kind), WeeklyRoomG: nonZero(p.WeeklyG),
		BrownsRatio: nonZero(p.BrownsRatio), Note: p.Note, Active: p.Active, Version: int32(p.Version)}
}

func overflowReply(status int) reply[farm.OverflowPlace] {
	return reply[farm.OverflowPlace]{Status: status, Wire: overflowOut, Version: func(p farm.OverflowPlace) int { return p.Version }}
}

// ListOverflowPlaces lists where the surplus goes.
func (s *Server) ListOverflowPlaces(c echo.Context, g api.GardenId, p api.ListOverflowPlacesParams) error {
	list, err := s.svc.OverflowPlaces(c.Request().Context(), actor(c), g, standing(p.Active), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, overflowOut)
}

// CreateOverflowPlace adds an overflow place.
func (s *Server) CreateOverflowPlace(c echo.Context, g api.GardenId, p api.CreateOverflowPlaceParams) error {
	in, err := body[api.OverflowPlaceNew](c)
	if err != nil {
		return err
	}
	place := farm.OverflowPlace{ID: value(in.Id), Name: in.Name, Kind: farm.OverflowKind(in.Kind), WeeklyG: value(in.WeeklyRoomG),
		BrownsRatio: value(in.BrownsRatio), Note: value(in.Note)}
	r := overflowReply(http.StatusCreated)
	r.Location = func(x farm.OverflowPlace) string { return gardenPath(g, "overflow-places", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.OverflowPlace], error) {
		return s.svc.CreateOverflowPlace(ctx, a, g, place, o)
	})
}

// UpdateOverflowPlace changes an overflow place.
func (s *Server) UpdateOverflowPlace(c echo.Context, g api.GardenId, id api.OverflowPlaceId, p api.UpdateOverflowPlaceParams) error {
	in, err := body[api.OverflowPlacePatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	place, err := s.svc.UpdateOverflowPlace(c.Request().Context(), actor(c), g, id, v, func(x *farm.OverflowPlace) {
		set(&x.Name, in.Name)
		setAs(&x.Kind, in.Kind)
		set(&x.Note, in.Note)
		set(&x.Active, in.Active)
		if f := patchOf(in.WeeklyRoomG); f.Set {
			x.WeeklyG = f.Value
		}
		if f := patchOf(in.BrownsRatio); f.Set {
			x.BrownsRatio = f.Value
		}
	})
	if err != nil {
		return err
	}
	return send(c, overflowReply(http.StatusOK), place)
}
