package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func containerOut(c farm.Container) any {
	out := api.Container{Id: c.ID, Name: c.Name, Volume: *measureOut(c.Volume), VolumeMl: int32(c.VolumeML),
		Tare: measureOut(c.Tare), Version: int32(c.Version)}
	if out.Tare != nil {
		out.TareG = ptr(int64(c.TareG))
	}
	return out
}

func containerReply(status int) reply[farm.Container] {
	return reply[farm.Container]{Status: status, Wire: containerOut, Version: func(c farm.Container) int { return c.Version }}
}

// ListContainers lists the garden's containers.
func (s *Server) ListContainers(c echo.Context, g api.GardenId, p api.ListContainersParams) error {
	list, err := s.svc.Containers(c.Request().Context(), actor(c), g, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, containerOut)
}

// CreateContainer adds a container.
func (s *Server) CreateContainer(c echo.Context, g api.GardenId, p api.CreateContainerParams) error {
	in, err := body[api.ContainerNew](c)
	if err != nil {
		return err
	}
	vessel := farm.Container{ID: value(in.Id), Name: in.Name, Volume: measureIn(&in.Volume), Tare: measureIn(in.Tare)}
	r := containerReply(http.StatusCreated)
	r.Location = func(x farm.Container) string { return gardenPath(g, "containers", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Container], error) {
		return s.svc.CreateContainer(ctx, a, g, vessel, o)
	})
}

// UpdateContainer changes a container.
func (s *Server) UpdateContainer(c echo.Context, g api.GardenId, id api.ContainerId, p api.UpdateContainerParams) error {
	in, err := body[api.ContainerPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	vessel, err := s.svc.UpdateContainer(c.Request().Context(), actor(c), g, id, v, func(x *farm.Container) {
		set(&x.Name, in.Name)
		if in.Volume != nil {
			x.Volume = measureIn(in.Volume)
		}
		if in.Tare != nil {
			x.Tare = measureIn(in.Tare)
		}
	})
	if err != nil {
		return err
	}
	return send(c, containerReply(http.StatusOK), vessel)
}
