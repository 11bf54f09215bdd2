package store_test

import (
	"strings"
	"sync"
	"testing"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

func peelIn(lot ledger.Account) ledger.Holding {
	return ledger.Holding{Account: lot, Substance: ledger.Scraps("peel")}
}

func TestALotHoldsWhatCameLessWhatLeft(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot, section := ledger.LotAccount(id()), ledger.SectionAccount(id(), id())
	p.must(p.post(p.entry(today, ledger.HouseholdSource(p.household), lot, 1200)))
	p.must(p.post(p.entry(today.Add(2), lot, section, 700)))
	for day, want := range map[measure.Day]measure.Grams{
		today.Add(-1): 0, today: 1200, today.Add(1): 1200, today.Add(2): 500, {}: 500,
	} {
		if got := p.balance(peelIn(lot), day); got != want {
			t.Errorf("on %s: got %d g, want %d g", day, got, want)
		}
	}
	if got := p.balance(peelIn(section), today.Add(5)); got != 700 {
		t.Errorf("section: got %d g, want 700 g", got)
	}
	if got := p.balance(peelIn(ledger.HouseholdSource(p.household)), measure.Day{}); got != -1200 {
		t.Errorf("source: got %d g, want -1200 g", got)
	}
}

func TestAStockCannotFallBelowZero(t *testing.T) {
	t.Parallel()
	p := setup(t)
	for _, c := range []struct {
		name      string
		account   ledger.Account
		substance ledger.Substance
		code      farm.Code
	}{
		{"scraps of a lot", ledger.LotAccount(id()), ledger.Scraps("peel"), "lot.empty"},
		{"worms of a section", ledger.SectionAccount(id(), id()), ledger.Worms(farm.Eisenia), "worms.none"},
		{"castings", ledger.CastingsAccount(id()), ledger.CastingsSubstance, "castings.short"},
		{"bedding of a batch", ledger.BeddingAccount(id()), ledger.BeddingOf("cardboard"), "bedding.short"},
	} {
		p.must(p.post(p.entryOf(c.substance, today, ledger.OutsideAccount(), c.account, 500)))
		err := p.post(p.entryOf(c.substance, today, c.account, ledger.OutsideAccount(), 501))
		wantCode(t, err, c.code)
		if !strings.Contains(err.Error(), "500 g") {
			t.Errorf("%s: the refusal must say how much there is: %v", c.name, err)
		}
		p.must(p.post(p.entryOf(c.substance, today, c.account, ledger.OutsideAccount(), 500)))
	}
}

func TestABackdatedRemovalIsJudgedByEveryLaterDay(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot, out := ledger.LotAccount(id()), ledger.OutsideAccount()
	p.must(p.post(p.entry(today, out, lot, 1000)))
	p.must(p.post(p.entry(today.Add(5), lot, out, 900)))
	p.must(p.post(p.entry(today.Add(8), out, lot, 400)))
	// 1000 g lay there on the third day, but only 100 g of it is free.
	err := p.post(p.entry(today.Add(3), lot, out, 101))
	wantCode(t, err, "lot.empty")
	if !strings.Contains(err.Error(), "100 g") {
		t.Errorf("the refusal must say that 100 g can be taken: %v", err)
	}
	p.must(p.post(p.entry(today.Add(3), lot, out, 100)))
	wantCode(t, p.post(p.entry(today.Add(-1), lot, out, 1)), "lot.empty")
	if got := p.balance(peelIn(lot), today.Add(5)); got != 0 {
		t.Errorf("got %d g, want 0 g", got)
	}
	if got := p.balance(peelIn(lot), measure.Day{}); got != 400 {
		t.Errorf("got %d g, want 400 g", got)
	}
}

func TestAReversalWithItsReentryIsJudgedAsOne(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot, out := ledger.LotAccount(id()), ledger.OutsideAccount()
	in := p.entry(today, out, lot, 1000)
	p.must(p.post(in))
	p.must(p.post(p.entry(today.Add(1), lot, out, 800)))
	back, err := ledger.Reverse(in, ledger.Reversal{ID: id(), OccurredAt: noon, RecordedAt: noon, Actor: p.member})
	p.must(err)
	wantCode(t, p.post(back), "lot.empty")
	p.must(p.post(back, p.entry(today.Add(-3), out, lot, 850)))
	if got := p.balance(peelIn(lot), measure.Day{}); got != 50 {
		t.Errorf("got %d g, want 50 g", got)
	}
	again := back
	again.ID = id()
	wantCode(t, p.post(again, p.entry(today, out, lot, 1000)), "entry.reversed")
}

func TestConcurrentWritersShareOutExactlyWhatThereIs(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lots := []ledger.Account{ledger.LotAccount(id()), ledger.LotAccount(id())}
	out := ledger.OutsideAccount()
	p.must(p.post(p.entry(today, out, lots[0], 1000), p.entry(today, out, lots[1], 1000)))
	var mu sync.Mutex
	var wg sync.WaitGroup
	taken, refused := 0, 0
	for i := range 30 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			// Each takes 100 g of both lots, named in either order, on one of three days.
			a, b := lots[i%2], lots[1-i%2]
			err := p.post(p.entry(today.Add(i%3), a, out, 100), p.entry(today.Add(i%3), b, out, 100))
			mu.Lock()
			defer mu.Unlock()
			switch {
			case err == nil:
				taken++
			case farm.CodeOf(err) == "lot.empty":
				refused++
			default:
				t.Errorf("writer %d: %v", i, err)
			}
		}()
	}
	wg.Wait()
	if taken != 10 || refused != 20 {
		t.Errorf("got %d taken and %d refused, want 10 and 20", taken, refused)
	}
	for _, l := range lots {
		if got := p.balance(peelIn(l), measure.Day{}); got != 0 {
			t.Errorf("%s: got %d g, want 0 g", l, got)
		}
	}
	faults, err := p.s.CheckLedger(t.Context(), p.scope.Garden)
	p.must(err)
	for _, f := range faults {
		t.Error(f)
	}
}

func TestAnotherGardensEntryIsRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	e := p.entry(today, ledger.OutsideAccount(), ledger.LotAccount(id()), 5)
	e.Garden = id()
	wantCode(t, p.post(e), "entry.invalid")
}

func TestTheDatabaseRefusesPostingsThatDoNotBalance(t *testing.T) {
	t.Parallel()
	p := setup(t)
	e := p.entry(today, ledger.OutsideAccount(), ledger.LotAccount(id()), 700)
	p.must(p.post(e))
	const insert = `INSERT INTO midden.postings (garden_id, entry_id, line, account, account_kind, substance, grams, method, rel_sd_permille)
		VALUES (midden.garden(), $1, 7, 'spoiled', 'spoiled', 'scraps/peel', 10, 'weighed', 0),
		       (midden.garden(), $1, 8, 'rejected', 'rejected', 'scraps/peel', $2, 'weighed', 0)`
	for grams, want := range map[int]string{-9: "postings_balance", -10: "postings_at_once"} {
		if got := constraintOf(p.asOwner(insert, e.ID, grams)); got != want {
			t.Errorf("%d g: got constraint %q, want %q", grams, got, want)
		}
	}
	for _, sql := range []string{
		`UPDATE midden.entries SET kind = 'other'`, `DELETE FROM midden.entries`, `TRUNCATE midden.entries CASCADE`,
		`UPDATE midden.postings SET grams = 1`, `DELETE FROM midden.postings`, `TRUNCATE midden.postings`,
	} {
		if got := constraintOf(p.asOwner(sql)); got != "ledger_append_only" {
			t.Errorf("owner, %s: got constraint %q", sql, got)
		}
		if _, err := p.db.App.Exec(t.Context(), sql); sqlState(err) != "42501" {
			t.Errorf("app, %s: got %v, want permission denied", sql, err)
		}
	}
}

func TestAnErrorOfAJoinedPartDoomsTheWhole(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := ledger.LotAccount(id())
	err := p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		if err := tx.Post(p.entry(today, ledger.OutsideAccount(), lot, 100)); err != nil {
			return err
		}
		_ = p.s.InTx(tx.Context(), p.scope, func(*store.Tx) error { return farm.Refuse("lot.invalid", "", "no") })
		return nil
	})
	wantCode(t, err, "lot.invalid")
	if got := p.balance(peelIn(lot), measure.Day{}); got != 0 {
		t.Errorf("got %d g, want none kept", got)
	}
}
