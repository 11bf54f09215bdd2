package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func sectionOut(s farm.Section) any {
	return api.Section{Id: s.ID, BinId: s.BinID, Name: s.Name, Position: int32(s.Position), Stage: api.SectionStage(s.Stage),
		EmptiedOn: dayOutPtr(s.EmptiedOn), Version: int32(s.Version)}
}

func sectionReply(status int) reply[farm.Section] {
	return reply[farm.Section]{Status: status, Wire: sectionOut, Version: func(s farm.Section) int { return s.Version }}
}

// ListSections lists a bin's sections, in order.
func (s *Server) ListSections(c echo.Context, g api.GardenId, bin api.BinId, p api.ListSectionsParams) error {
	list, err := s.svc.Sections(c.Request().Context(), actor(c), g, bin, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, sectionOut)
}

// CreateSection adds a section to a bin.
func (s *Server) CreateSection(c echo.Context, g api.GardenId, bin api.BinId, p api.CreateSectionParams) error {
	in, err := body[api.SectionNew](c)
	if err != nil {
		return err
	}
	section := farm.Section{ID: value(in.Id), BinID: bin, Name: in.Name, Position: int(in.Position), Stage: farm.Stage(in.Stage)}
	r := sectionReply(http.StatusCreated)
	r.Location = func(x farm.Section) string { return underBin(g, bin, "sections", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Section], error) {
		return s.svc.CreateSection(ctx, a, g, section, o)
	})
}

// UpdateSection changes a section's name, order or stage.
func (s *Server) UpdateSection(c echo.Context, g api.GardenId, bin api.BinId, id api.SectionId, p api.UpdateSectionParams) error {
	in, err := body[api.SectionPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	section, err := s.svc.UpdateSection(c.Request().Context(), actor(c), g, bin, id, v, func(x *farm.Section) {
		set(&x.Name, in.Name)
		setNumber(&x.Position, in.Position)
		setAs(&x.Stage, in.Stage)
	})
	if err != nil {
		return err
	}
	return send(c, sectionReply(http.StatusOK), section)
}
