package service_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

func TestAWeighedLotIsGrossLessTare(t *testing.T) {
	t.Parallel()
	p := setup(t)
	mass := kg("12.5")
	mass.Tare = measure.Quantity{Value: "2", Unit: measure.Pound}
	lot := p.takeIn(mass)
	// 2 lb = 907.18474 g (NIST Handbook 44, Appendix C).
	if lot.Weight.Net != 12500-907 || lot.OnHand != lot.Weight.Net || lot.Weight.RelSDPermille != 5 {
		t.Errorf("got %+v", lot.Weight)
	}
	story, err := p.svc.Lot(t.Context(), p.founder, p.garden, lot.ID)
	p.must(err)
	if story.Entered.Gross.Value != "12.5" || story.Entered.Tare.Unit != measure.Pound {
		t.Errorf("what was entered must be kept; got %+v", story.Entered)
	}
	if len(story.Entries) != 1 || story.Entries[0].ID != lot.EntryID || len(story.Places) != 1 {
		t.Errorf("got %d entries and %d places", len(story.Entries), len(story.Places))
	}
	p.sound()
}

func TestAContainerLotIsVolumeTimesFillTimesDensity(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(farm.Entered{Method: farm.ByContainer, Count: 3, FillPct: 50, DensityGPerL: 600,
		Each: measure.Quantity{Value: "5", Unit: measure.GallonUS}})
	// 5 US gal = 18.92705892 L, taken as 18,927 mL; × 3 × 0.5 × 600 g/L = 17,034.3 g.
	if lot.Weight.Net != 17034 || lot.Weight.ContainerML != 18927 {
		t.Errorf("got %+v", lot.Weight)
	}
}

func TestMassesOutOfBoundsAreRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	for name, mass := range map[string]farm.Entered{
		"nothing":            kg("0"),
		"less than a gram":   kg("0.0004"),
		"over two tonnes":    kg("2000.001"),
		"tare above gross":   {Method: farm.ByScale, Gross: kg("1").Gross, Tare: kg("2").Gross},
		"a volume on scales": {Method: farm.ByScale, Gross: measure.Quantity{Value: "3", Unit: measure.Litre}},
		"no method":          {Gross: kg("1").Gross},
		"overfull":           {Method: farm.ByContainer, Count: 1, FillPct: 101, DensityGPerL: 600, Each: measure.Quantity{Value: "20", Unit: measure.Litre}},
	} {
		_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, p.intake(mass), service.Once{})
		if got := farm.CodeOf(err); got != "mass.invalid" {
			t.Errorf("%s: got %v", name, err)
		}
	}
	p.takeIn(kg("2000"))
	p.takeIn(kg("0.001"))
}

func TestALotTurnedAwayAtTheTableHoldsNothing(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(kg("4"))
	in.Status, in.Reason = farm.LotRejected, "Glass in the bucket."
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	if p.onHand(done.Value.ID) != 0 {
		t.Error("a rejected lot must hold nothing")
	}
	_, err = p.svc.SpoilLot(t.Context(), p.founder, p.garden, done.Value.ID, service.Spoilage{To: farm.ToLandfill}, service.Once{})
	wantCode(t, err, "lot.rejected")
	in.Reason = ""
	_, err = p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "lot.invalid")
	p.sound()
}

func TestALotIsJudgedOnce(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := p.intake(kg("4"))
	in.Status = farm.LotReceived
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	out := kg("0.3")
	judged, err := p.svc.JudgeLot(t.Context(), p.founder, p.garden, done.Value.ID,
		service.Verdict{Status: farm.LotSorted, SortedOut: &out}, service.Once{})
	p.must(err)
	if judged.Value.Status != farm.LotSorted || p.onHand(done.Value.ID) != 3700 {
		t.Errorf("got %s with %d g", judged.Value.Status, p.onHand(done.Value.ID))
	}
	_, err = p.svc.JudgeLot(t.Context(), p.founder, p.garden, done.Value.ID,
		service.Verdict{Status: farm.LotRejected, Reason: "late"}, service.Once{})
	wantCode(t, err, "lot.judged")
	p.sound()
}

func TestFreezingAPartMakesALotOfItsOwn(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(kg("5"))
	part := kg("3")
	in := service.Storage{Place: farm.Freezer, Part: &part, PartID: uuid.Must(uuid.NewV7())}
	child, err := p.svc.StoreLot(t.Context(), p.founder, p.garden, lot.ID, in, service.Once{})
	p.must(err)
	same, err := p.svc.StoreLot(t.Context(), p.founder, p.garden, lot.ID, in, service.Once{})
	p.must(err)
	if child.Value.ID != in.PartID || same.Value.ID != in.PartID || child.Value.ParentID != lot.ID {
		t.Errorf("got %+v", child.Value)
	}
	if p.onHand(lot.ID) != 2000 || p.onHand(in.PartID) != 3000 {
		t.Errorf("got %d g and %d g, want 2000 and 3000", p.onHand(lot.ID), p.onHand(in.PartID))
	}
	tooMuch := kg("2.001")
	_, err = p.svc.StoreLot(t.Context(), p.founder, p.garden, lot.ID, service.Storage{Place: farm.Fridge, Part: &tooMuch}, service.Once{})
	wantCode(t, err, "lot.empty")
	moved, err := p.svc.StoreLot(t.Context(), p.founder, p.garden, lot.ID, service.Storage{Place: farm.Fridge}, service.Once{})
	p.must(err)
	if moved.Value.Place != farm.Fridge || moved.Value.OnHand != 2000 {
		t.Errorf("got %+v", moved.Value)
	}
	p.sound()
}

func TestWhatLeavesALotIsBookedWhereItWent(t *testing.T) {
	t.Parallel()
	p := setup(t)
	place, err := p.svc.CreateOverflowPlace(t.Context(), p.founder, p.garden, farm.OverflowPlace{Name: "Hot heap", Kind: farm.HotHeap}, service.Once{})
	p.must(err)
	lot := p.takeIn(kg("10"))
	two, one := kg("2"), kg("1")
	_, err = p.svc.OverflowLot(t.Context(), p.founder, p.garden, lot.ID, service.ToOverflow{PlaceID: place.Value.ID, Part: &two}, service.Once{})
	p.must(err)
	_, err = p.svc.SpoilLot(t.Context(), p.founder, p.garden, lot.ID, service.Spoilage{To: farm.ToLandfill, Part: &one}, service.Once{})
	p.must(err)
	weighed, err := p.svc.ReweighLot(t.Context(), p.founder, p.garden, lot.ID, service.Reweighing{Cause: farm.Drained, Mass: kg("6.4")}, service.Once{})
	p.must(err)
	if weighed.Value.OnHand != 6400 {
		t.Errorf("got %d g after weighing again, want 6400", weighed.Value.OnHand)
	}
	_, err = p.svc.SpoilLot(t.Context(), p.founder, p.garden, lot.ID, service.Spoilage{To: farm.ToElsewhere}, service.Once{})
	p.must(err)
	s := ledger.Scraps(lot.Material)
	for account, want := range map[ledger.Account]measure.Grams{
		ledger.LotAccount(lot.ID):              0,
		ledger.OverflowAccount(place.Value.ID): 2000,
		ledger.SpoiledAccount():                7400,
		ledger.WaterAccount(lot.ID):            600,
		ledger.HouseholdSource(p.household):    -10000,
	} {
		var got *store.Row[int64]
		p.must(p.store.Read(t.Context(), store.Scope{Garden: p.garden}, func(b *store.Batch) {
			got = b.Balance(ledger.Holding{Account: account, Substance: s}, measure.Day{})
		}))
		if measure.Grams(got.Value) != want {
			t.Errorf("%s: got %d g, want %d g", account, got.Value, want)
		}
	}
	_, err = p.svc.SpoilLot(t.Context(), p.founder, p.garden, lot.ID, service.Spoilage{To: farm.ToElsewhere}, service.Once{})
	wantCode(t, err, "lot.empty")
	p.sound()
}

func TestBackdatingStaysInsideTheOpenPeriod(t *testing.T) {
	t.Parallel()
	p := setup(t)
	g, _, err := p.svc.Garden(t.Context(), p.founder, p.garden)
	p.must(err)
	_, err = p.svc.UpdateGarden(t.Context(), p.founder, p.garden, g.Version, func(g *farm.Garden) {
		g.Settings.OpenFrom = measure.MustDay("2026-05-01")
	})
	p.must(err)
	in := p.intake(kg("1"))
	// 23:30 UTC on 30 April is already 1 May in Lisbon in summer.
	in.OccurredAt = time.Date(2026, 4, 30, 23, 30, 0, 0, time.UTC)
	done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	if done.Value.ReceivedOn != measure.MustDay("2026-05-01") {
		t.Errorf("got %s, want the garden's day", done.Value.ReceivedOn)
	}
	in.OccurredAt = in.OccurredAt.Add(-time.Hour)
	_, err = p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "day.closed")
	in.OccurredAt = p.clock().Add(time.Hour)
	_, err = p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "day.future")
}

func TestListsOfLotsGoOnWhereTheyStopped(t *testing.T) {
	t.Parallel()
	p := setup(t)
	for range 7 {
		p.takeIn(kg("1"))
		p.later(time.Minute)
	}
	seen := map[uuid.UUID]bool{}
	page := store.Page{Limit: 3}
	for n := 0; ; n++ {
		l, err := p.svc.Lots(t.Context(), p.founder, p.garden, store.LotFilter{OnHand: true}, page)
		p.must(err)
		for _, x := range l.Items {
			if seen[x.ID] {
				t.Fatalf("lot %s came twice", x.ID)
			}
			seen[x.ID] = true
		}
		if l.Next == "" {
			if n != 2 || len(seen) != 7 {
				t.Errorf("got %d lots on %d pages, want 7 on 3", len(seen), n+1)
			}
			break
		}
		page.Cursor = l.Next
		// The cursor is the list's own: another filter can't use it.
		_, err = p.svc.Lots(t.Context(), p.founder, p.garden, store.LotFilter{}, page)
		wantCode(t, err, "cursor.invalid")
	}
	none, err := p.svc.Lots(t.Context(), p.founder, p.garden, store.LotFilter{Place: farm.Freezer}, store.Page{})
	p.must(err)
	if len(none.Items) != 0 {
		t.Errorf("got %d frozen lots, want none", len(none.Items))
	}
}
