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

// The edges speak these types of the store.
type (
	EntryFilter = store.EntryFilter // narrows a list of entries
	Recorded    = store.Recorded    // an entry as it stands in the ledger
	StockLine   = store.StockLine   // what an account holds
)

// Entries lists entries of the ledger, the newest recorded first.
func (s *Service) Entries(ctx context.Context, a Actor, garden uuid.UUID, f store.EntryFilter, p store.Page) (store.List[store.Recorded], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[store.Recorded] { return b.Entries(f, p) })
}

// Entry is one entry. It refuses with entry.not_found.
func (s *Service) Entry(ctx context.Context, a Actor, garden, id uuid.UUID) (store.Recorded, error) {
	var row *store.Row[store.Recorded]
	if _, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.Entry(id) }); err != nil {
		return store.Recorded{}, err
	}
	return row.Or("entry.not_found", "no entry %s in this garden", id)
}

// Stock lists what lots, sections' worms, bedding batches and castings lots
// hold at the end of a day; the zero day is with everything entered so far.
func (s *Service) Stock(ctx context.Context, a Actor, garden uuid.UUID, on measure.Day, kind ledger.AccountKind, p store.Page) (store.List[store.StockLine], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[store.StockLine] { return b.StockLines(on, kind, p) })
}

// CheckLedger works out the garden's ledger again and lists what differs.
func (s *Service) CheckLedger(ctx context.Context, a Actor, garden uuid.UUID) ([]store.LedgerFault, error) {
	if _, _, err := s.read(ctx, a, garden, farm.CorrectLedger, func(*store.Batch) {}); err != nil {
		return nil, err
	}
	return s.store.CheckLedger(ctx, garden)
}

// Undo is a wish to reverse an entry. ID may be the client's own.
type Undo struct {
	ID     uuid.UUID
	Reason string
}

// ReverseEntry undoes an entry on the day it counted on. It refuses with
// entry.not_found, entry.reversed, entry.is_reversal, entry.exists,
// entry.invalid (the reason), day.closed, and with the code of a stock that
// would fall below zero: undo the later movements first.
func (s *Service) ReverseEntry(ctx context.Context, a Actor, garden, id uuid.UUID, in Undo, once Once) (Done[store.Recorded], error) {
	in.ID = s.idOr(in.ID)
	type known struct{ row, made *store.Row[store.Recorded] }
	return write(ctx, s, a, garden, farm.CorrectLedger, once,
		func(tx *store.Tx) known { return known{tx.Entry(id), tx.Entry(in.ID)} },
		func(w *Work, k known) (store.Recorded, error) {
			e, err := k.row.Or("entry.not_found", "no entry %s in this garden", id)
			if err != nil {
				return e, err
			}
			if k.made.Found && k.made.Value.Reverses == id && k.made.Value.Note == in.Reason {
				return k.made.Value, nil
			}
			if k.made.Found {
				return e, farm.Refuse("entry.exists", "/id", "id: this id is already used with other content")
			}
			if e.ReversedBy != uuid.Nil {
				return e, farm.Refuse("entry.reversed", "", "entry %s was already reversed by %s", id, e.ReversedBy)
			}
			if err := farm.CheckName("entry.invalid", "/reason", in.Reason, 1000); err != nil {
				return e, err
			}
			if err := w.Garden.CheckOpen(e.EffectiveOn); err != nil {
				return e, err
			}
			r, err := ledger.Reverse(e.Entry, ledger.Reversal{ID: in.ID, OccurredAt: e.OccurredAt, RecordedAt: w.Now, Actor: w.Member.ID})
			if err != nil {
				return e, err
			}
			if err := w.reopen(e.Entry); err != nil {
				return e, err
			}
			w.NoteEntry(r.ID, in.Reason)
			return store.Recorded{Entry: r, SHA256: r.Hash(), Note: in.Reason}, w.Post(r)
		})
}

// reopen puts right what an entry had changed beside the ledger: a lot whose
// verdict is undone is open again.
func (w *Work) reopen(e ledger.Entry) error {
	if e.Kind != ledger.KindVerdict || e.Cause.Kind != "lot" {
		return nil
	}
	lots := w.LockLots(e.Cause.ID)
	if err := w.Flush(); err != nil {
		return err
	}
	for _, l := range lots.Values {
		l.Status, l.RejectionReason, l.Notice = farm.LotReceived, "", ""
		w.UpdateLot(l.Lot)
	}
	return nil
}

// onceKept is how long answers are kept.
const onceKept = 30 * 24 * time.Hour

// ForgetAnswers drops stored answers older than 30 days, and counts them. It
// is the service's own work, for a job.
func (s *Service) ForgetAnswers(ctx context.Context) (int64, error) {
	var gone *store.Row[int64]
	before := s.now().Add(-onceKept)
	err := s.store.Read(ctx, store.Scope{}, func(b *store.Batch) { gone = b.ForgetAnswers(before) })
	if err != nil {
		return 0, err
	}
	return gone.Value, nil
}
