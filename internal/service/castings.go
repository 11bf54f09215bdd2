package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// CastingsStepNew is the next step of a castings lot. Amount is what the lot
// weighs now, Screenings what went back to a bin; nil: not weighed, none.
type CastingsStepNew struct {
	Stage             farm.CastingsStage
	OccurredAt        time.Time
	Amount            *farm.Entered
	Screenings        *farm.Entered
	ScreeningsBin     uuid.UUID
	ScreeningsSection uuid.UUID
	Note              string
}

// castingsWork is a castings lot under way: its row and stock are locked.
type castingsWork struct {
	*Work
	lot     store.CastingsOnHand
	bin     farm.Bin // where it came from
	at      time.Time
	day     measure.Day
	stock   store.Stock
	vessels *store.Rows[farm.Container]
}

// castingsAsked is what a use case asks for to work on a castings lot.
type castingsAsked struct {
	lot     *store.Row[store.CastingsOnHand]
	bins    *store.Row[farm.Bin]
	stocks  *store.Rows[store.Stock]
	vessels *store.Rows[farm.Container]
}

func (s *Service) askCastings(tx *store.Tx, lot uuid.UUID, told time.Time, amounts ...*farm.Entered) castingsAsked {
	return castingsAsked{tx.LockCastingsLot(lot), tx.BinOfCastings(lot), tx.LockStocks(s.from(told), ledger.CastingsAccount(lot)),
		vessels(&tx.Batch, amounts...)}
}

func (w *Work) onCastings(k castingsAsked, id uuid.UUID, told time.Time) (*castingsWork, error) {
	if !k.lot.Found {
		return nil, farm.Refuse("castings.not_found", "/castings_lot_id", "no castings lot %s in this garden", id)
	}
	cw := &castingsWork{Work: w, lot: k.lot.Value, bin: k.bins.Value, vessels: k.vessels,
		stock: store.Find(k.stocks.Values, ledger.Holding{Account: ledger.CastingsAccount(id), Substance: ledger.CastingsSubstance})}
	var err error
	if cw.at, cw.day, err = w.at(told); err != nil {
		return nil, err
	}
	return cw, cw.lot.CheckDay(cw.day)
}

func (w *castingsWork) side() side { return side{ledger.CastingsAccount(w.lot.ID), w.bin.SiteID} }

// StepCastings dries, screens, rests or readies a castings lot, and books what
// a weighing shows as water and what was screened out as gone back to a
// section. It refuses with castings.not_found, castings.state,
// castings.invalid, castings.short, castings.not_yet, mass.invalid,
// container.not_found, bin.not_found, bin.not_yours, section.not_found,
// day.future and day.closed.
func (s *Service) StepCastings(ctx context.Context, a Actor, garden, id uuid.UUID, in CastingsStepNew, once Once) (Done[store.CastingsOnHand], error) {
	type known struct {
		castingsAsked
		back   place
		covers *store.Rows[farm.Cover]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{s.askCastings(tx, id, in.OccurredAt, in.Amount, in.Screenings),
				lookUp(&tx.Batch, in.ScreeningsBin, in.ScreeningsSection), s.coversFor(&tx.Batch, in.OccurredAt)}
		},
		func(w *Work, k known) (store.CastingsOnHand, error) {
			cw, err := w.onCastings(k.castingsAsked, id, in.OccurredAt)
			if err != nil {
				return store.CastingsOnHand{}, err
			}
			if err := cw.lot.CheckStep(in.Stage, in.Amount != nil, in.Screenings != nil, in.ScreeningsBin, in.ScreeningsSection); err != nil {
				return cw.lot, err
			}
			if err := farm.CheckText("castings.invalid", "/note", in.Note, 500); err != nil {
				return cw.lot, err
			}
			var back farm.Bin
			if in.Screenings != nil {
				if back, _, err = k.back.found("/screenings"); err != nil {
					return cw.lot, screeningsField(err)
				}
				if err := w.mayCareFor(back, k.covers, cw.day); err != nil {
					return cw.lot, err
				}
			}
			return cw.step(in, back)
		})
}

// screeningsField names the flat fields of a step.
func screeningsField(err error) error {
	e := *farm.AsError(err)
	switch e.Field {
	case "/screenings/bin_id":
		e.Field = "/screenings_bin_id"
	case "/screenings/section_id":
		e.Field = "/screenings_section_id"
	}
	return &e
}

func (w *castingsWork) step(in CastingsStepNew, back farm.Bin) (store.CastingsOnHand, error) {
	step := farm.CastingsStep{ID: w.ids(), Stage: in.Stage, OccurredAt: w.at, Note: in.Note, RecordedAt: w.Now, RecordedBy: w.Member.ID}
	var postings []ledger.Posting
	left := w.stock.Closing(w.day)
	if in.Screenings != nil {
		e, weight, err := w.weigh("/screenings", *in.Screenings, farm.CastingsDensity, w.vessels)
		if err != nil {
			return w.lot, err
		}
		if least := w.stock.Least(w.day); weight.Net > least {
			return w.lot, farm.Refuse("castings.short", "/screenings", "screenings: the lot holds %d g from %s on; got %d g", least, w.day, weight.Net)
		}
		postings = moved(ledger.CastingsSubstance, weight.Net, methodOf(e.Method), weight.RelSDPermille,
			w.side(), side{ledger.ConversionAccount(in.ScreeningsSection), back.SiteID})
		left -= weight.Net
		w.lot.OnHand -= weight.Net
	}
	if in.Amount != nil {
		e, weight, err := w.weigh("/amount", *in.Amount, farm.CastingsDensity, w.vessels)
		if err != nil {
			return w.lot, err
		}
		step.Mass, step.Weighed = weight.Net, true
		if lost := left - weight.Net; lost != 0 { // below zero: it gained
			postings = append(postings, moved(ledger.CastingsSubstance, lost, methodOf(e.Method), weight.RelSDPermille,
				w.side(), side{ledger.WaterAccount(w.lot.ID), w.bin.SiteID})...)
			w.lot.OnHand -= lost
		}
	}
	var err error
	if len(postings) > 0 {
		entry := w.entry(ledger.KindCastingsStep, ledger.Cause{Kind: "castings_lot", ID: w.lot.ID}, w.at, w.day, postings...)
		step.EntryID = entry.ID
		err = w.Post(entry)
	}
	w.InsertCastingsStep(w.lot.ID, step)
	w.lot.Stage = step.Stage
	w.lot.Steps = append(w.lot.Steps, step)
	return w.lot, err
}

// CastingsLots lists castings lots, the latest harvest first.
func (s *Service) CastingsLots(ctx context.Context, a Actor, garden uuid.UUID, f store.CastingsFilter, p store.Page) (store.List[store.CastingsOnHand], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[store.CastingsOnHand] { return b.CastingsLots(f, p) })
}

// CastingsLot is one castings lot. It refuses with castings.not_found.
func (s *Service) CastingsLot(ctx context.Context, a Actor, garden, id uuid.UUID) (store.CastingsOnHand, error) {
	var row *store.Row[store.CastingsOnHand]
	if _, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.CastingsLot(id) }); err != nil {
		return store.CastingsOnHand{}, err
	}
	return row.Or("castings.not_found", "no castings lot %s in this garden", id)
}
