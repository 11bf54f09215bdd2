package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// CreateHousehold adds a household; whoever takes in scraps may. It refuses
// with household.invalid and household.exists.
func (s *Service) CreateHousehold(ctx context.Context, a Actor, garden uuid.UUID, in farm.Household, once Once) (Done[farm.Household], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Household]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.TakeIn, once,
		func(tx *store.Tx) made[farm.Household] {
			return made[farm.Household]{tx.HouseholdContent(in.ID), tx.Household(in.ID)}
		},
		func(w *Work, m made[farm.Household]) (farm.Household, error) {
			if same, err := again(m.content, content, "household.exists"); same || err != nil {
				return m.row.Value, err
			}
			h := in
			h.CreatedAt, h.Version = w.Now, 1
			if h.Baseline == "" {
				h.Baseline = farm.BaselineUnknown
			}
			if err := h.Validate(); err != nil {
				return h, err
			}
			w.InsertHousehold(h, content)
			return h, nil
		})
}

// Households lists households by name; those erased are left out.
func (s *Service) Households(ctx context.Context, a Actor, garden uuid.UUID, prefix string, p store.Page) (store.List[farm.Household], error) {
	return paged(ctx, s, a, garden, farm.SeePeople, func(b *store.Batch) *store.Paged[farm.Household] { return b.Households(prefix, p) })
}

// Household is one household. It refuses with household.not_found.
func (s *Service) Household(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.Household, error) {
	var row *store.Row[farm.Household]
	if _, _, err := s.read(ctx, a, garden, farm.SeePeople, func(b *store.Batch) { row = b.Household(id) }); err != nil {
		return farm.Household{}, err
	}
	return row.Or("household.not_found", "no household %s in this garden", id)
}

// UpdateHousehold changes a household at the version the person has read. It
// refuses with household.not_found, household.erased, version.stale and
// household.invalid.
func (s *Service) UpdateHousehold(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Household)) (farm.Household, error) {
	return s.editHousehold(ctx, a, garden, id, func(w *Work, h farm.Household) (farm.Household, error) {
		if h.Erased() {
			return h, farm.Refuse("household.erased", "", "household %s was erased; add it anew", id)
		}
		if err := checkVersion("household", h.Version, version); err != nil {
			return h, err
		}
		next := h
		edit(&next)
		next.ID, next.CreatedAt, next.ErasedAt = id, h.CreatedAt, h.ErasedAt
		return next, next.Validate()
	})
}

// EraseHousehold drops a household's name, plot and contact for good, at the
// version the person has read. Its quantities stay under its id. Erasing twice
// changes nothing. It refuses with household.not_found and version.stale.
func (s *Service) EraseHousehold(ctx context.Context, a Actor, garden, id uuid.UUID, version int) (farm.Household, error) {
	return s.editHousehold(ctx, a, garden, id, func(w *Work, h farm.Household) (farm.Household, error) {
		if h.Erased() {
			return h, nil
		}
		if err := checkVersion("household", h.Version, version); err != nil {
			return h, err
		}
		return h.Erase(w.Now), nil
	})
}

func (s *Service) editHousehold(ctx context.Context, a Actor, garden, id uuid.UUID,
	edit func(*Work, farm.Household) (farm.Household, error)) (farm.Household, error) {
	done, err := write(ctx, s, a, garden, farm.ManagePeople, Once{},
		func(tx *store.Tx) *store.Row[farm.Household] { return tx.LockHousehold(id) },
		func(w *Work, row *store.Row[farm.Household]) (farm.Household, error) {
			h, err := row.Or("household.not_found", "no household %s in this garden", id)
			if err != nil {
				return h, err
			}
			next, err := edit(w, h)
			if err != nil || next == h {
				return h, err
			}
			next.Version = h.Version + 1
			w.UpdateHousehold(next)
			return next, nil
		})
	return done.Value, err
}
