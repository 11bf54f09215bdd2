package store_test

import (
	"testing"

	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

func TestRollUpsTellWhoBroughtHowMuchAndHowSurely(t *testing.T) {
	t.Parallel()
	p := setup(t)
	giver := ledger.HouseholdSource(p.household)
	brought := func(on measure.Day, g measure.Grams, how ledger.Method, permille int) ledger.Entry {
		e := p.entry(on, giver, ledger.LotAccount(id()), g)
		for i := range e.Postings {
			e.Postings[i].Method, e.Postings[i].RelSDPermille = how, permille
		}
		return e
	}
	mistake := brought(today, 9000, ledger.Weighed, 5)
	p.must(p.post(brought(today, 1000, ledger.Weighed, 5), mistake, brought(today, 2000, ledger.Container, 150)))
	p.must(p.post(brought(today, 500, ledger.Estimate, 300), brought(today.Add(1), 40, ledger.Weighed, 5)))
	back, err := ledger.Reverse(mistake, ledger.Reversal{ID: id(), OccurredAt: noon, RecordedAt: noon, Actor: p.member})
	p.must(err)
	p.must(p.post(back))
	var got *store.Rows[ledger.KeyedTotal]
	p.must(p.s.Read(t.Context(), p.scope, func(b *store.Batch) {
		got = b.Totals(measure.DayRange{Start: today, End: today.Add(1)}, ledger.Source)
	}))
	if len(got.Values) != 1 {
		t.Fatalf("got %d rows, want one for the day, site, household and material", len(got.Values))
	}
	row := got.Values[0]
	want := ledger.Total{Out: 3500, Weighed: 1000, Container: 2000, Estimate: 500, Records: 3,
		// 1000·5 + 2000·150 + 500·300, and 5000² + 300000² + 150000².
		SDLinear: 455_000, SDSquare: "112525000000"}
	if row.Total != want || row.Site != p.site || row.Account != giver || row.Substance != ledger.Scraps("peel") {
		t.Errorf("got %+v, want %+v", row, want)
	}
	p.must(p.s.Read(t.Context(), p.scope, func(b *store.Batch) {
		got = b.Totals(measure.DayRange{Start: today, End: today.Add(9)})
	}))
	if len(got.Values) != 2 {
		t.Errorf("got %d rows, want no roll-ups of single lots", len(got.Values))
	}
}

func TestAStoreOpensOnlyWhatAnswers(t *testing.T) {
	t.Parallel()
	p := setup(t)
	s, err := store.Open(t.Context(), p.db.AppDSN, store.Options{MaxConns: 2})
	p.must(err)
	ids, err := s.GardenIDs(t.Context())
	s.Close()
	if err != nil || len(ids) != 1 {
		t.Errorf("got %v, %v", ids, err)
	}
	if _, err := store.Open(t.Context(), "postgres://nobody@127.0.0.1:1/none?connect_timeout=1", store.Options{}); err == nil {
		t.Error("a database that is not there was opened")
	}
	if _, err := store.Open(t.Context(), "::", store.Options{}); err == nil {
		t.Error("an address that is none was taken")
	}
}
