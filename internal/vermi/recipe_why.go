package vermi

import "math"

// reach halves between a value that can be reached and one that can't, and
// returns the last that can.
func (p *recipeProblem) reach(can, cannot float64, at func(float64) row) float64 {
	if _, ok := p.solve(at(can)); !ok {
		return can
	}
	for range 50 {
		mid := (can + cannot) / 2
		if _, ok := p.solve(at(mid)); ok {
			can = mid
		} else {
			cannot = mid
		}
	}
	return can
}

// side tells which end of a band fails: the low end (the mix can't be brought
// up to it) or the high one. With neither failing alone the two ends conflict
// and the high end is named.
func (p *recipeProblem) side(goal Target, t Targets) (low bool) {
	var r row
	switch goal {
	case TargetMoisture:
		r = p.moistureAtLeast(t.MoisturePct.Low)
	case TargetCarbonN:
		r = p.ratioAtLeast(t.CarbonToN.Low)
	default:
		return true
	}
	_, ok := p.solve(r)
	return !ok
}

// maxRatio bounds the search for a reachable C:N.
const maxRatio = 5000

// best is the value of a target nearest its band that the rows so far allow.
func (p *recipeProblem) best(goal Target, t Targets) float64 {
	low := p.side(goal, t)
	switch {
	case goal == TargetFloor:
		return p.reach(0, t.CoverL, p.coverAtLeast)
	case goal == TargetMoisture && low:
		return p.reach(0, t.MoisturePct.Low, p.moistureAtLeast)
	case goal == TargetMoisture:
		return p.reach(100, t.MoisturePct.High, p.moistureAtMost)
	case low:
		return p.reach(0, t.CarbonToN.Low, p.ratioAtLeast)
	}
	return p.reach(maxRatio, t.CarbonToN.High, p.ratioAtMost)
}

// nearest are the rows that hold a missed target as near its band as can be.
// The hair's breadth of room keeps rounding from making the programme fail.
func (p *recipeProblem) nearest(goal Target, t Targets) []row {
	v := p.best(goal, t)
	const hair = 1e-6
	low := p.side(goal, t)
	switch {
	case goal == TargetFloor:
		return []row{p.coverAtLeast(v * (1 - hair))}
	case goal == TargetMoisture && low:
		return []row{p.moistureAtLeast(v - hair)}
	case goal == TargetMoisture:
		return []row{p.moistureAtMost(v + hair)}
	case low:
		return []row{p.ratioAtLeast(v - hair)}
	case v >= maxRatio:
		return nil
	}
	return []row{p.ratioAtMost(v + hair)}
}

// whyNot names the reason a target fails given the rows kept so far: not
// enough stock when boundless stock of the same kinds would do, a conflict
// when the target is reachable without the targets kept before it, else that
// the goal does not lie between what there is.
func (p *recipeProblem) whyNot(goal Target, t Targets) Unreachable {
	v := p.best(goal, t)
	low := p.side(goal, t)
	reason := ReasonNotBetween
	boundless := make([]BeddingKind, len(p.kinds))
	for i, k := range p.kinds {
		k.StockG = -1
		boundless[i] = k
	}
	free := newRecipeProblem(p.feed, boundless, math.Inf(1))
	alone := newRecipeProblem(p.feed, p.kinds, t.WaterMaxG)
	if _, ok := free.solve(free.rowsFor(goal, t)...); ok {
		reason = ReasonStock
	}
	if _, ok := alone.solve(alone.rowsFor(goal, t)...); ok {
		reason = ReasonConflict
	}
	var why string
	switch reason {
	case ReasonStock:
		why = "there is not enough bedding or water at hand"
	case ReasonConflict:
		why = "reachable alone, but not with the targets kept before it"
	default:
		why = "nothing at hand lies on the far side of the target"
	}
	switch {
	case goal == TargetFloor:
		return *unreachable(goal, reason, "cover: wants %.3g L of bedding, at most %.3g L can be laid: %s", t.CoverL, v, why)
	case goal == TargetMoisture && low:
		return *unreachable(goal, reason, "moisture: wants at least %.4g %%, at most %.4g %% can be reached: %s", t.MoisturePct.Low, v, why)
	case goal == TargetMoisture:
		return *unreachable(goal, reason, "moisture: wants at most %.4g %%, at least %.4g %% is left: %s", t.MoisturePct.High, v, why)
	case low:
		return *unreachable(goal, reason, "c_to_n: wants at least %.4g, at most %.4g can be reached: %s", t.CarbonToN.Low, v, why)
	}
	return *unreachable(goal, reason, "c_to_n: wants at most %.4g, at least %.4g is left: %s", t.CarbonToN.High, v, why)
}

func (p *recipeProblem) recipe(x []float64) Recipe {
	var r Recipe
	parts := append([]Component(nil), p.feed...)
	for i, k := range p.kinds {
		g := x[i] * 1000
		if k.StockG >= 0 {
			g = min(g, k.StockG) // rounding must not promise bedding that is not there
		}
		if g < 1e-6 {
			continue
		}
		r.Bedding = append(r.Bedding, Portion{k.Key, g})
		r.BeddingG += g
		r.CoverL += g / k.DensityGPerL
		c := k.Component
		c.Grams = g
		parts = append(parts, c)
	}
	r.WaterG = x[len(p.kinds)] * 1000
	parts = append(parts, Water(r.WaterG))
	r.MoisturePct, _ = MixMoisturePct(parts)
	r.CarbonToN, _ = MixCarbonToN(parts)
	return r
}
