package demo

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/service"
	"midden/internal/store"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// now is a Wednesday in the apple glut.
var now = time.Date(2026, 10, 14, 9, 30, 0, 0, time.UTC)

// grown is a garden that was told into a database of its own, and the service
// that looks at it afterwards.
type grown struct {
	Loaded
	svc *service.Service
	ctx context.Context
}

func grow(t *testing.T, seed uint64, weeks int) grown {
	t.Helper()
	db := pgtest.New(t)
	st := store.New(db.App, store.Options{})
	clock := &Clock{}
	o := service.Options{Store: st, Clock: clock.Now, IDs: IDs(seed, clock),
		Passwords: auth.NewPasswords(auth.PasswordOptions{Cost: auth.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}})}
	bulk := o
	bulk.Bulk = true
	done, err := Load(t.Context(), Options{Bulk: service.New(bulk), Service: service.New(o), Clock: clock, Now: now, Seed: seed, Weeks: weeks,
		Password: auth.GeneratePassword})
	if err != nil {
		t.Fatal(err)
	}
	after := o
	after.Clock, after.IDs = func() time.Time { return now }, nil
	return grown{done, service.New(after), t.Context()}
}

func (g grown) report(t *testing.T, key string) service.SeasonReport {
	t.Helper()
	r, err := g.svc.PrepareReport(g.ctx, g.Coordinator, g.Garden, service.ReportWish{Season: key}, service.Once{})
	if err != nil {
		t.Fatal(err)
	}
	return r.Value
}

func TestTenWeeksOfTheGardenHoldTogether(t *testing.T) {
	t.Parallel()
	g := grow(t, 7, 10)
	faults, err := g.svc.CheckLedger(g.ctx, g.Coordinator, g.Garden)
	if err != nil || len(faults) > 0 {
		t.Fatalf("%d faults, first %v; %v", len(faults), append(faults, store.LedgerFault{})[0], err)
	}
	for _, b := range g.bins {
		if miss := b.imbalance(); math.Abs(miss) > 1 {
			t.Errorf("%s: %.3f g of dry matter are missing", b.fact.name, miss)
		}
	}
	r := g.report(t, "2026-autumn").Report
	if err := r.Balance.Check(""); err != nil {
		t.Error(err)
	}
	if b := r.Balance; b.Fed < 50_000 || b.Received < b.Fed || b.Rejected == 0 || b.Overflow == 0 {
		t.Errorf("an autumn of %+v is no autumn of this garden", b)
	}
	t.Run("the plan is feasible and followed", func(t *testing.T) {
		p, err := g.svc.PublishedPlan(g.ctx, g.Coordinator, g.Garden)
		if err != nil {
			t.Fatal(err)
		}
		if s := p.Totals; s.Supply != s.Fed+s.Frozen+s.Overflow+s.Declined || s.Fed == 0 || p.Proof.Value < p.Proof.Bound {
			t.Errorf("totals %+v, proof %+v", s, p.Proof)
		}
		cited := 0
		for _, x := range p.Tasks {
			if x.DoneBy != uuid.Nil {
				cited++
			}
		}
		if cited == 0 {
			t.Error("no feeding cites a task of the published plan")
		}
	})
	t.Run("it prints whole tables", func(t *testing.T) {
		var out strings.Builder
		if err := Show(g.ctx, &out, g.svc, g.Coordinator, g.Garden); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"the bins today", "Big mouth", "flow through", "for 14 days, published", "proven bound", "binds: ", "The last seasons",
			"summer 2026", "diverted", "emissions avoided", "An estimate"} {
			if !strings.Contains(out.String(), want) {
				t.Errorf("nothing of %q in what is printed", want)
			}
		}
	})
}

func TestTheSameSeedGivesTheSameGrams(t *testing.T) {
	t.Parallel()
	books := func(seed uint64) map[string]measure.Grams {
		g := grow(t, seed, 5)
		out := map[string]measure.Grams{}
		for _, kind := range []ledger.AccountKind{ledger.Lot, ledger.Section, ledger.Bedding, ledger.Castings} {
			page := service.Page{Limit: 200}
			for {
				list, err := g.svc.Stock(g.ctx, g.Coordinator, g.Garden, measure.Day{}, kind, page)
				if err != nil {
					t.Fatal(err)
				}
				for _, x := range list.Items {
					out[fmt.Sprint(x.Account, x.Substance)] += x.Grams
				}
				if page.Cursor = list.Next; page.Cursor == "" {
					break
				}
			}
		}
		return out
	}
	one, same, other := books(3), books(3), books(4)
	if len(one) < 40 {
		t.Fatalf("only %d holdings", len(one))
	}
	for key, grams := range one {
		if same[key] != grams {
			t.Fatalf("%s: %d g, then %d g", key, grams, same[key])
		}
	}
	if len(one) != len(same) {
		t.Errorf("%d holdings, then %d", len(one), len(same))
	}
	equal := 0
	for key, grams := range one {
		if other[key] == grams {
			equal++
		}
	}
	if equal == len(one) {
		t.Error("another seed told the same story")
	}
}

func TestStoriesOfNoLengthAreRefused(t *testing.T) {
	t.Parallel()
	for _, weeks := range []int{-1, 0, LeastWeeks - 1, MostWeeks + 1} {
		if _, err := Load(t.Context(), Options{Weeks: weeks, Now: now}); err == nil {
			t.Errorf("%d weeks were told", weeks)
		}
	}
}
