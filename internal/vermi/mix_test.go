package vermi

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The Cornell example of 10 kg of grass (77 %, C 45, N 2.4) with leaves (35 %,
// C 50, N 0.75); moistures as read, C and N from memory.
var (
	grass  = Component{Grams: 10000, MoisturePct: 77, NitrogenPct: 2.4, CarbonPct: 45}
	leaves = Component{MoisturePct: 35, NitrogenPct: 0.75, CarbonPct: 50}
)

func withMass(c Component, g float64) Component {
	c.Grams = g
	return c
}

func TestMoistureFormulasMatchTheHandbook(t *testing.T) {
	t.Parallel()
	// Trautmann and Richard, Cornell Composting: 10 g wet in a 4 g container,
	// 6.3 g dry with it: 77 %.
	got, err := SampleMoisturePct(10, 6.3-4)
	near(t, "sample", got, 77, 1e-9)
	if err != nil {
		t.Error(err)
	}
	if _, err := SampleMoisturePct(10, 11); err == nil {
		t.Error("a sample can't gain mass in the oven")
	}
	// Same page: grass with leaves to 60 % takes 6.8 kg.
	q, err := MassForMoisture(grass, leaves, 60)
	near(t, "leaves", q, 6800, 1e-6)
	if err != nil {
		t.Error(err)
	}
	back, _ := MixMoisturePct([]Component{grass, withMass(leaves, 6800)})
	near(t, "mix", back, 60, 1e-9)
	// NRAES-54 chapter 3, poultry manure and sawdust (from memory).
	near(t, "shortcut", MoistureShortcut(70, 35, 60), 2.5, 1e-9)
	near(t, "shortcut C:N", CarbonToNShortcut(6, 10, 70, 0.11, 500, 35, 30), 0.9335, 0.0005)
	near(t, "shortcut agrees", must(MixCarbonToN([]Component{
		{Grams: 0.9335, MoisturePct: 70, NitrogenPct: 6, CarbonPct: 60},
		{Grams: 1, MoisturePct: 35, NitrogenPct: 0.11, CarbonPct: 55}})), 30, 0.01)
}

func must(v float64, ok bool) float64 {
	if !ok {
		return math.NaN()
	}
	return v
}

func TestCarbonToNitrogenIsWeightedByNitrogen(t *testing.T) {
	t.Parallel()
	// Cornell spreadsheet rows: fish waste C 38.2 N 10.6, seaweed 32.3 and 1.9,
	// cattle manure 45.6 and 2.4.
	for _, c := range []struct{ c, n, want float64 }{{38.2, 10.6, 3.6}, {32.3, 1.9, 17}, {45.6, 2.4, 19}} {
		near(t, "row", must(MixCarbonToN([]Component{{Grams: 1, CarbonPct: c.c, NitrogenPct: c.n}})), c.c/c.n, 1e-9)
		near(t, "row", c.c/c.n, c.want, 0.05)
	}
	// A county handout: hay, kitchen scraps and coffee grounds, 50, 10 and 2
	// lb with percentages as-is: printed 34.7:1.
	near(t, "as is", must(MixCarbonToNAsIs([]Component{{Grams: 50, CarbonPct: 40, NitrogenPct: 1},
		{Grams: 10, CarbonPct: 10, NitrogenPct: 1}, {Grams: 2, CarbonPct: 25, NitrogenPct: 1}})), 34.7, 0.05)
	// Cornell, C/N ratio page (from memory): grass to 30:1 takes 3.5 kg leaves.
	q, err := MassForCarbonToN(grass, leaves, 30)
	near(t, "leaves", q, 3474, 1)
	if err != nil {
		t.Error(err)
	}
	near(t, "moisture then", must(MixMoisturePct([]Component{grass, withMass(leaves, q)})), 66.17, 0.01)
	near(t, "C:N of the moist mix", must(MixCarbonToN([]Component{grass, withMass(leaves, 6800)})), 36.73, 0.01)
}

func TestUnreachableGoalsSayWhy(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		err    func() error
		reason Reason
	}{
		"wetter than both":        {func() error { _, e := MassForMoisture(grass, leaves, 80); return e }, ReasonNotBetween},
		"water can't move C:N":    {func() error { _, e := MassForCarbonToN(grass, Water(0), 30); return e }, ReasonNoNitrogen},
		"browner than both":       {func() error { _, e := MassForCarbonToN(grass, leaves, 90); return e }, ReasonNotBetween},
		"one addition twice":      {func() error { _, _, e := MassesForBoth(grass, leaves, leaves, 60, 30); return e }, ReasonSameEffect},
		"water would come out":    {func() error { _, _, e := MassesForBoth(grass, leaves, Water(0), 50, 30); return e }, ReasonNegative},
		"no carbon but 2 unknown": {func() error { _, _, e := MassesForBoth(grass, Water(0), Water(0), 60, 30); return e }, ReasonSameEffect},
	} {
		var u *Unreachable
		if err := c.err(); !errors.As(err, &u) || u.Reason != c.reason {
			t.Errorf("%s: got %v, want reason %s", name, err, c.reason)
		}
	}
}

func drawComponent(t *rapid.T, name string) Component {
	return Component{
		Grams:       rapid.Float64Range(1, 1e5).Draw(t, name+" g"),
		MoisturePct: rapid.Float64Range(0, 97).Draw(t, name+" moisture"),
		NitrogenPct: rapid.Float64Range(0.05, 6).Draw(t, name+" nitrogen"),
		CarbonPct:   rapid.Float64Range(20, 60).Draw(t, name+" carbon"),
	}
}

func TestAMixLiesBetweenItsParts(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawComponent(t, "a"), drawComponent(t, "b")
		mix, _ := MixMoisturePct([]Component{a, b})
		if mix < min(a.MoisturePct, b.MoisturePct)-1e-9 || mix > max(a.MoisturePct, b.MoisturePct)+1e-9 {
			t.Fatalf("moisture %g outside %g and %g", mix, a.MoisturePct, b.MoisturePct)
		}
		cn, _ := MixCarbonToN([]Component{a, b})
		ra, rb := a.CarbonPct/a.NitrogenPct, b.CarbonPct/b.NitrogenPct
		if cn < min(ra, rb)*(1-1e-9) || cn > max(ra, rb)*(1+1e-9) {
			t.Fatalf("C:N %g outside %g and %g", cn, ra, rb)
		}
		// Mixing in two steps is mixing at once: dry mass, water, carbon and
		// nitrogen are conserved.
		c := drawComponent(t, "c")
		ab := Component{Grams: a.Grams + b.Grams, MoisturePct: mix}
		ab.NitrogenPct = 100 * (a.nitrogen() + b.nitrogen()) / ab.dry()
		ab.CarbonPct = 100 * (a.carbon() + b.carbon()) / ab.dry()
		one, _ := MixCarbonToN([]Component{a, b, c})
		two, _ := MixCarbonToN([]Component{ab, c})
		if math.Abs(one-two) > 1e-6*one {
			t.Fatalf("mixed at once %g, in steps %g", one, two)
		}
		// Whatever mass is answered for a goal brings the mix to the goal.
		goal := rapid.Float64Range(5, 95).Draw(t, "goal")
		if q, err := MassForMoisture(a, b, goal); err == nil {
			if got, _ := MixMoisturePct([]Component{a, withMass(b, q)}); math.Abs(got-goal) > 1e-6 {
				t.Fatalf("%g g gives %g %%, wanted %g %%", q, got, goal)
			}
		}
		if q, err := MassForCarbonToN(a, b, goal); err == nil {
			if got, _ := MixCarbonToN([]Component{a, withMass(b, q)}); math.Abs(got-goal) > 1e-6*goal {
				t.Fatalf("%g g gives C:N %g, wanted %g", q, got, goal)
			}
		}
		if q2, q3, err := MassesForBoth(a, b, c, goal, 30); err == nil {
			parts := []Component{a, withMass(b, q2), withMass(c, q3)}
			gm, _ := MixMoisturePct(parts)
			gr, _ := MixCarbonToN(parts)
			if math.Abs(gm-goal) > 1e-4 || math.Abs(gr-30) > 1e-4 {
				t.Fatalf("both: got %g %% and %g", gm, gr)
			}
		}
	})
}
