package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func siteOut(s farm.Site) any {
	out := api.Site{Id: s.ID, Name: s.Name, Kind: api.SiteKind(s.Kind), Note: s.Note, Active: s.Active,
		FreezerL: nonZero(int32(s.FreezerL)), AreaM2: nonZero(s.AreaM2), Version: int32(s.Version), CreatedAt: s.CreatedAt}
	if s.At != nil {
		out.Latitude, out.Longitude = &s.At.Latitude, &s.At.Longitude
	}
	return out
}

func siteReply(status int) reply[farm.Site] {
	return reply[farm.Site]{Status: status, Wire: siteOut, Version: func(s farm.Site) int { return s.Version }}
}

// standing reads the filter active; left out it is both.
func standing(active *bool) service.Standing {
	switch {
	case active == nil:
		return ""
	case *active:
		return service.Active
	}
	return service.Left
}

// ListSites lists the garden's sites.
func (s *Server) ListSites(c echo.Context, g api.GardenId, p api.ListSitesParams) error {
	list, err := s.svc.Sites(c.Request().Context(), actor(c), g, standing(p.Active), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, siteOut)
}

// CreateSite adds a site.
func (s *Server) CreateSite(c echo.Context, g api.GardenId, p api.CreateSiteParams) error {
	in, err := body[api.SiteNew](c)
	if err != nil {
		return err
	}
	site := farm.Site{ID: value(in.Id), Name: in.Name, Kind: farm.SiteKind(in.Kind), Note: value(in.Note),
		FreezerL: int(value(in.FreezerL)), AreaM2: value(in.AreaM2), At: coordinates(in.Latitude, in.Longitude)}
	r := siteReply(http.StatusCreated)
	r.Location = func(x farm.Site) string { return gardenPath(g, "sites", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Site], error) {
		return s.svc.CreateSite(ctx, a, g, site, o)
	})
}

func coordinates(lat, long *float64) *farm.Coordinates {
	if lat == nil && long == nil {
		return nil
	}
	return &farm.Coordinates{Latitude: value(lat), Longitude: value(long)}
}

// GetSite shows one site.
func (s *Server) GetSite(c echo.Context, g api.GardenId, id api.SiteId) error {
	site, err := s.svc.Site(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, siteReply(http.StatusOK), site)
}

// UpdateSite changes a site.
func (s *Server) UpdateSite(c echo.Context, g api.GardenId, id api.SiteId, p api.UpdateSiteParams) error {
	in, err := body[api.SitePatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	site, err := s.svc.UpdateSite(c.Request().Context(), actor(c), g, id, v, func(x *farm.Site) { patchSite(x, in) })
	if err != nil {
		return err
	}
	return send(c, siteReply(http.StatusOK), site)
}

func patchSite(x *farm.Site, in api.SitePatch) {
	set(&x.Name, in.Name)
	set(&x.Note, in.Note)
	set(&x.Active, in.Active)
	if in.Kind != nil {
		x.Kind = farm.SiteKind(*in.Kind)
	}
	if f := patchOf(in.FreezerL); f.Set {
		x.FreezerL = int(f.Value)
	}
	if f := patchOf(in.AreaM2); f.Set {
		x.AreaM2 = f.Value
	}
	lat, long := patchOf(in.Latitude), patchOf(in.Longitude)
	switch {
	case lat.Clear || long.Clear:
		x.At = nil
	case lat.Set || long.Set:
		at := farm.Coordinates{}
		if x.At != nil {
			at = *x.At
		}
		if lat.Set {
			at.Latitude = lat.Value
		}
		if long.Set {
			at.Longitude = long.Value
		}
		x.At = &at
	}
}
