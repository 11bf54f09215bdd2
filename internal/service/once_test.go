package service_test

import (
	"sync"
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/service"
	"midden/internal/store"
)

func (p *plot) lots() []store.LotOnHand {
	p.t.Helper()
	l, err := p.svc.Lots(p.t.Context(), p.founder, p.garden, store.LotFilter{}, store.Page{})
	p.must(err)
	return l.Items
}

func TestARepeatedRequestGetsTheFirstAnswer(t *testing.T) {
	t.Parallel()
	p := setup(t)
	first, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
	p.must(err)
	if first.Replayed || first.Response.Status != 201 {
		t.Fatalf("first: got %+v", first)
	}
	repeat, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
	p.must(err)
	if !repeat.Replayed || string(repeat.Response.Body) != string(first.Response.Body) ||
		repeat.Response.Header["Location"] != first.Response.Header["Location"] {
		t.Fatalf("repeat: got %+v, want the first answer", repeat.Response)
	}
	if n := len(p.lots()); n != 1 {
		t.Errorf("got %d lots, want 1", n)
	}
	_, err = p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("4")), once("k1", "other"))
	wantCode(t, err, "request.key_reused")
}

func TestARefusalIsJudgedAgain(t *testing.T) {
	t.Parallel()
	p := setup(t)
	_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("0")), once("k1", "body"))
	wantCode(t, err, "mass.invalid")
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
	p.must(err)
	if done.Replayed {
		t.Error("a refusal must not be replayed")
	}
}

func TestTheSameRequestSentAtOnceCountsOnce(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(kg("3"))
	var wg sync.WaitGroup
	var mu sync.Mutex
	answers := map[string]int{}
	for range 12 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, once("k1", "body"))
			mu.Lock()
			defer mu.Unlock()
			switch {
			case farm.CodeOf(err) == "request.in_flight":
			case err != nil:
				t.Error(err)
			default:
				answers[string(done.Response.Body)]++
			}
		}()
	}
	wg.Wait()
	if len(answers) != 1 || len(p.lots()) != 1 {
		t.Errorf("got %d answers and %d lots, want 1 and 1", len(answers), len(p.lots()))
	}
	p.sound()
}

func TestARequestInFlightIsToldSo(t *testing.T) {
	t.Parallel()
	p := setup(t)
	scope := store.Scope{Garden: p.garden, Account: p.founder.AccountID}
	p.must(p.store.InTx(t.Context(), scope, func(tx *store.Tx) error {
		tx.ClaimOnce("take_in_lot", "k1")
		if err := tx.Flush(); err != nil {
			return err
		}
		_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(kg("3")), once("k1", "body"))
		wantCode(t, err, "request.in_flight")
		return nil
	}))
}

func TestTheSameClientMadeIDIsTheSameLot(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(kg("3"))
	in.ID = uuid.Must(uuid.NewV7())
	var wg sync.WaitGroup
	for range 6 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
			if err != nil || done.Value.ID != in.ID || done.Value.OnHand != 3000 {
				t.Errorf("got %+v, %v", done.Value, err)
			}
		}()
	}
	wg.Wait()
	if len(p.lots()) != 1 || p.onHand(in.ID) != 3000 {
		t.Errorf("got %d lots, want 1 of 3000 g", len(p.lots()))
	}
	in.Note = "other"
	_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "lot.exists")
}
