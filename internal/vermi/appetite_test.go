package vermi

import (
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"pgregory.net/rapid"
)

func perfect(wormsG float64) AppetiteInput {
	return AppetiteInput{WormsG: wormsG, K: 0.5, TempFactor: 1, MoistureFactor: 1, StressFactor: 1, Ramp: 1,
		FedSurfaceM2: 1, FreeDepthMM: 200}
}

func TestTheHomeRuleIsHalfTheWormsWeightADay(t *testing.T) {
	t.Parallel()
	// New York Botanical Garden's guide: 1 lb of worms takes 3.5 lb of scraps a
	// week, 0.5 of their weight a day.
	g, b, _ := DailyAppetite(perfect(453.6), DefaultSettings())
	near(t, "lb a week", g*7/453.6, 3.5, 1e-9)
	if b != BoundWorms {
		t.Errorf("bound %s", b)
	}
	// Ndegwa et al. 2000, on biosolids: 1.60 kg/m² at 1.25 and 0.75 kg/kg is
	// 2.0 and 1.2 kg/m² a day. The arithmetic is the same; the rates are not
	// used for scraps, and lie above our prior's 95 %.
	in := perfect(1600)
	in.K = 1.25
	_, _, l := DailyAppetite(in, DefaultSettings())
	near(t, "growth", l.WormsG, 2000, 1e-9)
	in.K = 0.75
	_, _, l = DailyAppetite(in, DefaultSettings())
	near(t, "castings", l.WormsG, 1200, 1e-9)
}

func TestThePriorHoldsTheScrapFigures(t *testing.T) {
	t.Parallel()
	r := Record{AsOf: day(0), Bin: plainBin()}
	k := Estimate(r).Appetite.Rate.K
	// Extension guides: 0.25 to 0.5 kg scraps per kg worms and day.
	if k.P25 < 0.24 || k.P75 > 0.51 || k.Mean < 0.3 || k.Mean > 0.42 {
		t.Errorf("prior %+v", k)
	}
	if k.P95 > 0.75 {
		t.Errorf("sludge figures of 0.75 and 1.25 should lie outside: %+v", k)
	}
}

func TestTheBoundThatBindsIsNamed(t *testing.T) {
	t.Parallel()
	s := DefaultSettings()
	for want, in := range map[Bound]AppetiteInput{
		BoundWorms:       perfect(500),
		BoundSurface:     perfect(5000),
		BoundDepth:       {WormsG: 5000, K: 0.5, TempFactor: 1, MoistureFactor: 1, StressFactor: 1, Ramp: 1, FedSurfaceM2: 1, FreeDepthMM: 52},
		BoundTemperature: {WormsG: 500, K: 0.5, TempFactor: 0.1, MoistureFactor: 1, StressFactor: 1, Ramp: 1, FedSurfaceM2: 1, FreeDepthMM: 200},
	} {
		if _, got, _ := DailyAppetite(in, s); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
	g, _, _ := DailyAppetite(perfect(5000), s)
	near(t, "0.7 kg/m² a day, common practice", g, 700, 0)
}

func TestMoreWormsNeverEatLess(t *testing.T) {
	t.Parallel()
	unit := rapid.Float64Range(0, 1)
	rapid.Check(t, func(t *rapid.T) {
		in := AppetiteInput{WormsG: rapid.Float64Range(0, 2e4).Draw(t, "worms"), K: rapid.Float64Range(0.05, 1).Draw(t, "k"),
			TempFactor: unit.Draw(t, "f"), MoistureFactor: unit.Draw(t, "g"), StressFactor: unit.Draw(t, "h"), Ramp: unit.Draw(t, "ramp"),
			FedSurfaceM2: rapid.Float64Range(0, 3).Draw(t, "m²"), FreeDepthMM: rapid.Float64Range(0, 500).Draw(t, "mm")}
		less, _, l := DailyAppetite(in, DefaultSettings())
		in.WormsG += rapid.Float64Range(0, 1e4).Draw(t, "more")
		more, _, _ := DailyAppetite(in, DefaultSettings())
		if less > more || less < 0 || less > l.SurfaceG || less > l.DepthG {
			t.Fatalf("%g g then %g g, limits %+v", less, more, l)
		}
	})
}

// simulatedRecord keeps a simulated bin of known k for some weeks: fed weekly,
// checked twice a week, graded by eye.
func simulatedRecord(k, wormsG float64, weeks int, feedG measure.Grams) (Record, SimBin) {
	b := plainBin()
	r := Record{Bin: b, Transfers: []Transfer{{day(0), measure.Grams(wormsG), weighed}}, AsOf: day(weeks * 7)}
	sim := NewSimBin(b, k, 2, wormsG, 12000, 75, 21)
	for n := 0; n < weeks*7; n++ {
		var fed Fed
		if n%7 == 0 {
			fed.Food = []Food{{"vegetable_trimmings", feedG}}
			r.Feedings = append(r.Feedings, Feeding{On: day(n), Food: fed.Food})
		}
		sim = Step(sim, Weather{21}, fed)
		if n%7 == 2 || n%7 == 4 {
			c := Check{On: day(n + 1), Left: sim.LastLeft(), Smell: farm.SmellEarth}
			temp := sim.TempC
			c.BedC = &temp
			r.Checks = append(r.Checks, c)
		}
	}
	return r, sim
}

func TestABinTeachesItsOwnAppetite(t *testing.T) {
	t.Parallel()
	for _, k := range []float64{0.2, 0.35, 0.6} {
		// Fed so that checks fall while some is left.
		r, sim := simulatedRecord(k, 1000, 16, measure.Grams(1000*k*7))
		st := Estimate(r)
		got := st.Appetite.Rate
		if got.K.P05 > k || got.K.P95 < k {
			t.Errorf("k %g lies outside %+v", k, got.K)
		}
		// What the checks tell is k times the worms.
		near(t, "daily appetite", got.Effective.Mean*st.Worms.Mean, k*sim.WormG, 0.25*k*sim.WormG)
		if got.Worth <= 1 || got.ChecksFor != 32 {
			t.Errorf("32 checks should outweigh the prior: %+v", got)
		}
		// A clean weighing settles the worms, and with them k.
		r.Weighings = []WormWeighing{{r.AsOf, measure.Grams(sim.WormG), weighed}}
		after := Estimate(r).Appetite.Rate.K
		if after.P95-after.P05 >= got.K.P95-got.K.P05 {
			t.Errorf("a weighing must narrow k: %+v then %+v", got.K, after)
		}
		near(t, "k", after.Mean, k, 0.35*k)
	}
}

func TestOneWildLookDoesNotTurnTheAppetite(t *testing.T) {
	t.Parallel()
	r, _ := simulatedRecord(0.35, 1000, 12, 2450)
	calm := Estimate(r).Appetite.Rate.Effective.Mean
	r.Checks = append([]Check(nil), r.Checks...)
	r.Checks[6].Left = farm.LeftMost
	if got := Estimate(r).Appetite.Rate.Effective.Mean; got < 0.7*calm {
		t.Errorf("one look moved k from %g to %g", calm, got)
	}
}

func TestTheGardenPriorIsDrawnToItsBins(t *testing.T) {
	t.Parallel()
	base := DefaultPrior()
	if got := PoolPrior(base, nil); got != base {
		t.Errorf("no bins, no change: %+v", got)
	}
	eager := AppetiteRate{KLogMean: -0.5, Worth: 10}
	shy := AppetiteRate{KLogMean: -0.5, Worth: 0.1}
	a, b := PoolPrior(base, []AppetiteRate{eager}), PoolPrior(base, []AppetiteRate{shy})
	if !(a.Median > b.Median && b.Median > base.Median) {
		t.Errorf("%g, %g, %g", a.Median, b.Median, base.Median)
	}
}
