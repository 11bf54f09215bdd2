package service

import (
	"context"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// RecordCheck keeps what a keeper saw of a bin; its ID may be the client's
// own, and a zero OccurredAt is now. It refuses with check.invalid,
// bin.not_found, bin.not_yours, section.not_found, material.not_found,
// id.taken, day.future and day.closed.
func (s *Service) RecordCheck(ctx context.Context, a Actor, garden uuid.UUID, in farm.Check, once Once) (Done[farm.Check], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Check]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Check]
		bin       *store.Row[farm.Bin]
		covers    *store.Rows[farm.Cover]
		sections  *store.Rows[farm.Section]
		overrides *store.Rows[farm.MaterialOverride]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{made[farm.Check]{tx.CheckContent(in.ID), tx.Check(in.ID)}, tx.Bin(in.BinID),
				s.coversFor(&tx.Batch, in.OccurredAt), tx.Sections(in.BinID), tx.MaterialOverrides()}
		},
		func(w *Work, k known) (farm.Check, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			c := in
			var err error
			if c.OccurredAt, c.Day, err = w.at(in.OccurredAt); err != nil {
				return c, err
			}
			if _, err := w.careFor(cared{in.BinID, k.bin, k.covers}, c.Day); err != nil {
				return c, err
			}
			c.RecordedAt, c.RecordedBy = w.Now, w.Member.ID
			slices.Sort(c.Pests)
			c.Pests = slices.Compact(c.Pests)
			materials := s.materialsByKey(k.overrides.Values)
			if err := c.Validate(k.sections.Values, func(m string) bool { _, ok := materials[m]; return ok }); err != nil {
				return c, err
			}
			inOrderOf(k.sections.Values, c.Sections)
			w.InsertCheck(c, content)
			return c, nil
		})
}

// inOrderOf sorts looks by the order of the bin's sections.
func inOrderOf(sections []farm.Section, looks []farm.SectionLook) {
	place := func(l farm.SectionLook) int {
		return slices.IndexFunc(sections, func(s farm.Section) bool { return s.ID == l.SectionID })
	}
	slices.SortStableFunc(looks, func(a, b farm.SectionLook) int { return place(a) - place(b) })
}

// Checks lists checks, the latest first.
func (s *Service) Checks(ctx context.Context, a Actor, garden uuid.UUID, f BinDays, p Page) (List[farm.Check], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.Check] { return b.Checks(f, p) })
}
