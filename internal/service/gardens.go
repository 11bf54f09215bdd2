package service

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// GardenNew is what a garden is founded from. Nil settings are the defaults.
type GardenNew struct {
	ID         uuid.UUID
	Name       string
	TimeZone   string
	Hemisphere farm.Hemisphere
	Units      measure.System
	Settings   *farm.Settings
}

// CreateGarden founds a garden and makes its founder the coordinator. It
// refuses with role.forbidden an account that may not found gardens, and with
// garden.invalid, garden.time_zone and garden.exists.
func (s *Service) CreateGarden(ctx context.Context, a Actor, in GardenNew, once Once) (Done[farm.Garden], error) {
	now := s.now()
	content, err := digest(in)
	if err != nil {
		return Done[farm.Garden]{}, err
	}
	g := farm.Garden{ID: s.idOr(in.ID), Name: in.Name, TimeZone: in.TimeZone, Hemisphere: in.Hemisphere,
		Units: in.Units, Settings: farm.DefaultSettings(), CreatedAt: now, Version: 1}
	if in.Settings != nil {
		g.Settings = *in.Settings
	}
	if err := g.Validate(); err != nil {
		return Done[farm.Garden]{}, err
	}
	if site := g.Settings.DefaultSiteID; site != uuid.Nil {
		return Done[farm.Garden]{}, farm.Refuse("garden.invalid", "/settings/default_site_id",
			"default_site_id: a new garden has no sites yet; add one, then name it; got %s", site)
	}
	var done Done[farm.Garden]
	err = s.store.InTx(ctx, a.in(g.ID), func(tx *store.Tx) error {
		done = Done[farm.Garden]{}
		earlier := claim(tx, once)
		founder, made := tx.Account(a.AccountID), tx.GardenContent()
		if err := tx.Flush(); err != nil {
			return err
		}
		if !founder.Found || !founder.Value.MayFound || !founder.Value.DisabledAt.IsZero() {
			return farm.Refuse("role.forbidden", "", "this account may not found gardens; ask whoever runs the service")
		}
		return finish(tx, a, once, earlier, now, &done, func() (farm.Garden, error) {
			existing, _, mine := tx.Actor()
			if same, err := again(made, content, "garden.exists"); err != nil {
				return g, err
			} else if same && mine {
				return existing, nil
			} else if same {
				return g, farm.Refuse("garden.exists", "/id", "id: another garden has this id")
			}
			if err := tx.InsertGarden(g, content); err != nil {
				return g, err
			}
			tx.InsertMember(farm.Member{ID: s.ids(), AccountID: a.AccountID, Role: farm.Coordinator,
				DisplayName: founder.Value.DisplayName, Active: true, CreatedAt: now}, content)
			return g, nil
		})
	})
	if err != nil {
		return Done[farm.Garden]{}, err
	}
	return done, nil
}

func noDefaultSite(id uuid.UUID) error {
	return farm.Refuse("site.not_found", "/settings/default_site_id", "default_site_id: no site %s in this garden", id)
}

// MyGardens lists the gardens a person is a member of, by name, with the membership.
func (s *Service) MyGardens(ctx context.Context, a Actor, p Page) (List[Mine], error) {
	var page *store.Paged[Mine]
	err := s.store.Read(ctx, store.Scope{Account: a.AccountID}, func(b *store.Batch) { page = b.MyGardens(p) })
	if err != nil {
		return List[Mine]{}, err
	}
	return page.List(), nil
}

// Garden is one garden and the person's membership in it, for any member.
func (s *Service) Garden(ctx context.Context, a Actor, garden uuid.UUID) (farm.Garden, farm.Member, error) {
	return s.read(ctx, a, garden, anyone, func(*store.Batch) {})
}

// UpdateGarden changes a garden at the version the person has read. It refuses
// with version.stale, garden.invalid, garden.time_zone and site.not_found.
func (s *Service) UpdateGarden(ctx context.Context, a Actor, garden uuid.UUID, version int, edit func(*farm.Garden)) (farm.Garden, error) {
	type known struct {
		row   *store.Row[farm.Garden]
		sites *store.Rows[uuid.UUID]
	}
	done, err := write(ctx, s, a, garden, farm.ManageGarden, Once{},
		func(tx *store.Tx) known { return known{tx.LockGarden(), tx.SiteIDs()} },
		func(w *Work, k known) (farm.Garden, error) {
			g := k.row.Value
			if err := checkVersion("garden", g.Version, version); err != nil {
				return g, err
			}
			edit(&g)
			g.ID, g.CreatedAt, g.Version = k.row.Value.ID, k.row.Value.CreatedAt, version+1
			if err := g.Validate(); err != nil {
				return g, err
			}
			if site := g.Settings.DefaultSiteID; site != uuid.Nil && !slices.Contains(k.sites.Values, site) {
				return g, noDefaultSite(site)
			}
			return g, w.UpdateGarden(g)
		})
	return done.Value, err
}
