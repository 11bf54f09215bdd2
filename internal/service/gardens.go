package service

import (
	"context"

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

// MyGardens lists the gardens a person is a member of, with the membership.
func (s *Service) MyGardens(ctx context.Context, a Actor) ([]store.Mine, error) {
	return s.store.MyGardens(ctx, a.AccountID)
}

// Garden is one garden and the person's membership in it, for any member.
func (s *Service) Garden(ctx context.Context, a Actor, garden uuid.UUID) (farm.Garden, farm.Member, error) {
	return s.read(ctx, a, garden, anyone, func(*store.Batch) {})
}

// UpdateGarden changes a garden at the version the person has read. It refuses
// with version.stale, garden.invalid and garden.time_zone.
func (s *Service) UpdateGarden(ctx context.Context, a Actor, garden uuid.UUID, version int, edit func(*farm.Garden)) (farm.Garden, error) {
	done, err := write(ctx, s, a, garden, farm.ManageGarden, Once{},
		func(tx *store.Tx) *store.Row[farm.Garden] { return tx.LockGarden() },
		func(w *Work, row *store.Row[farm.Garden]) (farm.Garden, error) {
			g := row.Value
			if err := checkVersion("garden", g.Version, version); err != nil {
				return g, err
			}
			edit(&g)
			g.ID, g.CreatedAt, g.Version = row.Value.ID, row.Value.CreatedAt, version+1
			if err := g.Validate(); err != nil {
				return g, err
			}
			return g, w.UpdateGarden(g)
		})
	return done.Value, err
}
