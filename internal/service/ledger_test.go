package service_test

import (
	"testing"
	"time"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

func TestAMistakeIsReversedAndEnteredAgain(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(kg("30"))
	undo := service.Undo{Reason: "It was 3 kg."}
	done, err := p.svc.ReverseEntry(t.Context(), p.founder, p.garden, lot.EntryID, undo, service.Once{})
	p.must(err)
	if p.onHand(lot.ID) != 0 || done.Value.Reverses != lot.EntryID {
		t.Errorf("got %+v", done.Value)
	}
	undo.ID = done.Value.ID
	same, err := p.svc.ReverseEntry(t.Context(), p.founder, p.garden, lot.EntryID, undo, service.Once{})
	p.must(err)
	if same.Value.ID != done.Value.ID {
		t.Error("the same reversal must be the same success")
	}
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, lot.EntryID, service.Undo{Reason: "Again."}, service.Once{})
	wantCode(t, err, "entry.reversed")
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, done.Value.ID, service.Undo{Reason: "No."}, service.Once{})
	wantCode(t, err, "entry.is_reversal")
	e, err := p.svc.Entry(t.Context(), p.founder, p.garden, lot.EntryID)
	p.must(err)
	if e.ReversedBy != done.Value.ID || e.SHA256 != e.Hash() {
		t.Errorf("got %+v", e)
	}
	_, err = p.svc.ReverseEntry(t.Context(), p.join("bo@example.org", farm.Keeper), p.garden, lot.EntryID, undo, service.Once{})
	wantCode(t, err, "role.forbidden")
	p.sound()
}

func TestWhatWasUsedSinceCannotBeReversed(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(kg("3"))
	_, err := p.svc.SpoilLot(t.Context(), p.founder, p.garden, lot.ID, service.Spoilage{To: farm.ToLandfill}, service.Once{})
	p.must(err)
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, lot.EntryID, service.Undo{Reason: "Mistake."}, service.Once{})
	wantCode(t, err, "lot.empty")
}

func TestALotWhoseRejectionIsReversedIsOpenAgain(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(kg("4"))
	in.Status, in.Reason = farm.LotRejected, "Glass."
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	list, err := p.svc.Entries(t.Context(), p.founder, p.garden, store.EntryFilter{Kinds: ledger.KindVerdict}, store.Page{})
	p.must(err)
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, list.Items[0].ID, service.Undo{Reason: "Wrong bucket."}, service.Once{})
	p.must(err)
	got, err := p.svc.Lot(t.Context(), p.founder, p.garden, done.Value.ID)
	p.must(err)
	if got.Status != farm.LotReceived || got.OnHand != 4000 {
		t.Errorf("got %s with %d g", got.Status, got.OnHand)
	}
	p.sound()
}

func TestEntriesAndStockAreListedByDayAndKind(t *testing.T) {
	t.Parallel()
	p := setup(t)
	first := p.takeIn(kg("1"))
	p.later(48 * time.Hour)
	second := p.takeIn(kg("2"))
	var ids []string
	page := store.Page{Limit: 1}
	for {
		l, err := p.svc.Entries(t.Context(), p.founder, p.garden, store.EntryFilter{Kinds: "intake,feeding"}, page)
		p.must(err)
		for _, e := range l.Items {
			ids = append(ids, e.ID.String())
		}
		if page.Cursor = l.Next; l.Next == "" {
			break
		}
	}
	if len(ids) != 2 || ids[0] != second.EntryID.String() || ids[1] != first.EntryID.String() {
		t.Errorf("got %v, want the latest day first", ids)
	}
	of, err := p.svc.Entries(t.Context(), p.founder, p.garden, store.EntryFilter{Account: ledger.LotAccount(first.ID).String()}, store.Page{})
	p.must(err)
	if len(of.Items) != 1 {
		t.Errorf("got %d entries of one lot, want 1", len(of.Items))
	}
	for on, want := range map[measure.Day]int{measure.MustDay("2026-05-09"): 0, measure.MustDay("2026-05-10"): 1, {}: 2} {
		stock, err := p.svc.Stock(t.Context(), p.founder, p.garden, on, ledger.Lot, store.Page{})
		p.must(err)
		if len(stock.Items) != want {
			t.Errorf("on %q: got %d lines, want %d", on, len(stock.Items), want)
		}
	}
	none, err := p.svc.Stock(t.Context(), p.founder, p.garden, measure.Day{}, ledger.Castings, store.Page{})
	p.must(err)
	if len(none.Items) != 0 {
		t.Errorf("got %d lines of castings, want none", len(none.Items))
	}
	all, err := p.svc.Stock(t.Context(), p.founder, p.garden, measure.Day{}, "", store.Page{Limit: 1})
	p.must(err)
	if len(all.Items) != 1 || all.Next == "" {
		t.Errorf("got %+v, want one of two lines", all)
	}
}

func TestAnswersAreForgottenAfterThirtyDays(t *testing.T) {
	t.Parallel()
	p := setup(t)
	_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
	p.must(err)
	for days, want := range []int64{0, 1} {
		p.later(time.Duration(29+2*days) * 24 * time.Hour)
		gone, err := p.svc.ForgetAnswers(t.Context())
		p.must(err)
		if gone != want {
			t.Errorf("got %d forgotten, want %d", gone, want)
		}
	}
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
	p.must(err)
	if done.Replayed {
		t.Error("a forgotten answer was replayed")
	}
	faults, err := p.svc.CheckLedger(t.Context(), p.founder, p.garden)
	p.must(err)
	if len(faults) != 0 {
		t.Error(faults)
	}
}
