package store_test

import (
	"context"
	"flag"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/store"
)

func TestMain(m *testing.M) {
	// Each check plays dozens of transactions; the command line may ask for more.
	if err := flag.Set("rapid.checks", "40"); err != nil {
		panic(err)
	}
	pgtest.Main(m)
}

// noon is the test's instant; its garden's day is 2026-05-10.
var noon = time.Date(2026, 5, 10, 12, 0, 0, 0, time.UTC)

var today = measure.MustDay("2026-05-10")

// plot is one garden with a coordinator, a household and a site, and a store to it.
type plot struct {
	t         testing.TB
	db        *pgtest.DB
	s         *store.Store
	scope     store.Scope
	member    uuid.UUID
	household uuid.UUID
	site      uuid.UUID
}

func setup(t testing.TB) *plot {
	t.Helper()
	db := pgtest.New(t)
	return makePlot(t, db, store.New(db.App, store.Options{}))
}

func makePlot(t testing.TB, db *pgtest.DB, s *store.Store) *plot {
	t.Helper()
	p := &plot{t: t, db: db, s: s, member: id(), household: id(), site: id(),
		scope: store.Scope{Garden: id(), Account: id()}}
	p.must(p.s.InTx(t.Context(), p.scope, func(tx *store.Tx) error {
		tx.InsertAccount(farm.Account{ID: p.scope.Account, Email: p.scope.Account.String() + "@example.org",
			DisplayName: "Ada Fern", PasswordHash: "x", CreatedAt: noon})
		g := farm.Garden{ID: p.scope.Garden, Name: "Alder Lane", TimeZone: "Europe/Lisbon", Hemisphere: farm.North,
			Units: measure.Metric, Settings: farm.DefaultSettings(), CreatedAt: noon}
		if err := tx.InsertGarden(g, [32]byte{}); err != nil {
			return err
		}
		tx.InsertMember(farm.Member{ID: p.member, AccountID: p.scope.Account, Role: farm.Coordinator,
			DisplayName: "Ada Fern", Active: true, CreatedAt: noon}, [32]byte{})
		tx.InsertHousehold(farm.Household{ID: p.household, Name: "Plot twelve", Baseline: farm.BaselineLandfill, CreatedAt: noon}, [32]byte{})
		tx.InsertSite(farm.Site{ID: p.site, Name: "Shed", Kind: farm.Shed, Active: true, CreatedAt: noon}, [32]byte{})
		return nil
	}))
	return p
}

func id() uuid.UUID { return uuid.Must(uuid.NewV7()) }

func (p *plot) must(err error) {
	p.t.Helper()
	if err != nil {
		p.t.Fatal(err)
	}
}

// entry moves grams of peel from one account to another.
func (p *plot) entry(on measure.Day, from, to ledger.Account, grams measure.Grams) ledger.Entry {
	return p.entryOf(ledger.Scraps("peel"), on, from, to, grams)
}

func (p *plot) entryOf(s ledger.Substance, on measure.Day, from, to ledger.Account, grams measure.Grams) ledger.Entry {
	return ledger.Entry{
		Garden: p.scope.Garden, ID: id(), Kind: "moved", EffectiveOn: on, OccurredAt: noon, RecordedAt: noon,
		Actor: p.member, Cause: ledger.Cause{Kind: "lot", ID: to.ID},
		Postings: []ledger.Posting{
			{Account: from, Substance: s, Grams: -grams, Method: ledger.Weighed, RelSDPermille: 5, Site: p.site},
			{Account: to, Substance: s, Grams: grams, Method: ledger.Weighed, RelSDPermille: 5, Site: p.site},
		},
	}
}

func (p *plot) post(entries ...ledger.Entry) error {
	for i := range entries {
		if entries[i].Cause.ID == uuid.Nil {
			entries[i].Cause.ID = id()
		}
	}
	return p.s.InTx(p.t.Context(), p.scope, func(tx *store.Tx) error { return tx.Post(entries...) })
}

func (p *plot) balance(h ledger.Holding, on measure.Day) measure.Grams {
	p.t.Helper()
	var got *store.Row[int64]
	p.must(p.s.Read(p.t.Context(), p.scope, func(b *store.Batch) { got = b.Balance(h, on) }))
	return measure.Grams(got.Value)
}

// asOwner runs SQL as the owner inside the garden, as damage would be done.
func (p *plot) asOwner(sql string, args ...any) error {
	p.t.Helper()
	ctx := context.Background()
	return pgx.BeginFunc(ctx, p.db.Owner, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT set_config('midden.garden_id', $1, true)`, p.scope.Garden.String()); err != nil {
			return err
		}
		_, err := tx.Exec(ctx, sql, args...)
		return err
	})
}

func wantCode(t testing.TB, err error, code farm.Code) {
	t.Helper()
	if got := farm.CodeOf(err); got != code {
		t.Fatalf("got %v, want code %s", err, code)
	}
}
