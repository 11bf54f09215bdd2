package service

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// IssueAcceptance adds the next version of what the garden takes. It refuses
// with acceptance.invalid, and with material.not_found what is no scrap of the
// catalogue nor the garden's own.
func (s *Service) IssueAcceptance(ctx context.Context, a Actor, garden uuid.UUID, in farm.AcceptanceList, once Once) (Done[farm.AcceptanceList], error) {
	type known struct {
		overrides *store.Rows[farm.MaterialOverride]
		latest    *store.Row[int]
	}
	return write(ctx, s, a, garden, farm.ManageGarden, once,
		func(tx *store.Tx) known {
			tx.LockGarden()
			return known{tx.MaterialOverrides(), tx.LatestAcceptance()}
		},
		func(w *Work, k known) (farm.AcceptanceList, error) {
			list := in
			list.Version, list.CreatedAt, list.CreatedBy = k.latest.Value+1, w.Now, w.Member.ID
			if err := list.Validate(); err != nil {
				return list, err
			}
			scraps := map[string]bool{}
			for _, m := range s.knownMaterials(k.overrides.Values) {
				scraps[m.Key] = m.Use == farm.ScrapUse
			}
			var f farm.Faults
			for i, key := range list.Accepted {
				if !scraps[key] {
					f.Add("material.not_found", fmt.Sprintf("/accepted_materials/%d", i),
						"accepted_materials: %q is no scrap of the catalogue nor the garden's own", key)
				}
			}
			if err := f.Err(); err != nil {
				return list, err
			}
			w.InsertAcceptance(list)
			return list, nil
		})
}

// AcceptanceLists lists the versions, the newest first, for any member.
func (s *Service) AcceptanceLists(ctx context.Context, a Actor, garden uuid.UUID, p Page) (List[farm.AcceptanceList], error) {
	var page *store.Paged[farm.AcceptanceList]
	if _, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { page = b.AcceptanceLists(p) }); err != nil {
		return List[farm.AcceptanceList]{}, err
	}
	return page.List(), nil
}

// NotToday is what the garden does not take today, for any member.
func (s *Service) NotToday(ctx context.Context, a Actor, garden uuid.UUID) (farm.NotToday, error) {
	var row *store.Row[farm.NotToday]
	g, _, err := s.read(ctx, a, garden, anyone, func(b *store.Batch) { row = b.NotToday() })
	if err != nil {
		return farm.NotToday{}, err
	}
	today, err := g.DayOf(s.now())
	return row.Value.On(today), err
}

// SetNotToday says what the garden does not take for now, at the version the
// person has read, 0 for never said. It refuses with version.stale and
// not_today.invalid.
func (s *Service) SetNotToday(ctx context.Context, a Actor, garden uuid.UUID, version int, in farm.NotToday) (farm.NotToday, error) {
	done, err := write(ctx, s, a, garden, farm.TakeIn, Once{},
		func(tx *store.Tx) *store.Row[farm.NotToday] { return tx.LockNotToday() },
		func(w *Work, row *store.Row[farm.NotToday]) (farm.NotToday, error) {
			if err := checkVersion("not today", row.Value.Version, version); err != nil {
				return in, err
			}
			today, err := w.Garden.DayOf(w.Now)
			if err != nil {
				return in, err
			}
			next := in
			next.Version = version + 1
			if err := next.Validate(today); err != nil {
				return next, err
			}
			w.PutNotToday(next, w.Now)
			return next, nil
		})
	return done.Value, err
}
