package vermi

import (
	"math"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"pgregory.net/rapid"
)

// Spreads of worm masses, in per mille.
var weighed, sampled = farm.WormsWeighed.RelSDPermille(), farm.WormsSampled.RelSDPermille()

func TestLifeHistoryAgreesWithThePublishedTable(t *testing.T) {
	t.Parallel()
	// Species table of Eisenia fetida: 3.8 cocoons a week, 83.2 % hatch, 3.3
	// hatchlings: 10.4 young per adult and week.
	near(t, "young", YoungPerAdultWeek(CocoonsPerAdultWeek, HatchShare, HatchlingsPerCocoon), 10.4, 0.05)
	// Same table: hatching 32-73 d, growth 53-76 d: 85-149 d.
	lo, hi := EggToMaturityDays(32, 73, 53, 76)
	if lo != 85 || hi != 149 {
		t.Errorf("egg to maturity %d-%d d, want 85-149", lo, hi)
	}
}

func TestPublishedDensitiesLieInTheCapacityBand(t *testing.T) {
	t.Parallel()
	kgM2PerLbFt2 := 0.45359237 / (0.3048 * 0.3048)
	// Ndegwa, Thompson and Das 2000: 1.60 kg/m² is 0.33 lb/ft².
	near(t, "Ndegwa", bestDensityKgPerM2/kgM2PerLbFt2, 0.33, 0.005)
	// Sherman (NC State): 1 lb/ft² is 4.88 kg/m².
	near(t, "Sherman", kgM2PerLbFt2, 4.882, 0.005)
	// Neuhauser, Hartenstein and Kaplan 1980: 6 g over 78 cm² of horse manure,
	// more than 23 g over 78 cm² of activated sludge.
	manure, sludge := 6.0/78*10, 23.0/78*10
	near(t, "manure", manure, 0.769, 0.005)
	near(t, "sludge", sludge, 2.949, 0.005)
	for _, d := range []float64{manure, sludge, bestDensityKgPerM2, kgM2PerLbFt2} {
		if d < CapacityLowKgPerM2*0.95 || d > CapacityHighKgPerM2 {
			t.Errorf("%g kg/m² is outside the band", d)
		}
	}
}

func TestAStockInGoodConditionsDoublesInTwoToThreeMonths(t *testing.T) {
	t.Parallel()
	// Natural Farmer (NOFA): 2-3 months; Munroe, OACC manual (from memory):
	// 60-90 d.
	w, days := 100.0, 0
	for w < 200 {
		w = LogisticStep(w, GrowthRate(nil, 20, 1), 1e9)
		days++
	}
	if days < 60 || days > 90 {
		t.Errorf("doubled in %d days", days)
	}
	near(t, "at capacity", LogisticStep(500, 0.01, 500), 500, 1e-9)
	if LogisticStep(600, 0.01, 500) >= 600 {
		t.Error("a stock above capacity shrinks")
	}
	near(t, "frozen", GrowthRate(nil, 0, 1), 0, 0)
}

func box() farm.Shape {
	return farm.Shape{Kind: farm.Box, LengthMM: 1100, WidthMM: 600, DepthMM: 400}
}

func day(n int) Day { return DayOf(2025, 3, 1) + Day(n) }

func plainBin() Bin {
	return Bin{Shape: box(), Method: farm.Batch, Status: farm.BinInUse, Drained: true,
		Species: []SpeciesShare{{farm.Eisenia, 1}}, SetUpOn: day(-200)}
}

func TestWeighingNarrowsTheStock(t *testing.T) {
	t.Parallel()
	r := Record{AsOf: day(60), Bin: plainBin(), Transfers: []Transfer{{day(-190), 1000, sampled}}}
	for n := -190; n <= 60; n += 7 {
		r.Feedings = append(r.Feedings, Feeding{On: day(n), Food: []Food{{"vegetable_trimmings", 1500}}})
	}
	before := Estimate(r).Worms
	r.Weighings = []WormWeighing{{day(58), 1800, weighed}}
	after := Estimate(r).Worms
	if (after.P95-after.P05)/after.Mean >= (before.P95-before.P05)/before.Mean {
		t.Errorf("a weighing must narrow: %+v then %+v", before, after)
	}
	near(t, "near the weighing", after.Mean, 1800, 250)
	if after.P05 > 1800 || after.P95 < 1800 {
		t.Errorf("the weighing lies outside its own 90 %%: %+v", after)
	}
}

func TestCapacityIsLearnedFromWeighings(t *testing.T) {
	t.Parallel()
	history := func(end measure.Grams) Record {
		r := Record{AsOf: day(300), Bin: plainBin(), Transfers: []Transfer{{day(-150), 600, weighed}}}
		for n := -150; n <= 300; n += 7 {
			r.Feedings = append(r.Feedings, Feeding{On: day(n), Food: []Food{{"vegetable_trimmings", 2000}}})
		}
		r.Weighings = []WormWeighing{{day(200), end, weighed}, {day(290), end, weighed}}
		return r
	}
	small, large := Estimate(history(600)).CapacityG, Estimate(history(2400)).CapacityG
	if small >= large {
		t.Errorf("a stock that stays small tells of little room: %g g against %g g", small, large)
	}
}

func TestMoreWormsComeOutAsMoreWorms(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		g := measure.Grams(rapid.IntRange(10, 5000).Draw(t, "g"))
		more := g + measure.Grams(rapid.IntRange(0, 5000).Draw(t, "more"))
		at := func(g measure.Grams) float64 {
			return Estimate(Record{AsOf: day(40), Bin: plainBin(), Transfers: []Transfer{{day(0), g, weighed}}}).Worms.Mean
		}
		if a, b := at(g), at(more); a > b+1e-6 || math.IsNaN(a) {
			t.Fatalf("%d g became %g g, %d g became %g g", g, a, more, b)
		}
	})
}
