package vermi

import (
	"math"
	"slices"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Slot is what a feeding on one keeper day may bring.
type Slot struct {
	Day      Day
	Offset   int           // days after AsOf
	Grams    measure.Grams // likely, rounded down
	Cautious measure.Grams // what the slower half of the belief would still eat: three in four sure
	Bound    Bound
	Caps     []GroupCap // percent of Grams by go-easy group, in farm.Groups order
}

// Capacity is how much each keeper day may bring: appetite until the next
// visit (at most FeedDays, as nobody gives a double feed) less the backlog,
// bounded by surface and free depth, and nothing for a bin that rests, is in
// quarantine or too warm. Each day assumes the days before it were used in
// full. visitDays are days after AsOf; negative ones, repeats and those beyond
// horizonDays are left out, order does not matter.
func Capacity(r Record, horizonDays int, visitDays []int) []Slot {
	return Work(r).Capacity(horizonDays, visitDays)
}

// Capacity is as the function of that name.
func (m *Model) Capacity(horizonDays int, visitDays []int) []Slot {
	visits := slices.Clone(visitDays)
	slices.Sort(visits)
	visits = slices.Compact(visits)
	visits = slices.DeleteFunc(visits, func(v int) bool { return v < 0 || v >= horizonDays })
	s := *m.rec.Settings
	now := m.stock.on(m.rec.AsOf)
	wormSigma := sigmaOf(now.mean, now.variance)
	stock := m.stock.now.clone()
	old := m.larders[0].clone() // what lies there today
	given := 0.0                // what the slots before brought, as uneaten grams
	free := m.state.FreeMM
	caps := m.capsNow()
	var out []Slot
	at := 0
	for i, v := range visits {
		for ; at < v; at++ {
			given = m.passDay(at, &stock, &old, given)
		}
		span := s.FeedDays
		if i+1 < len(visits) {
			span = min(span, visits[i+1]-v)
		}
		slot := Slot{Day: m.rec.AsOf + Day(v), Offset: v, Caps: caps}
		var ok bool
		if ok, slot.Bound = mayFeed(m.rec.Bin.Status, m.hotOn(slot.Day), m.risingOn(slot.Day), s); ok {
			demand, low, bound := m.demand(v, span, stock.mix().mean, wormSigma)
			backlog := old.total() + given
			room := max(0, free-s.CoverMM) * m.state.FedSurfaceM2 * foodGPerL
			likely := max(0, demand-backlog)
			if slot.Bound = bound; room < likely {
				likely, slot.Bound = room, BoundDepth
			}
			slot.Grams = measure.Grams(math.Floor(likely))
			slot.Cautious = measure.Grams(math.Floor(clamp(low-backlog, 0, likely)))
			given += float64(slot.Grams)
			if slot.Grams > 0 && m.state.SurfaceM2 > 0 {
				rise := float64(slot.Grams)/foodGPerL*settledFood(span) + CoverL(m.state.FedSurfaceM2, s.CoverMM)*settledBedding(span)
				free = max(0, free-rise/m.state.SurfaceM2)
			}
		}
		out = append(out, slot)
	}
	return out
}

// demand sums the appetite of the days until the next visit, and its lower
// quartile.
func (m *Model) demand(from, span int, wormsG, wormSigma float64) (mean, low float64, b Bound) {
	s := *m.rec.Settings
	for d := from; d < from+span; d++ {
		in := m.inputOn(m.rec.AsOf+Day(d), wormsG)
		in.FreeDepthMM = math.Inf(1) // the depth bounds the feeding, not the day
		if in.FedSurfaceM2 == 0 {
			return 0, 0, BoundSurface
		}
		_, src := m.drive.tempC(m.rec.AsOf + Day(d))
		e, bound, _ := appetiteOf(in, s, m.sigma(wormSigma, src))
		mean, low = mean+e.Mean, low+min(e.Mean, e.P25)
		if d == from {
			b = bound
		}
	}
	return mean, low, b
}

// passDay lets the worms eat for one day, the oldest food first, and grow.
func (m *Model) passDay(offset int, stock *herd, old *larder, given float64) float64 {
	day := m.rec.AsOf + Day(offset)
	_, _, lim := DailyAppetite(m.inputOn(day, stock.mix().mean), *m.rec.Settings)
	t, _ := m.drive.tempC(day)
	eaten, _ := old.eat(lim.WormsG, t)
	left := max(0, given-max(0, lim.WormsG-eaten))
	_, g, _ := m.drive.factors(day)
	stock.grow(GrowthRate(m.rec.Bin.Species, t, g))
	return left * math.Exp(-decayPerDay(farm.Plain, t))
}

// capsNow are the go-easy caps; a group that already lies uneaten beyond its
// share of a full feeding gets none of the next.
func (m *Model) capsNow() []GroupCap {
	caps := GroupCaps()
	full := m.state.Appetite.PerDayG.Mean * float64(m.rec.Settings.FeedDays)
	for i, c := range caps {
		for _, b := range m.state.Backlog.ByGroup {
			if b.Group == c.Group && c.Pct < 100 && b.Grams > full*c.Pct/100 {
				caps[i].Pct, caps[i].Source = 0, "more than its share still lies uneaten; otherwise: "+c.Source
			}
		}
	}
	return caps
}

// Split is a proposal to move worms out of a crowded bin.
type Split struct {
	MoveG          float64 // live worms to move
	LeaveG         float64
	DensityKgPerM2 float64
	Why            string
}

// SplitAdvice proposes a split when the stock is crowded: leave the published
// best density of 1.60 kg/m² (Ndegwa et al. 2000), which is advice and not a
// ceiling, and move the rest; never more than two thirds (common practice, no
// source). No split in a bed colder than LittleC or warmer than WatchC.
func SplitAdvice(st State, s Settings) (Split, bool) {
	d := st.DensityKgPerM2.Mean
	if !st.WormsRecorded || d < s.CrowdedKgPerM2 || st.TempC < s.LittleC || st.TempC > s.WatchC {
		return Split{}, false
	}
	move := min(st.Worms.Mean-bestDensityKgPerM2*1000*st.SurfaceM2, st.Worms.Mean*2/3)
	if move <= 0 {
		return Split{}, false
	}
	return Split{MoveG: move, LeaveG: st.Worms.Mean - move, DensityKgPerM2: d,
		Why: "Crowded worms eat and breed less; a split starts a second bin and lets both grow."}, true
}

const bestDensityKgPerM2 = 1.6
