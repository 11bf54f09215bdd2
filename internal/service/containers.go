package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// CreateContainer adds a container; its ID may be the client's own. It refuses
// with container.invalid, container.name_taken and container.exists.
func (s *Service) CreateContainer(ctx context.Context, a Actor, garden uuid.UUID, in farm.Container, once Once) (Done[farm.Container], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Container]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ManageBins, once,
		func(tx *store.Tx) made[farm.Container] {
			return made[farm.Container]{tx.ContainerContent(in.ID), tx.Container(in.ID)}
		},
		func(w *Work, m made[farm.Container]) (farm.Container, error) {
			if same, err := again(m.content, content, "container.exists"); same || err != nil {
				return m.row.Value, err
			}
			c, err := in.Work()
			if err != nil {
				return c, err
			}
			c.CreatedAt, c.Version = w.Now, 1
			w.InsertContainer(c, content)
			return c, nil
		})
}

// Containers lists the garden's containers by name, for any member.
func (s *Service) Containers(ctx context.Context, a Actor, garden uuid.UUID, p store.Page) (store.List[farm.Container], error) {
	return paged(ctx, s, a, garden, anyone, func(b *store.Batch) *store.Paged[farm.Container] { return b.Containers(p) })
}

// UpdateContainer changes a container at the version the person has read. What
// was counted in it before stays as it was. It refuses with
// container.not_found, version.stale, container.invalid and
// container.name_taken.
func (s *Service) UpdateContainer(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Container)) (farm.Container, error) {
	done, err := write(ctx, s, a, garden, farm.ManageBins, Once{},
		func(tx *store.Tx) *store.Row[farm.Container] { return tx.LockContainer(id) },
		func(w *Work, row *store.Row[farm.Container]) (farm.Container, error) {
			c, err := row.Or("container.not_found", "no container %s in this garden", id)
			if err != nil {
				return c, err
			}
			if err := checkVersion("container", c.Version, version); err != nil {
				return c, err
			}
			edit(&c)
			c.ID, c.CreatedAt, c.Version = id, row.Value.CreatedAt, version+1
			if c, err = c.Work(); err != nil {
				return c, err
			}
			w.UpdateContainer(c)
			return c, nil
		})
	return done.Value, err
}
