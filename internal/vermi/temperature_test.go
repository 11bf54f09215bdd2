package vermi

import (
	"testing"

	"midden/internal/farm"
	"pgregory.net/rapid"
)

func TestCardinalModelHasItsCardinalPoints(t *testing.T) {
	t.Parallel()
	for _, s := range []farm.Species{farm.Eisenia, farm.Dendrobaena, farm.Perionyx, farm.MixedSpecies} {
		for _, c := range []Cardinal{FeedingTemperatures(s), BreedingTemperatures(s)} {
			near(t, "at the least", c.Response(c.Min), 0, 0)
			near(t, "at the best", c.Response(c.Opt), 1, 1e-12)
			near(t, "at the most", c.Response(c.Max), 0, 0)
			if c.Opt <= (c.Min+c.Max)/2 {
				t.Errorf("%s: best %g must lie above the middle of %g and %g", s, c.Opt, c.Min, c.Max)
			}
		}
	}
	// Rosso, Lobry and Flandrois 1993, Escherichia coli, cardinal temperatures
	// as commonly quoted from it (from memory): 4.9, 41.3, 47.5 °C. The value
	// at 20 °C is the published formula worked by hand: (20−47.5)(15.1)² /
	// (36.4·[36.4·(−21.3) − (−6.2)(6.2)]).
	near(t, "E. coli at 20", Cardinal{4.9, 41.3, 47.5}.Response(20), 0.2338, 0.0002)
}

func TestTheBestBandOfEiseniaIsWideAndItsEndsAreHard(t *testing.T) {
	t.Parallel()
	// 15-20 °C (Earthworm Ecology, Table 18.3) and 20-29 °C (Kaplan et al. 1980)
	// disagree: within the band 15-27 worms eat more than half of their best.
	for c := 15.0; c <= 27; c++ {
		if f := TemperatureFactor(nil, c); f < 0.5 {
			t.Errorf("%g °C: %g", c, f)
		}
	}
	// Earthworm Ecology: limits 4-30; home guidance: deaths above 90 °F or at
	// freezing.
	near(t, "freezing", TemperatureFactor(nil, 0), 0, 0)
	near(t, "90 °F", TemperatureFactor(nil, (90-32)/1.8), 0, 0.25)
	near(t, "35 °C", TemperatureFactor(nil, 35), 0, 0)
	// Perionyx dies below 9 °C (Edwards 1998).
	near(t, "Perionyx", TemperatureFactor([]SpeciesShare{{farm.Perionyx, 1}}, 9), 0, 0)
}

func TestAMixedBedLiesBetweenItsSpecies(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-10, 45).Draw(t, "°C")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		a := TemperatureFactor([]SpeciesShare{{farm.Eisenia, 1}}, c)
		b := TemperatureFactor([]SpeciesShare{{farm.Perionyx, 1}}, c)
		mix := TemperatureFactor([]SpeciesShare{{farm.Eisenia, share}, {farm.Perionyx, 1 - share}}, c)
		if mix < min(a, b)-1e-9 || mix > max(a, b)+1e-9 || mix < 0 || mix > 1 {
			t.Fatalf("mixture %g of %g and %g", mix, a, b)
		}
	})
}

func TestAColdBedEatsLessThanAWarmOne(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		species := rapid.SampledFrom([]farm.Species{farm.Eisenia, farm.Dendrobaena, farm.Perionyx}).Draw(t, "species")
		c := FeedingTemperatures(species)
		cold := rapid.Float64Range(-5, c.Opt).Draw(t, "cold")
		warm := rapid.Float64Range(cold, c.Opt).Draw(t, "warm")
		if c.Response(cold) > c.Response(warm)+1e-12 {
			t.Fatalf("%g °C eats %g, %g °C eats %g", cold, c.Response(cold), warm, c.Response(warm))
		}
	})
}

func TestMoistureAndSmellSlowWorms(t *testing.T) {
	t.Parallel()
	// Kaplan et al. 1980: best gain at 70-85 %. Earthworm Ecology, Table 18.3:
	// limits 60-90 %.
	for _, m := range []float64{70, 75, 80, 85} {
		near(t, "best", MoistureFactor(m), 1, 0)
	}
	for _, m := range []float64{60, 90} {
		if f := MoistureFactor(m); f <= 0 || f >= 1 {
			t.Errorf("%g %% is tolerated, not best: %g", m, f)
		}
	}
	near(t, "dust", MoistureFactor(35), 0, 0)
	last := 0.0
	for s := farm.Squeeze(1); s.Valid(); s++ {
		m, ok := MoistureOfSqueeze(s)
		if !ok || m <= last {
			t.Errorf("squeeze %d: %g %% after %g %%", s, m, last)
		}
		last = m
	}
	if _, ok := MoistureOfSqueeze(0); ok {
		t.Error("a squeeze not done has no moisture")
	}
	near(t, "earth", StressFactor(farm.SmellEarth, false), 1, 0)
	if StressFactor(farm.SmellAmmonia, false) >= StressFactor(farm.SmellSour, false) {
		t.Error("ammonia is worse than sour")
	}
}
