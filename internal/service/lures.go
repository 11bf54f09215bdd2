package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// LureFilter narrows a list of lures.
type LureFilter = store.LureFilter

// BeginLure begins to draw worms out of a maturing or finished section; its ID
// may be the client's own, and a zero UnfedSince is the day it was last fed. It
// refuses with lure.invalid, lure.exists, section.stage, section.not_found,
// bin.not_found, bin.not_yours, id.taken, day.future and day.closed.
func (s *Service) BeginLure(ctx context.Context, a Actor, garden uuid.UUID, in farm.Lure, once Once) (Done[farm.Lure], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Lure]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Lure]
		cared
		section *store.Row[farm.Section]
		lastFed *store.Row[measure.Day]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{made[farm.Lure]{tx.LureContent(in.ID), tx.Lure(in.ID)}, s.lockCared(tx, in.BinID, in.OccurredAt),
				tx.Section(in.BinID, in.SectionID), tx.LastFed(in.BinID, in.SectionID)}
		},
		func(w *Work, k known) (farm.Lure, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			l := in
			var err error
			if l.OccurredAt, l.Day, err = w.at(in.OccurredAt); err != nil {
				return l, err
			}
			if _, err := w.careFor(k.cared, l.Day); err != nil {
				return l, err
			}
			if !k.section.Found {
				return l, farm.Refuse("section.not_found", "/section_id", "section_id: no section %s in this bin", l.SectionID)
			}
			if l.UnfedSince.IsZero() {
				l.UnfedSince = unfedSince(k.lastFed.Value, l.Day)
			}
			l.State, l.RecordedAt, l.RecordedBy = farm.LureWaiting, w.Now, w.Member.ID
			if err := l.Validate(k.section.Value); err != nil {
				return l, err
			}
			w.InsertLure(l, content)
			return l, nil
		})
}

// unfedSince is the last day of food, or the day the lure began when the
// section was never fed or was fed later.
func unfedSince(last, began measure.Day) measure.Day {
	if last.IsZero() || last.After(began) {
		return began
	}
	return last
}

// LureStep is a step to record. Worms and ToSection belong to a lift.
type LureStep struct {
	Kind       farm.LureStepKind
	Dusting    measure.Quantity
	Worms      *farm.WormAmount
	ToSection  uuid.UUID
	Note       string
	OccurredAt time.Time
}

// TakeLureStep records the next step of a lure; a lift moves the worms in the
// same transaction. It refuses with lure.not_found, lure.state, lure.full,
// lure.invalid, bin.not_yours, section.not_found, section.stage, day.future,
// day.closed, and with whatever MoveWorms refuses.
func (s *Service) TakeLureStep(ctx context.Context, a Actor, garden, lure uuid.UUID, in LureStep, once Once) (Done[farm.Lure], error) {
	type known struct {
		lure *store.Row[farm.Lure]
		cared
		sections *store.Rows[farm.Section]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{tx.LockLure(lure), cared{bin: tx.BinOfLure(lure), covers: s.coversFor(&tx.Batch, in.OccurredAt)}, tx.SectionsOfLure(lure)}
		},
		func(w *Work, k known) (farm.Lure, error) {
			l, err := k.lure.Or("lure.not_found", "no lure %s in this garden", lure)
			if err != nil {
				return l, err
			}
			step := farm.LureStep{Kind: in.Kind, Dusting: in.Dusting, Note: in.Note, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			if step.OccurredAt, step.Day, err = w.at(in.OccurredAt); err != nil {
				return l, err
			}
			if _, err := w.careFor(k.cared, step.Day); err != nil {
				return l, err
			}
			if err := in.checkLift(l, k.sections.Values); err != nil {
				return l, err
			}
			if in.Kind == farm.LureStepLifted {
				step.TransferID = w.ids()
			}
			next, err := l.Take(step)
			if err != nil {
				return l, err
			}
			if in.Kind == farm.LureStepLifted {
				if err := s.lift(w, a, l, step, in); err != nil {
					return l, err
				}
			}
			w.TakeLureStep(next)
			return next, nil
		})
}

// checkLift refuses what only a lift has in another step, and a lift that does
// not say how many worms came or does not end where food is.
func (in LureStep) checkLift(l farm.Lure, sections []farm.Section) error {
	var f farm.Faults
	lifted := in.Kind == farm.LureStepLifted
	if (in.Worms != nil) != lifted {
		f.Add("lure.invalid", "/worms", "worms: a lift says how many worms came; no other step does")
	}
	if (in.ToSection != uuid.Nil) != lifted {
		f.Add("lure.invalid", "/to_section_id", "to_section_id: a lift says where the worms went; no other step does")
	}
	if err := f.Err(); err != nil || !lifted {
		return err
	}
	for _, s := range sections {
		if s.ID != in.ToSection {
			continue
		}
		if s.ID == l.SectionID || (s.Stage != farm.Feeding && s.Stage != farm.Working) {
			return farm.Refuse("section.stage", "/to_section_id", "to_section_id: lured worms go to the feeding end; %s is %s", s.Name, s.Stage)
		}
		return nil
	}
	return farm.Refuse("section.not_found", "/to_section_id", "to_section_id: no section %s in this bin", in.ToSection)
}

// lift moves the worms of a step; the running write is joined.
func (s *Service) lift(w *Work, a Actor, l farm.Lure, step farm.LureStep, in LureStep) error {
	_, err := s.MoveWorms(w.Context(), a, w.Garden.ID, WormMove{ID: step.TransferID, OccurredAt: step.OccurredAt,
		From: farm.WormEnd{BinID: l.BinID, SectionID: l.SectionID}, To: farm.WormEnd{BinID: l.BinID, SectionID: in.ToSection},
		Worms: *in.Worms, Reason: farm.ForLure, Note: in.Note}, Once{})
	return err
}

// Lures lists lures, the latest first.
func (s *Service) Lures(ctx context.Context, a Actor, garden uuid.UUID, f LureFilter, p Page) (List[farm.Lure], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.Lure] { return b.Lures(f, p) })
}
