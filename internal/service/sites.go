package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// CreateSite adds a site; its ID may be the client's own. It refuses with
// site.invalid, site.name_taken and site.exists.
func (s *Service) CreateSite(ctx context.Context, a Actor, garden uuid.UUID, in farm.Site, once Once) (Done[farm.Site], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Site]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ManageBins, once,
		func(tx *store.Tx) made[farm.Site] { return made[farm.Site]{tx.SiteContent(in.ID), tx.Site(in.ID)} },
		func(w *Work, m made[farm.Site]) (farm.Site, error) {
			if same, err := again(m.content, content, "site.exists"); same || err != nil {
				return m.row.Value, err
			}
			site := in
			site.Active, site.CreatedAt, site.Version = true, w.Now, 1
			if err := site.Validate(); err != nil {
				return site, err
			}
			w.InsertSite(site, content)
			return site, nil
		})
}

// made is a thing that a client-made id may already name.
type made[T any] struct {
	content *store.Row[[]byte]
	row     *store.Row[T]
}

// Sites lists the garden's sites by name, for any member.
func (s *Service) Sites(ctx context.Context, a Actor, garden uuid.UUID, st Standing, p Page) (List[farm.Site], error) {
	return paged(ctx, s, a, garden, anyone, func(b *store.Batch) *store.Paged[farm.Site] { return b.Sites(st, p) })
}

// Site is one site, for any member. It refuses with site.not_found.
func (s *Service) Site(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.Site, error) {
	var row *store.Row[farm.Site]
	if _, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { row = b.Site(id) }); err != nil {
		return farm.Site{}, err
	}
	return row.Or("site.not_found", "no site %s in this garden", id)
}

// UpdateSite changes a site at the version the person has read. It refuses
// with site.not_found, version.stale, site.invalid and site.name_taken.
func (s *Service) UpdateSite(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Site)) (farm.Site, error) {
	done, err := write(ctx, s, a, garden, farm.ManageBins, Once{},
		func(tx *store.Tx) *store.Row[farm.Site] { return tx.LockSite(id) },
		func(w *Work, row *store.Row[farm.Site]) (farm.Site, error) {
			site, err := row.Or("site.not_found", "no site %s in this garden", id)
			if err != nil {
				return site, err
			}
			if err := checkVersion("site", site.Version, version); err != nil {
				return site, err
			}
			edit(&site)
			site.ID, site.CreatedAt, site.Version = id, row.Value.CreatedAt, version+1
			if err := site.Validate(); err != nil {
				return site, err
			}
			w.UpdateSite(site)
			return site, nil
		})
	return done.Value, err
}
