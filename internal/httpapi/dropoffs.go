package httpapi

import (
	"bytes"
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/service"
)

func windowOut(w service.WindowLoad) any {
	return api.DropOffWindow{Id: w.ID, SiteId: w.SiteID, StartsAt: w.StartsAt, EndsAt: w.EndsAt, HostMemberId: nonZero(w.HostID),
		Capacity: measureOut(w.Capacity), CapacityG: nonZero(int64(w.CapacityG)), Status: api.WindowStatus(w.Status), Note: ptrIf(w.Note),
		PledgedG: int64(w.Pledged), ReceivedG: int64(w.Received), Version: int32(w.Version)}
}

func windowReply(status int) reply[service.WindowLoad] {
	return reply[service.WindowLoad]{Status: status, Wire: windowOut, Version: func(w service.WindowLoad) int { return w.Version }}
}

// ListDropOffWindows lists drop-off windows, the soonest first.
func (s *Server) ListDropOffWindows(c echo.Context, g api.GardenId, p api.ListDropOffWindowsParams) error {
	f := service.WindowFilter{From: dayInPtr(p.From), Until: dayInPtr(p.To), SiteID: value(p.SiteId), Status: farm.WindowStatus(value(p.Status))}
	list, err := s.svc.Windows(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, windowOut)
}

// CreateDropOffWindow adds a drop-off window.
func (s *Server) CreateDropOffWindow(c echo.Context, g api.GardenId, p api.CreateDropOffWindowParams) error {
	in, err := body[api.DropOffWindowNew](c)
	if err != nil {
		return err
	}
	w := farm.Window{ID: value(in.Id), SiteID: in.SiteId, StartsAt: in.StartsAt, EndsAt: in.EndsAt, HostID: value(in.HostMemberId),
		Capacity: measureIn(in.Capacity), Note: value(in.Note)}
	r := windowReply(http.StatusCreated)
	r.Location = func(x service.WindowLoad) string { return gardenPath(g, "drop-off-windows", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.WindowLoad], error) {
		return s.svc.CreateWindow(ctx, a, g, w, o)
	})
}

// GetDropOffWindow shows one drop-off window.
func (s *Server) GetDropOffWindow(c echo.Context, g api.GardenId, id api.WindowId) error {
	w, err := s.svc.Window(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, windowReply(http.StatusOK), w)
}

// UpdateDropOffWindow changes a drop-off window.
func (s *Server) UpdateDropOffWindow(c echo.Context, g api.GardenId, id api.WindowId, p api.UpdateDropOffWindowParams) error {
	in, err := body[api.DropOffWindowPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	w, err := s.svc.UpdateWindow(c.Request().Context(), actor(c), g, id, v, func(x *farm.Window) { patchWindow(x, in) })
	if err != nil {
		return err
	}
	return send(c, windowReply(http.StatusOK), w)
}

func patchWindow(x *farm.Window, in api.DropOffWindowPatch) {
	set(&x.SiteID, in.SiteId)
	set(&x.StartsAt, in.StartsAt)
	set(&x.EndsAt, in.EndsAt)
	if h := patchOf(in.HostMemberId); h.Set {
		x.HostID = h.Value
	}
	if n := patchOf(in.Note); n.Set {
		x.Note = n.Value
	}
	if in.Capacity != nil {
		x.Capacity = measureIn(in.Capacity)
	}
	if in.Status != nil {
		x.Status = farm.WindowStatus(*in.Status)
	}
}

// GetDropOffCalendar serves the windows as an iCalendar feed (RFC 5545).
func (s *Server) GetDropOffCalendar(c echo.Context, g api.GardenId) error {
	feed, err := s.svc.DropOffFeed(c.Request().Context(), actor(c), g)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := exchange.WriteCalendar(&out, feed); err != nil {
		return err
	}
	return c.Blob(http.StatusOK, "text/calendar; charset=utf-8", out.Bytes())
}
