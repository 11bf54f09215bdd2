package vermi

import (
	"math"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"pgregory.net/rapid"
)

func TestFoodIsEatenOrDecaysAndNeverGoesNegative(t *testing.T) {
	t.Parallel()
	all := scraps()
	rapid.Check(t, func(t *rapid.T) {
		rec, _ := (&Record{AsOf: day(0)}).prepared()
		var l larder
		var in, out float64
		for n := range rapid.IntRange(1, 40).Draw(t, "days") {
			if rapid.Bool().Draw(t, "fed") {
				g := measure.Grams(rapid.IntRange(0, 5000).Draw(t, "g"))
				l.add(&rec, Feeding{On: day(n), Food: []Food{{rapid.SampledFrom(all).Draw(t, "food").Key, g}}})
				in += float64(g)
			}
			want := rapid.Float64Range(0, 3000).Draw(t, "appetite")
			eaten, decayed := l.eat(want, rapid.Float64Range(-5, 40).Draw(t, "°C"))
			if eaten > want+1e-6 {
				t.Fatalf("ate %g g of an appetite of %g g", eaten, want)
			}
			out += eaten + decayed
			for _, p := range l.pools {
				if p.left < 0 || p.left > p.fed+1e-9 {
					t.Fatalf("%s: %g g left of %g g", p.material, p.left, p.fed)
				}
			}
		}
		if math.Abs(in-out-l.total()) > 1e-6*(1+in) {
			t.Fatalf("%g g in, %g g gone, %g g left", in, out, l.total())
		}
	})
}

func TestDecayIsFirstOrderAndDoublesEveryTenDegrees(t *testing.T) {
	t.Parallel()
	near(t, "Q10 of 2, common rule of thumb", decayPerDay(farm.Plain, 25)/decayPerDay(farm.Plain, 15), 2, 1e-9)
	near(t, "frozen", decayPerDay(farm.Plain, 0), 0, 0)
	l := larder{[]pool{newPool(0, "", farm.Plain, 1000, 1000)}}
	for range 10 {
		l.eat(0, 20)
	}
	near(t, "ten days", l.total(), 1000*math.Exp(-10*decayPerDay(farm.Plain, 20)), 1e-6)
}

func TestPlainFoodIsEatenBeforeCitrusPeel(t *testing.T) {
	t.Parallel()
	r := Record{AsOf: day(5), Bin: plainBin(), Transfers: []Transfer{{day(-1), 1000, weighed}},
		Feedings: []Feeding{{day(0), "", []Food{{"citrus_peel", 1000}, {"vegetable_trimmings", 1000}}}}}
	b := Estimate(r).Backlog
	left := map[farm.Group]float64{}
	for _, g := range b.ByGroup {
		left[g.Group] = g.Grams
	}
	if left[farm.Citrus] <= left[farm.Plain] {
		t.Errorf("left %+v", b.ByGroup)
	}
	if !b.Clears || b.DaysToClear < 1 {
		t.Errorf("clears %v in %d days", b.Clears, b.DaysToClear)
	}
}

func fedOnce(left farm.FoodLeft, ticks ...string) Record {
	r := Record{AsOf: day(4), Bin: plainBin(), Transfers: []Transfer{{day(-1), 500, weighed}},
		Feedings: []Feeding{{day(0), "", []Food{{"bread", 500}, {"vegetable_trimmings", 1500}}}}}
	if left != "" {
		r.Checks = []Check{{On: day(4), Left: left, LeftOf: ticks}}
	}
	return r
}

func TestALookBringsTheBacklogToWhatWasFound(t *testing.T) {
	t.Parallel()
	last := -1.0
	for _, left := range []farm.FoodLeft{farm.LeftNone, farm.LeftLittle, farm.LeftHalf, farm.LeftMost} {
		got := Estimate(fedOnce(left)).Backlog.TotalG
		if got <= last {
			t.Errorf("%s: %g g is not more than %g g", left, got, last)
		}
		last = got
	}
	// The weight of a look is 0.7: "none" leaves at most 0.3 of the feed.
	if got := Estimate(fedOnce(farm.LeftNone)).Backlog.TotalG; got > 600 {
		t.Errorf("%g g left though none was found", got)
	}
	ticked := Estimate(fedOnce(farm.LeftLittle, "bread")).Backlog
	plain := Estimate(fedOnce(farm.LeftLittle)).Backlog
	bread := func(b Backlog) float64 {
		for _, m := range b.ByMaterial {
			if m.Material == "bread" {
				return m.Grams
			}
		}
		return 0
	}
	if bread(ticked) <= bread(plain) {
		t.Errorf("bread ticked: %g g, not ticked: %g g", bread(ticked), bread(plain))
	}
}

func TestTakingFoodOutLowersTheBacklog(t *testing.T) {
	t.Parallel()
	r := fedOnce(farm.LeftMost)
	before := Estimate(r).Backlog.TotalG
	r.Care = []Care{{day(4), Removal, 800}}
	near(t, "after", Estimate(r).Backlog.TotalG, before-800, 1)
}
