package vermi

import (
	"fmt"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Component is one part of a mix. Moisture is percent of wet mass; nitrogen
// and carbon are percent of dry mass.
type Component struct {
	Grams       float64
	MoisturePct float64
	NitrogenPct float64
	CarbonPct   float64
}

// ComponentOf is a mass of a catalogue material. Carbon is nitrogen times C:N
// (Cornell Composting, C/N ratio: %C = %N × C/N).
func ComponentOf(mat farm.Material, g measure.Grams) Component {
	return Component{Grams: float64(g), MoisturePct: mat.MoisturePct.Value, NitrogenPct: mat.NitrogenPct.Value,
		CarbonPct: mat.NitrogenPct.Value * mat.CarbonToN.Value}
}

// Water is a mass of water: it moves moisture and leaves C:N alone.
func Water(g float64) Component { return Component{Grams: g, MoisturePct: 100} }

func (c Component) dry() float64      { return c.Grams * (100 - c.MoisturePct) / 100 }
func (c Component) nitrogen() float64 { return c.dry() * c.NitrogenPct / 100 }
func (c Component) carbon() float64   { return c.dry() * c.CarbonPct / 100 }

// Target is one thing a recipe aims at.
type Target string

// Targets of a recipe, the one kept longest first.
const (
	TargetFloor    Target = "cover" // the garden's least cover of bedding
	TargetMoisture Target = "moisture"
	TargetCarbonN  Target = "c_to_n"
)

// Reason is why a target can't be reached.
type Reason string

// Reasons.
const (
	ReasonNotBetween Reason = "goal_not_between"  // the goal does not lie between the two materials
	ReasonNoNitrogen Reason = "no_nitrogen"       // water or mineral can't move C:N
	ReasonSameEffect Reason = "same_effect"       // both additions pull the same way
	ReasonNegative   Reason = "negative_mass"     // one would have to be taken out
	ReasonStock      Reason = "not_enough_stock"  // the bedding at hand runs out
	ReasonConflict   Reason = "targets_conflict"  // reachable alone, not with the targets kept before it
	ReasonBadInput   Reason = "impossible_figure" // a mass or percent that can't be
)

// Unreachable says which target can't be reached and why.
type Unreachable struct {
	Target  Target
	Reason  Reason
	Message string
}

// Error gives the message.
func (u *Unreachable) Error() string { return u.Message }

func unreachable(t Target, r Reason, format string, args ...any) *Unreachable {
	return &Unreachable{Target: t, Reason: r, Message: fmt.Sprintf(format, args...)}
}

// SampleMoisturePct is the moisture of an oven-dried sample, percent of wet
// mass: (wet − dry) / wet × 100 (after Trautmann and Richard, Cornell
// Composting). It refuses masses that can't be (code "sample.mass").
func SampleMoisturePct(wetG, dryG float64) (float64, error) {
	if !(wetG > 0) || !(dryG >= 0) || dryG > wetG {
		return 0, farm.Refuse("sample.mass", "/dry_g", "dry_g: must be between 0 and the wet mass of %g g; got %g", wetG, dryG)
	}
	return (wetG - dryG) / wetG * 100, nil
}

// MixMoisturePct is the moisture of a mix, Σ(Q·M)/ΣQ with wet masses Q. ok is
// false for an empty mix.
func MixMoisturePct(parts []Component) (pct float64, ok bool) {
	var water, mass float64
	for _, p := range parts {
		water += p.Grams * p.MoisturePct
		mass += p.Grams
	}
	if mass <= 0 {
		return 0, false
	}
	return water / mass, true
}

// MixCarbonToN is the C:N of a mix, Σ(Q·C·(100−M))/Σ(Q·N·(100−M)): carbon
// mass over nitrogen mass, never a mean of ratios (Cornell Composting,
// moisture and C/N). ok is false without nitrogen.
func MixCarbonToN(parts []Component) (ratio float64, ok bool) {
	var c, n float64
	for _, p := range parts {
		c += p.carbon()
		n += p.nitrogen()
	}
	if n <= 0 {
		return 0, false
	}
	return c / n, true
}

// MixCarbonToNAsIs is the C:N when percentages were given on the material as
// it is, wet: Σ(Q·C)/Σ(Q·N). Moisture is not used.
func MixCarbonToNAsIs(parts []Component) (ratio float64, ok bool) {
	var c, n float64
	for _, p := range parts {
		c += p.Grams * p.CarbonPct
		n += p.Grams * p.NitrogenPct
	}
	if n <= 0 {
		return 0, false
	}
	return c / n, true
}

// MassForMoisture is the mass in grams of a second material (its own mass is
// not used) that brings the first to a moisture goal:
// Q2 = (Q1·G − Q1·M1)/(M2 − G) (Cornell Composting). The goal must lie between
// the two moistures.
func MassForMoisture(first, second Component, goalPct float64) (float64, error) {
	if first.MoisturePct == goalPct {
		return 0, nil
	}
	if (goalPct-first.MoisturePct)*(second.MoisturePct-goalPct) <= 0 {
		return 0, unreachable(TargetMoisture, ReasonNotBetween, "moisture: %.4g %% does not lie between %.4g %% and %.4g %%; add a material beyond the goal",
			goalPct, first.MoisturePct, second.MoisturePct)
	}
	return first.Grams * (goalPct - first.MoisturePct) / (second.MoisturePct - goalPct), nil
}

// MassForCarbonToN is the mass in grams of a second material that brings the
// first to a C:N goal:
// Q2 = Q1·N1·(R − C1/N1)·(100 − M1) / (N2·(C2/N2 − R)·(100 − M2))
// (Cornell Composting, C/N ratio; from memory).
func MassForCarbonToN(first, second Component, goal float64) (float64, error) {
	have := goal*first.nitrogen() - first.carbon() // carbon still wanted, g
	unit := second
	unit.Grams = 1
	per := unit.carbon() - goal*unit.nitrogen()
	switch {
	case have == 0:
		return 0, nil
	case unit.nitrogen() == 0 && unit.carbon() == 0:
		return 0, unreachable(TargetCarbonN, ReasonNoNitrogen, "c_to_n: the second material has neither carbon nor nitrogen and can't move the ratio")
	case have*per <= 0:
		return 0, unreachable(TargetCarbonN, ReasonNotBetween, "c_to_n: %.4g does not lie between the ratios of the two materials; add one beyond the goal", goal)
	}
	return have / per, nil
}

// MassesForBoth are the masses in grams of a second and third material that
// bring the first to a moisture goal and a C:N goal together: two linear
// equations with two unknowns (Cornell Composting, simultaneous solution).
// Either may be Water.
func MassesForBoth(first, second, third Component, goalPct, goalCN float64) (secondG, thirdG float64, err error) {
	wet := func(c Component) float64 { return c.MoisturePct - goalPct }
	ratio := func(c Component) float64 {
		c.Grams = 1
		return c.carbon() - goalCN*c.nitrogen()
	}
	a, b, p := wet(second), wet(third), -first.Grams*wet(first)
	c, d, q := ratio(second), ratio(third), -first.Grams*ratio(first)
	det := a*d - b*c
	if abs(det) < 1e-12*(abs(a*d)+abs(b*c)) || det == 0 {
		return 0, 0, unreachable(TargetCarbonN, ReasonSameEffect, "recipe: both additions move moisture and C:N the same way; choose a wetter, drier, browner or greener one")
	}
	secondG, thirdG = (p*d-b*q)/det, (a*q-p*c)/det
	const slack = -1e-9
	if secondG < slack*first.Grams || thirdG < slack*first.Grams {
		return 0, 0, unreachable(TargetMoisture, ReasonNegative, "recipe: no amounts of these two reach %.4g %% moisture and C:N %.4g together; one would have to be taken out (%.4g g and %.4g g)",
			goalPct, goalCN, secondG, thirdG)
	}
	return max(0, secondG), max(0, thirdG), nil
}

func abs(x float64) float64 { return max(x, -x) }

// MoistureShortcut is the mass of A per unit mass of B for a moisture goal,
// (mB − M)/(M − mA), all in percent (NRAES-54 chapter 3, from memory). It is
// negative or infinite when the goal does not lie between the two.
func MoistureShortcut(moistureA, moistureB, goal float64) float64 {
	return (moistureB - goal) / (goal - moistureA)
}

// CarbonToNShortcut is the mass of A per unit mass of B for a C:N goal,
// (nB/nA)·((R − rB)/(rA − R))·((100 − mB)/(100 − mA)) (NRAES-54 chapter 3,
// from memory). nX is nitrogen percent of dry mass, rX C:N, mX moisture.
func CarbonToNShortcut(nA, rA, mA, nB, rB, mB, goal float64) float64 {
	return nB / nA * (goal - rB) / (rA - goal) * (100 - mB) / (100 - mA)
}
