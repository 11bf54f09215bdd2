package vermi

import (
	"math"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
)

// TestTheIntervalsHoldWhatTheyPromise keeps forty simulated bins whose k and
// carrying capacity are drawn from the priors, and whose grades are rounded as
// a keeper's are. The 90 % intervals must hold the truth in most of them: with
// forty bins, 30 or fewer hits of a true 90 % would come once in 500 runs
// (binomial), and this run is the same every time.
func TestTheIntervalsHoldWhatTheyPromise(t *testing.T) {
	t.Parallel()
	const bins = 40
	prior := DefaultPrior()
	kIn, wormsIn, backlogIn := 0, 0, 0
	for i := range bins {
		// A low-discrepancy pair (golden ratio and its square) covers both priors evenly.
		u := math.Mod(0.5+float64(i)*0.618033988749895, 1)
		v := math.Mod(0.5+float64(i)*0.381966011250105+0.25, 1)
		k := prior.Median * math.Exp(prior.LogSigma*normQuantile(0.02+0.96*u))
		capacity := CapacityLowKgPerM2 * math.Pow(CapacityHighKgPerM2/CapacityLowKgPerM2, v)
		r, sim := calibrationBin(k, capacity, 1200, 14)
		st := Estimate(r)
		if st.Appetite.Rate.K.P05 <= k && k <= st.Appetite.Rate.K.P95 {
			kIn++
		}
		if st.Worms.P05 <= sim.WormG && sim.WormG <= st.Worms.P95 {
			wormsIn++
		}
		f := Forecast(r, 5)
		for range 5 {
			sim = Step(sim, Weather{20}, Fed{})
		}
		if b := f[4].BacklogG; b.P05-50 <= sim.UneatenG() && sim.UneatenG() <= b.P95+50 {
			backlogIn++
		}
	}
	t.Logf("of %d bins inside 90 %%: k %d, worms %d, backlog %d", bins, kIn, wormsIn, backlogIn)
	for what, n := range map[string]int{"k": kIn, "worms": wormsIn, "backlog": backlogIn} {
		if n <= 30 {
			t.Errorf("%s: inside its 90 %% in %d of %d bins", what, n, bins)
		}
	}
}

// normQuantile inverts normCDF by halving.
func normQuantile(p float64) float64 {
	lo, hi := -8.0, 8.0
	for range 60 {
		if mid := (lo + hi) / 2; normCDF(mid) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}

func calibrationBin(k, capacity, wormsG float64, weeks int) (Record, SimBin) {
	b := plainBin()
	r := Record{Bin: b, Transfers: []Transfer{{day(0), measure.Grams(wormsG), sampled}}, AsOf: day(weeks * 7)}
	sim := NewSimBin(b, k, capacity, wormsG, 12000, 75, 20)
	for n := range weeks * 7 {
		var fed Fed
		if n%7 == 0 {
			fed.Food = []Food{{"mixed_kitchen_scraps", 1900}, {"coffee_grounds", 500}}
			fed.Bedding = []Food{{"corrugated_cardboard", 250}}
			fed.WaterG = 500
			r.Feedings = append(r.Feedings, Feeding{On: day(n), Food: fed.Food})
		}
		sim = Step(sim, Weather{20}, fed)
		if n%7 == 3 || n%7 == 6 {
			temp := sim.TempC
			r.Checks = append(r.Checks, Check{On: day(n + 1), Left: sim.LastLeft(), Smell: farm.SmellEarth,
				SqueezeTop: sim.Squeeze(), SqueezeBottom: sim.Squeeze(), BedC: &temp})
		}
	}
	return r, sim
}
