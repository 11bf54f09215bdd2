package vermi

import (
	"math"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Band is a range to land in. High 0 means no upper end.
type Band struct{ Low, High float64 }

// Targets is what a feeding with its bedding should come to.
type Targets struct {
	MoisturePct Band
	CarbonToN   Band
	CoverL      float64 // least bedding over the feeding, in litres as laid
	WaterMaxG   float64 // most water that may be added; 0 for none
}

// DefaultTargets are worm-bed targets. Moisture of feed with bedding: 70 to
// 80 % with drainage, 65 to 75 % without (common practice, no source). C:N 20
// to 60: no figure for worm beds was found, so this is the wide "acceptable"
// band of The Composting Handbook (2022), Table 4.2. Both are settings.
func DefaultTargets(drained bool) Targets {
	t := Targets{MoisturePct: Band{65, 75}, CarbonToN: Band{20, 60}, WaterMaxG: math.Inf(1)}
	if drained {
		t.MoisturePct = Band{70, 80}
	}
	return t
}

// TargetsFor are the default targets of a feeding to a bin as it stands, with
// the garden's cover over the fed surface.
func TargetsFor(b Bin, st State, s Settings) Targets {
	t := DefaultTargets(b.Drained)
	t.CoverL = CoverL(st.FedSurfaceM2, s.CoverMM)
	return t
}

// CoverL is the bedding in litres that lies depthMM deep over a fed surface.
// Common practice: at least 50 mm over every feeding.
func CoverL(fedSurfaceM2, depthMM float64) float64 { return fedSurfaceM2 * depthMM }

// BeddingKind is bedding at hand: its make-up (Grams unused), density as laid
// and the mass in stock, negative for as much as one likes.
type BeddingKind struct {
	Key          string
	Component    Component
	DensityGPerL float64
	StockG       float64
}

// BeddingOf is a stock of a catalogue material.
func BeddingOf(mat farm.Material, stock measure.Grams) BeddingKind {
	return BeddingKind{Key: mat.Key, Component: ComponentOf(mat, 0), DensityGPerL: mat.DensityGPerL.Value, StockG: float64(stock)}
}

// Portion is an amount of one bedding kind.
type Portion struct {
	Key   string
	Grams float64
}

// Recipe is the bedding and water for one feeding, and what the mix comes to.
// Missed is empty when every target is met.
type Recipe struct {
	Bedding     []Portion // kinds in the order given, those not used left out
	BeddingG    float64
	WaterG      float64
	CoverL      float64
	MoisturePct float64
	CarbonToN   float64 // 0 when the mix has no nitrogen
	Missed      []Unreachable
}

// waterPrice makes equal-bedding recipes prefer less water, without ever
// trading a gram of bedding for less than ten kilograms of water.
const waterPrice = 1e-4

// LeastBedding is the least mass of the kinds at hand that brings a feeding
// into the target bands, never below the cover; water is a free unknown. It is
// a small linear programme, solved exactly: a band on a ratio of sums is a
// linear bound on the sums. When the targets can't all be met, cover is kept
// first, then moisture, then C:N; each one given up is named in Missed with
// the reason, and the recipe still meets the rest.
func LeastBedding(feed []Component, kinds []BeddingKind, t Targets) (Recipe, error) {
	if err := checkRecipe(feed, kinds, t); err != nil {
		return Recipe{}, err
	}
	p := newRecipeProblem(feed, kinds, t.WaterMaxG)
	var missed []Unreachable
	x, ok := p.solve()
	if !ok {
		return Recipe{}, unreachable(TargetFloor, ReasonBadInput, "recipe: no amounts keep within the stock; check the figures")
	}
	for _, goal := range []Target{TargetFloor, TargetMoisture, TargetCarbonN} {
		rows := p.rowsFor(goal, t)
		if len(rows) == 0 {
			continue
		}
		next, ok := p.solve(rows...)
		if !ok {
			missed = append(missed, p.whyNot(goal, t))
			// Do the most that can be done: all the cover at hand, or the
			// nearest end of the band that can be reached.
			p.rows = append(p.rows, p.nearest(goal, t)...)
			if near, ok := p.solve(); ok {
				x = near
			}
			continue
		}
		p.rows = append(p.rows, rows...)
		x = next
	}
	r := p.recipe(x)
	r.Missed = missed
	return r, nil
}

func checkRecipe(feed []Component, kinds []BeddingKind, t Targets) error {
	bad := func(what string, c Component, needMass bool) error {
		if (needMass && !(c.Grams >= 0)) || math.IsInf(c.Grams, 0) || !(c.MoisturePct >= 0 && c.MoisturePct <= 100) ||
			!(c.NitrogenPct >= 0 && c.NitrogenPct <= 100) || !(c.CarbonPct >= 0 && c.CarbonPct <= 100) {
			return unreachable(TargetFloor, ReasonBadInput, "%s: mass must not be negative and percents must be between 0 and 100; got %+v", what, c)
		}
		return nil
	}
	for _, c := range feed {
		if err := bad("feed", c, true); err != nil {
			return err
		}
	}
	for _, k := range kinds {
		if err := bad("bedding "+k.Key, k.Component, false); err != nil {
			return err
		}
		if !(k.DensityGPerL > 0) || math.IsNaN(k.StockG) {
			return unreachable(TargetFloor, ReasonBadInput, "bedding %s: density must be above 0 g/L; got %g", k.Key, k.DensityGPerL)
		}
	}
	for _, b := range []Band{t.MoisturePct, t.CarbonToN} {
		if !(b.Low >= 0) || !(b.High == 0 || b.High >= b.Low) {
			return unreachable(TargetMoisture, ReasonBadInput, "target: low must not be above high; got %g to %g", b.Low, b.High)
		}
	}
	if !(t.CoverL >= 0) || !(t.WaterMaxG >= 0) {
		return unreachable(TargetFloor, ReasonBadInput, "target: cover and water must not be negative; got %g L and %g g", t.CoverL, t.WaterMaxG)
	}
	return nil
}

// recipeProblem holds unknowns in kilograms: one per kind, water last.
type recipeProblem struct {
	feed  []Component
	kinds []BeddingKind
	cost  []float64
	rows  []row
}

func newRecipeProblem(feed []Component, kinds []BeddingKind, waterMaxG float64) *recipeProblem {
	n := len(kinds) + 1
	p := &recipeProblem{feed: feed, kinds: kinds, cost: make([]float64, n)}
	for i, k := range kinds {
		p.cost[i] = 1
		if k.StockG >= 0 && !math.IsInf(k.StockG, 1) {
			p.rows = append(p.rows, p.bound(i, k.StockG/1000))
		}
	}
	p.cost[n-1] = waterPrice
	if !math.IsInf(waterMaxG, 1) {
		p.rows = append(p.rows, p.bound(n-1, waterMaxG/1000))
	}
	return p
}

func (p *recipeProblem) bound(i int, kg float64) row {
	a := make([]float64, len(p.cost))
	a[i] = 1
	return row{a, kg}
}

func (p *recipeProblem) solve(extra ...row) ([]float64, bool) {
	return minimise(p.cost, append(p.rows[:len(p.rows):len(p.rows)], extra...))
}

// linear is the row Σ weight(part) ≤ 0 over feed, kinds and water.
func (p *recipeProblem) linear(weight func(Component) float64) row {
	r := row{a: make([]float64, len(p.cost))}
	for _, c := range p.feed {
		c.Grams /= 1000
		r.b -= weight(c)
	}
	for i, k := range p.kinds {
		c := k.Component
		c.Grams = 1
		r.a[i] = weight(c)
	}
	r.a[len(p.kinds)] = weight(Water(1))
	return r
}

func (p *recipeProblem) moistureAtMost(v float64) row {
	return p.linear(func(c Component) float64 { return c.Grams * (c.MoisturePct - v) / 100 })
}

func (p *recipeProblem) moistureAtLeast(v float64) row {
	return p.linear(func(c Component) float64 { return c.Grams * (v - c.MoisturePct) / 100 })
}

func (p *recipeProblem) ratioAtMost(v float64) row {
	return p.linear(func(c Component) float64 { return c.carbon() - v*c.nitrogen() })
}

func (p *recipeProblem) ratioAtLeast(v float64) row {
	return p.linear(func(c Component) float64 { return v*c.nitrogen() - c.carbon() })
}

func (p *recipeProblem) coverAtLeast(litres float64) row {
	r := row{a: make([]float64, len(p.cost)), b: -litres}
	for i, k := range p.kinds {
		r.a[i] = -1000 / k.DensityGPerL
	}
	return r
}

func (p *recipeProblem) rowsFor(goal Target, t Targets) []row {
	var out []row
	switch goal {
	case TargetFloor:
		if t.CoverL > 0 {
			out = append(out, p.coverAtLeast(t.CoverL))
		}
	case TargetMoisture:
		out = append(out, p.moistureAtLeast(t.MoisturePct.Low))
		if t.MoisturePct.High > 0 {
			out = append(out, p.moistureAtMost(t.MoisturePct.High))
		}
	case TargetCarbonN:
		out = append(out, p.ratioAtLeast(t.CarbonToN.Low))
		if t.CarbonToN.High > 0 {
			out = append(out, p.ratioAtMost(t.CarbonToN.High))
		}
	}
	return out
}
