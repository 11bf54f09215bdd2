package store_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/store"
)

// trips counts what is sent to the database.
type trips struct{ batches, singles atomic.Int64 }

func (c *trips) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	c.batches.Add(1)
	return ctx
}
func (c *trips) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (c *trips) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}
func (c *trips) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	c.singles.Add(1)
	return ctx
}
func (c *trips) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func counted(t testing.TB, db *pgtest.DB) (*store.Store, *trips) {
	t.Helper()
	cfg, err := pgxpool.ParseConfig(db.AppDSN)
	if err != nil {
		t.Fatal(err)
	}
	c := &trips{}
	cfg.MaxConns, cfg.ConnConfig.Tracer = 4, c
	pool, err := pgxpool.NewWithConfig(t.Context(), cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(pool.Close)
	return store.New(pool, store.Options{}), c
}

func TestAReadTakesOneRoundTripAndAWriteTwo(t *testing.T) {
	t.Parallel()
	p := setup(t)
	var c *trips
	p.s, c = counted(t, p.db)
	lot := ledger.LotAccount(id())
	p.must(p.post(p.entry(today, ledger.OutsideAccount(), lot, 100)))
	for what, n := range map[string]struct {
		want int64
		do   func()
	}{
		"a read": {1, func() { p.balance(peelIn(lot), today) }},
		"a write": {2, func() {
			p.must(p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
				earlier, stocks := tx.ClaimOnce("op", "key"), tx.LockStocks(today, lot)
				if err := tx.Flush(); err != nil {
					return err
				}
				if _, _, ok := tx.Actor(); !ok || earlier.Found || store.Find(stocks.Values, peelIn(lot)).Least(today) != 100 {
					t.Errorf("the first round trip must bring actor, earlier answer and stock; got %+v", stocks.Values)
				}
				e := p.entry(today, lot, ledger.SpoiledAccount(), 40)
				e.Cause.ID = id()
				return tx.Post(e)
			}))
		}},
	} {
		before := c.batches.Load() + c.singles.Load()
		n.do()
		if got := c.batches.Load() + c.singles.Load() - before; got != n.want {
			t.Errorf("%s: got %d round trips, want %d", what, got, n.want)
		}
	}
	if got := p.balance(peelIn(lot), today); got != 60 {
		t.Errorf("got %d g, want 60 g", got)
	}
}

func TestADeadlockIsTriedAgain(t *testing.T) {
	t.Parallel()
	p := setup(t)
	members := [2]farm.Member{}
	p.must(p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		for i := range members {
			members[i] = farm.Member{ID: id(), Role: farm.Donor, DisplayName: "Di Oak", Active: true, CreatedAt: noon}
			tx.InsertMember(members[i], [32]byte{})
		}
		return nil
	}))
	var first [2]sync.Once
	var both, wg sync.WaitGroup
	both.Add(2)
	var runs atomic.Int64
	for i := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			err := p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
				runs.Add(1)
				tx.LockMember(members[i].ID)
				if err := tx.Flush(); err != nil {
					return err
				}
				first[i].Do(func() { both.Done(); both.Wait() }) // each holds one row before it asks for the other
				tx.LockMember(members[1-i].ID)
				return tx.Flush()
			})
			if err != nil {
				t.Error(err)
			}
		}()
	}
	wg.Wait()
	if runs.Load() < 3 {
		t.Errorf("ran %d times; the two were to meet in a deadlock", runs.Load())
	}
}

func TestACancelledRequestLeavesNothingAndNoLock(t *testing.T) {
	t.Parallel()
	p := setup(t)
	ctx, cancel := context.WithCancel(t.Context())
	lot := ledger.LotAccount(id())
	err := p.s.InTx(ctx, p.scope, func(tx *store.Tx) error {
		tx.LockMember(p.member)
		if err := tx.Flush(); err != nil {
			return err
		}
		e := p.entry(today, ledger.OutsideAccount(), lot, 100)
		e.Cause.ID = id()
		cancel()
		return tx.Post(e)
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the cancellation", err)
	}
	// The same row can be locked again at once, and nothing was kept.
	p.must(p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		m := tx.LockMember(p.member)
		if err := tx.Flush(); err != nil {
			return err
		}
		if !m.Found {
			t.Error("the member is gone")
		}
		return nil
	}))
	if got := p.balance(peelIn(lot), measure.Day{}); got != 0 {
		t.Errorf("got %d g, want none", got)
	}
}

func TestUnknownErrorsStayFaultsOfOurs(t *testing.T) {
	t.Parallel()
	p := setup(t)
	err := p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		tx.InsertSite(farm.Site{ID: id(), Name: "", Kind: "shed", CreatedAt: noon}, [32]byte{})
		return nil
	})
	if err == nil || farm.AsError(err) != nil || sqlState(err) != "23514" {
		t.Errorf("got %v, want an unmapped check violation", err)
	}
}

func TestAJoinedTransactionKeepsItsScope(t *testing.T) {
	t.Parallel()
	p := setup(t)
	err := p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		return p.s.InTx(tx.Context(), store.Scope{Garden: id()}, func(*store.Tx) error { return nil })
	})
	if err == nil {
		t.Error("a joined transaction changed its garden")
	}
}

func TestACursorOfAnotherKeyOrListIsRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	one, two := store.New(p.db.App, store.Options{CursorKey: []byte("one")}), store.New(p.db.App, store.Options{CursorKey: []byte("two")})
	c := one.Cursor("lots", "a", "b")
	keys, err := one.ReadCursor("lots", c, 2)
	if err != nil || len(keys) != 2 || keys[0] != "a" || keys[1] != "b" {
		t.Errorf("got %v, %v", keys, err)
	}
	for name, read := range map[string]func() ([]string, error){
		"another key":  func() ([]string, error) { return two.ReadCursor("lots", c, 2) },
		"another list": func() ([]string, error) { return one.ReadCursor("sites", c, 2) },
		"other keys":   func() ([]string, error) { return one.ReadCursor("lots", c, 3) },
		"no cursor":    func() ([]string, error) { return one.ReadCursor("lots", "!", 2) },
		"cut short":    func() ([]string, error) { return one.ReadCursor("lots", c[:10], 2) },
	} {
		if _, err := read(); farm.CodeOf(err) != "cursor.invalid" {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// BenchmarkPost is one intake: an entry, two postings, stock and roll-ups.
func BenchmarkPost(b *testing.B) {
	p := setup(b)
	for b.Loop() {
		p.must(p.post(p.entry(today, ledger.HouseholdSource(p.household), ledger.LotAccount(id()), 100)))
	}
}
