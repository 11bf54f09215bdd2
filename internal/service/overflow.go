package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// CreateOverflowPlace adds an overflow place; its ID may be the client's own. It refuses with
// overflow.invalid, overflow.name_taken and overflow.exists.
func (s *Service) CreateOverflowPlace(ctx context.Context, a Actor, garden uuid.UUID, in farm.OverflowPlace, once Once) (Done[farm.OverflowPlace], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.OverflowPlace]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ManageGarden, once,
		func(tx *store.Tx) made[farm.OverflowPlace] {
			return made[farm.OverflowPlace]{tx.OverflowContent(in.ID), tx.OverflowPlace(in.ID)}
		},
		func(w *Work, m made[farm.OverflowPlace]) (farm.OverflowPlace, error) {
			if same, err := again(m.content, content, "overflow.exists"); same || err != nil {
				return m.row.Value, err
			}
			place := in
			place.Active, place.CreatedAt, place.Version = true, w.Now, 1
			if err := place.Validate(); err != nil {
				return place, err
			}
			w.InsertOverflowPlace(place, content)
			return place, nil
		})
}

// OverflowPlaces lists the overflow places by name, for those who keep bins.
func (s *Service) OverflowPlaces(ctx context.Context, a Actor, garden uuid.UUID, st Standing, p Page) (List[farm.OverflowPlace], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.OverflowPlace] { return b.OverflowPlaces(st, p) })
}

// OverflowPlace is one overflow place, for those who keep bins. It refuses with overflow.not_found.
func (s *Service) OverflowPlace(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.OverflowPlace, error) {
	var row *store.Row[farm.OverflowPlace]
	if _, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.OverflowPlace(id) }); err != nil {
		return farm.OverflowPlace{}, err
	}
	return row.Or("overflow.not_found", "no overflow place %s in this garden", id)
}

// UpdateOverflowPlace changes an overflow place at the version the person has read. It refuses
// with overflow.not_found, version.stale, overflow.invalid and overflow.name_taken.
func (s *Service) UpdateOverflowPlace(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.OverflowPlace)) (farm.OverflowPlace, error) {
	done, err := write(ctx, s, a, garden, farm.ManageGarden, Once{},
		func(tx *store.Tx) *store.Row[farm.OverflowPlace] { return tx.LockOverflowPlace(id) },
		func(w *Work, row *store.Row[farm.OverflowPlace]) (farm.OverflowPlace, error) {
			place, err := row.Or("overflow.not_found", "no overflow place %s in this garden", id)
			if err != nil {
				return place, err
			}
			if err := checkVersion("overflow place", place.Version, version); err != nil {
				return place, err
			}
			edit(&place)
			place.ID, place.CreatedAt, place.Version = id, row.Value.CreatedAt, version+1
			if err := place.Validate(); err != nil {
				return place, err
			}
			w.UpdateOverflowPlace(place)
			return place, nil
		})
	return done.Value, err
}
