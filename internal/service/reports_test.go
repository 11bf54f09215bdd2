package service_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/season"
	"midden/internal/service"
	"midden/internal/store"
)

func (p *plot) prepare(key string) season.Report {
	p.t.Helper()
	done, err := p.svc.PrepareReport(p.t.Context(), p.founder, p.garden, service.ReportWish{Season: key}, service.Once{})
	p.must(err)
	return done.Value.Report
}

func TestTwoWhoPrepareAtOnceGetARevisionEach(t *testing.T) {
	t.Parallel()
	p := setup(t)
	p.takeIn(kg("4.2"))
	const people = 4
	got := make([]service.SeasonReport, people)
	errs := make([]error, people)
	var wg sync.WaitGroup
	for i := range people {
		wg.Add(1)
		go func() {
			defer wg.Done()
			done, err := p.svc.PrepareReport(t.Context(), p.founder, p.garden, service.ReportWish{Season: "2026-spring"}, service.Once{})
			got[i], errs[i] = done.Value, err
		}()
	}
	wg.Wait()
	revisions := map[int]bool{}
	for i := range people {
		p.must(errs[i])
		revisions[got[i].Kept.Revision] = true
		kept, err := p.svc.Report(t.Context(), p.founder, p.garden, got[i].Kept.ID)
		p.must(err)
		if kept.Report.Header.Revision != kept.Kept.Revision || kept.Report.Balance.Received != 4200 {
			t.Errorf("kept %+v", kept.Report.Header)
		}
	}
	if want := []int{1, 2, 3, 4}; !slices.Equal(slices.Sorted(maps.Keys(revisions)), want) {
		t.Errorf("revisions %v, want %v", revisions, want)
	}
}

func TestAReportCannotBeChangedInTheDatabase(t *testing.T) {
	t.Parallel()
	p := setup(t)
	p.prepare("2026-spring")
	for _, sql := range []string{`UPDATE midden.season_reports SET revision = 7`, `DELETE FROM midden.season_reports`, `TRUNCATE midden.season_reports`} {
		if _, err := p.db.Owner.Exec(t.Context(), sql); err == nil {
			t.Errorf("%s went through", sql)
		}
	}
}

func TestATotalThatDoesNotComeOutStopsTheReport(t *testing.T) {
	t.Parallel()
	p := setup(t)
	p.takeIn(kg("4.2"))
	// A gram goes missing from the day's roll-up.
	tx, err := p.db.Owner.Begin(t.Context())
	p.must(err)
	_, err = tx.Exec(t.Context(), `SELECT set_config('midden.garden_id', $1, true)`, p.garden.String())
	p.must(err)
	_, err = tx.Exec(t.Context(), `UPDATE midden.day_totals SET out_g = out_g - 1, weighed_g = weighed_g - 1 WHERE account_kind = 'source'`)
	p.must(err)
	p.must(tx.Commit(t.Context()))
	_, err = p.svc.PrepareReport(t.Context(), p.founder, p.garden, service.ReportWish{Season: "2026-spring"}, service.Once{})
	wantCode(t, err, "report.unbalanced")
	if want := "a difference of -1 g"; !strings.Contains(fmt.Sprint(err), want) {
		t.Errorf("got %v, want %q", err, want)
	}
}

// history is a garden that anything may happen to, from February to April.
type history struct {
	*plot
	t      *rapid.T
	garden uuid.UUID
	site   uuid.UUID
	house  uuid.UUID
	heap   uuid.UUID
	bin    uuid.UUID
	face   uuid.UUID
	lots   []uuid.UUID
}

func (p *plot) history(t *rapid.T) *history {
	h := &history{plot: p, t: t}
	ctx, none := p.t.Context(), service.Once{}
	g, err := p.svc.CreateGarden(ctx, p.founder, service.GardenNew{Name: "Alder Lane", TimeZone: "Europe/Lisbon", Hemisphere: farm.North, Units: measure.Metric}, none)
	p.must(err)
	h.garden = g.Value.ID
	site, err := p.svc.CreateSite(ctx, p.founder, h.garden, farm.Site{Name: "Shed", Kind: farm.Shed}, none)
	p.must(err)
	house, err := p.svc.CreateHousehold(ctx, p.founder, h.garden, farm.Household{Name: "Rowan"}, none)
	p.must(err)
	heap, err := p.svc.CreateOverflowPlace(ctx, p.founder, h.garden, farm.OverflowPlace{Name: "Heap", Kind: farm.HotHeap}, none)
	p.must(err)
	h.site, h.house, h.heap = site.Value.ID, house.Value.ID, heap.Value.ID
	bin, err := p.svc.CreateBin(ctx, p.founder, h.garden, farm.Bin{Name: "Box", SiteID: h.site, Method: farm.Batch, Species: farm.Eisenia, Status: farm.BinInUse,
		Ventilation: farm.AirHoles, Shape: farm.Shape{Kind: farm.Box, LengthMM: 1000, WidthMM: 500, DepthMM: 400}}, none)
	p.must(err)
	h.bin = bin.Value.ID
	story, err := p.svc.Sections(ctx, p.founder, h.garden, h.bin, service.Page{})
	p.must(err)
	h.face = story.Items[0].ID
	return h
}

// amount is up to 20 kg, in one of the three ways.
func (h *history) amount() farm.Entered {
	grams := fmt.Sprint(rapid.IntRange(1, 20_000).Draw(h.t, "grams"))
	switch rapid.IntRange(0, 2).Draw(h.t, "method") {
	case 0:
		return farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: grams, Unit: measure.Gram}}
	case 1:
		return farm.Entered{Method: farm.ByEstimate, Gross: measure.Quantity{Value: grams, Unit: measure.Gram}}
	}
	return farm.Entered{Method: farm.ByContainer, Each: measure.Quantity{Value: "7.3", Unit: measure.Litre},
		Count: rapid.IntRange(1, 3).Draw(h.t, "buckets"), FillPct: rapid.IntRange(20, 100).Draw(h.t, "fill")}
}

// something happens, on any day and in any order; what a rule refuses did not
// happen.
func (h *history) something() {
	ctx, none := h.plot.t.Context(), service.Once{}
	at := time.Date(2026, 2, 10, rapid.IntRange(0, 23).Draw(h.t, "hour"), 30, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 80).Draw(h.t, "day"))
	var lot uuid.UUID
	if len(h.lots) > 0 {
		lot = rapid.SampledFrom(h.lots).Draw(h.t, "lot")
	}
	var part *farm.Entered
	if rapid.Bool().Draw(h.t, "in part") {
		e := h.amount()
		part = &e
	}
	var err error
	switch rapid.SampledFrom([]string{"take", "take", "judge", "spoil", "overflow", "reweigh", "feed", "remove", "reverse"}).Draw(h.t, "what") {
	case "take":
		in := service.Intake{OccurredAt: at, Material: rapid.SampledFrom([]string{"apples", "bread", "tomatoes"}).Draw(h.t, "material"), Mass: h.amount(),
			SiteID: h.site, Status: rapid.SampledFrom([]farm.LotStatus{farm.LotReceived, farm.LotAccepted}).Draw(h.t, "verdict")}
		if rapid.Bool().Draw(h.t, "known") {
			in.HouseholdID = h.house
		}
		var done service.Done[store.LotOnHand]
		if done, err = h.svc.TakeIn(ctx, h.founder, h.garden, in, none); err == nil {
			h.lots = append(h.lots, done.Value.ID)
		}
	case "judge":
		v := service.Verdict{Status: farm.LotRejected, Reason: "Glass.", OccurredAt: at}
		if part != nil {
			v = service.Verdict{Status: farm.LotSorted, SortedOut: part, OccurredAt: at}
		}
		_, err = h.svc.JudgeLot(ctx, h.founder, h.garden, lot, v, none)
	case "spoil":
		to := rapid.SampledFrom([]farm.SpoiledTo{farm.ToLandfill, farm.ToElsewhere}).Draw(h.t, "to")
		_, err = h.svc.SpoilLot(ctx, h.founder, h.garden, lot, service.Spoilage{To: to, Part: part, OccurredAt: at}, none)
	case "overflow":
		_, err = h.svc.OverflowLot(ctx, h.founder, h.garden, lot, service.ToOverflow{PlaceID: h.heap, Part: part, OccurredAt: at}, none)
	case "reweigh":
		_, err = h.svc.ReweighLot(ctx, h.founder, h.garden, lot, service.Reweighing{Mass: h.amount(), OccurredAt: at}, none)
	case "feed":
		_, err = h.svc.Feed(ctx, h.founder, h.garden, service.FeedIn{OccurredAt: at, BinID: h.bin, SectionID: h.face, Lots: []service.PartOf{{ID: lot, Amount: part}}}, none)
	case "remove":
		out := h.amount()
		_, err = h.svc.RecordCare(ctx, h.founder, h.garden, farm.CareEvent{BinID: h.bin, SectionID: h.face, Kind: farm.FoodRemoved, OccurredAt: at,
			Material: rapid.SampledFrom([]string{"apples", "bread"}).Draw(h.t, "food"), To: farm.RemovedToLandfill, Entered: &out}, none)
	case "reverse":
		list := h.entries()
		if len(list) > 0 {
			_, err = h.svc.ReverseEntry(ctx, h.founder, h.garden, rapid.SampledFrom(list).Draw(h.t, "entry").ID, service.Undo{Reason: "A slip."}, none)
		}
	}
	if err != nil && farm.AsError(err) == nil {
		h.t.Fatal(err)
	}
}

func (h *history) entries() (out []store.Recorded) {
	for cursor := ""; ; {
		list, err := h.svc.Entries(h.plot.t.Context(), h.founder, h.garden, store.EntryFilter{}, service.Page{Limit: 200, Cursor: cursor})
		if err != nil {
			h.t.Fatal(err)
		}
		out = append(out, list.Items...)
		if cursor = list.Next; cursor == "" {
			return out
		}
	}
}

// summed is a season's balance the plain way: posting by posting.
func (h *history) summed(days measure.DayRange) (b season.Balance) {
	for _, e := range h.entries() {
		for _, p := range e.Postings {
			if p.Substance.Class() != ledger.ScrapClass {
				continue
			}
			if p.Account.Kind == ledger.Lot && e.EffectiveOn.Before(days.Start) {
				b.OnHandStart += p.Grams
			}
			if p.Account.Kind == ledger.Lot && e.EffectiveOn.Before(days.End) {
				b.OnHandEnd += p.Grams
			}
			if !days.Contains(e.EffectiveOn) {
				continue
			}
			switch {
			case p.Account.Kind == ledger.Source:
				b.Received -= p.Grams
			case p.Account.Kind == ledger.Rejected:
				b.Rejected += p.Grams
			case p.Account.Kind == ledger.Section && e.Kind == ledger.KindFeeding:
				b.Fed += p.Grams
			case p.Account.Kind == ledger.Section && e.Kind == ledger.KindRemovalLandfill:
				b.BinToLandfill -= p.Grams
			case p.Account.Kind == ledger.Overflow && e.Kind == ledger.KindOverflow:
				b.Overflow += p.Grams
			case e.Kind == ledger.KindSpoilageLandfill && p.Account.Kind == ledger.Spoiled:
				b.SpoiledLandfill += p.Grams
			case e.Kind == ledger.KindSpoilageElsewhere && p.Account.Kind == ledger.Spoiled:
				b.SpoiledElsewhere += p.Grams
			case p.Account.Kind == ledger.Water:
				b.WaterLoss += p.Grams // less what was gained
			}
		}
	}
	b.Accepted = b.Received - b.Rejected
	b.Diverted = b.Accepted - b.SpoiledLandfill - b.BinToLandfill
	return b
}

func TestWhateverHappensAReportIsTheSumOfItsEntries(t *testing.T) {
	t.Parallel()
	p := setup(t)
	rapid.Check(t, func(rt *rapid.T) {
		h := p.history(rt)
		for range rapid.IntRange(1, 9).Draw(rt, "events") {
			h.something()
		}
		for _, key := range []string{"2025-26-winter", "2026-spring"} {
			done, err := p.svc.PrepareReport(t.Context(), p.founder, h.garden, service.ReportWish{Season: key}, service.Once{})
			if err != nil {
				rt.Fatal(err)
			}
			got, want := done.Value.Report.Balance, h.summed(done.Value.Kept.Season.DayRange)
			got.WaterLoss, got.WaterGain = got.WaterLoss-got.WaterGain, 0
			if got != want {
				rt.Fatalf("%s: got %+v, want %+v", key, got, want)
			}
			if _, err := season.Open(done.Value.Kept.Canonical, done.Value.Kept.SHA256); err != nil {
				rt.Fatal(err)
			}
		}
	})
}
