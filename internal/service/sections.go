package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// Sections lists a bin's sections, in order. It refuses with bin.not_found.
func (s *Service) Sections(ctx context.Context, a Actor, garden, bin uuid.UUID, p store.Page) (store.List[farm.Section], error) {
	var row *store.Row[farm.Bin]
	var page *store.Paged[farm.Section]
	_, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row, page = b.Bin(bin), b.SectionPage(bin, p) })
	if err != nil {
		return store.List[farm.Section]{}, err
	}
	if _, err := row.Or("bin.not_found", "no bin %s in this garden", bin); err != nil {
		return store.List[farm.Section]{}, err
	}
	return page.List(), nil
}

// sectionWork is a bin under way, its row locked so that its sections change
// one at a time.
type sectionWork struct {
	cared
	all  *store.Rows[farm.Section]
	made made[farm.Section]
}

// CreateSection adds a section to a bin; its ID may be the client's own. It
// refuses with bin.not_found, bin.not_yours, bin.state, section.invalid,
// section.full, section.taken and id.taken.
func (s *Service) CreateSection(ctx context.Context, a Actor, garden uuid.UUID, in farm.Section, once Once) (Done[farm.Section], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Section]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) sectionWork {
			return sectionWork{s.lockCared(tx, in.BinID, time.Time{}), tx.Sections(in.BinID), made[farm.Section]{tx.SectionContent(in.ID), tx.Section(in.BinID, in.ID)}}
		},
		func(w *Work, k sectionWork) (farm.Section, error) {
			today, err := w.today()
			if err != nil {
				return in, err
			}
			bin, err := w.careFor(k.cared, today)
			if err != nil {
				return in, err
			}
			if same, err := again(k.made.content, content, "id.taken"); same || err != nil {
				return k.made.row.Value, err
			}
			section := in
			section.CreatedAt, section.Version = w.Now, 1
			if err := section.Validate(); err != nil {
				return section, err
			}
			if section.Stage == farm.Feeding {
				section.StartedOn = today
			}
			if err := bin.AddSection(section, k.all.Values); err != nil {
				return section, err
			}
			w.InsertSection(section, content)
			return section, nil
		})
}

// UpdateSection changes a section's name, order or stage at the version the
// person has read. It refuses with bin.not_found, section.not_found,
// bin.not_yours, version.stale, section.invalid, section.stage and
// section.taken.
func (s *Service) UpdateSection(ctx context.Context, a Actor, garden, binID, id uuid.UUID, version int, edit func(*farm.Section)) (farm.Section, error) {
	done, err := write(ctx, s, a, garden, farm.CareForBins, Once{},
		func(tx *store.Tx) sectionWork {
			return sectionWork{cared: s.lockCared(tx, binID, time.Time{}), all: tx.Sections(binID), made: made[farm.Section]{row: tx.LockSection(binID, id)}}
		},
		func(w *Work, k sectionWork) (farm.Section, error) {
			today, err := w.today()
			if err != nil {
				return farm.Section{}, err
			}
			bin, err := w.careFor(k.cared, today)
			if err != nil {
				return farm.Section{}, err
			}
			was, err := k.made.row.Or("section.not_found", "no section %s in this bin", id)
			if err != nil {
				return was, err
			}
			if err := checkVersion("section", was.Version, version); err != nil {
				return was, err
			}
			edited := was
			edit(&edited)
			next, err := restage(was, edited, today)
			if err != nil {
				return next, err
			}
			for i := range k.all.Values {
				if k.all.Values[i].ID == id {
					k.all.Values[i] = next
				}
			}
			if err := bin.CheckSections(k.all.Values); err != nil {
				return next, err
			}
			w.UpdateSection(next)
			return next, nil
		})
	return done.Value, err
}

// restage applies the name and order of edited, and moves the stage.
func restage(was, edited farm.Section, on measure.Day) (farm.Section, error) {
	next := was
	next.Name, next.Position, next.Version = edited.Name, edited.Position, was.Version+1
	if err := next.Validate(); err != nil {
		return next, err
	}
	return next.MoveTo(edited.Stage, on)
}
