package vermi

import (
	"fmt"
	"math"
)

// Loss of dry solids on the way to castings: 50 ± 10 % of feed solids leave as
// carbon dioxide (estimate stated by the authors of a preprint on vermicast
// production; no weighed kitchen-scrap trial was found). Log real weights.
const (
	DryLossLow  = 0.4
	DryLossHigh = 0.6
)

// CastingsG is the wet mass in grams of castings from wet feed by dry-mass
// balance: out = in × (1 − M_in) × (1 − loss) / (1 − M_out), moistures in
// percent, loss as a share.
func CastingsG(feedG, feedMoisturePct, lossShare, castingsMoisturePct float64) float64 {
	if castingsMoisturePct >= 100 {
		return 0
	}
	return feedG * (100 - feedMoisturePct) * (1 - lossShare) / (100 - castingsMoisturePct)
}

// bedHalfDays is how long bedding takes to lose half of itself to the worms at
// best temperature (chosen here, no source: most of it is gone after two of the
// training guide's 75-90 working days).
const bedHalfDays = 80

// CastingsEstimate is what a section would give if emptied now.
type CastingsEstimate struct {
	Section string
	WetG    Estimated
}

// castingsOf balances a section's dry mass since it was last emptied: food
// eaten (by the section's share of what the bin has left), bedding worked
// down, less what was harvested.
func (r *Record) castingsOf(sec Section, l *larder, d *drive) CastingsEstimate {
	from := sec.StartedOn
	for _, h := range r.Harvests {
		if h.Section == sec.ID && h.Emptied {
			from = max(from, h.On+1)
		}
	}
	var fedDry float64
	leftShare := l.leftShares()
	for _, f := range r.Feedings {
		if f.Section != sec.ID || f.On < from {
			continue
		}
		for _, food := range f.Food {
			dry := float64(food.Grams) * (100 - r.material(food.Material).MoisturePct.Value) / 100
			fedDry += dry * (1 - leftShare[poolKey{f.On, food.Material}])
		}
	}
	for _, b := range r.Bedding {
		if b.Section != sec.ID || b.On < from {
			continue
		}
		moisture := b.MoisturePct
		if moisture <= 0 {
			moisture = r.material(b.Material).MoisturePct.Value
		}
		worked := 1 - math.Exp2(-d.effectiveDays(r, b.On, r.AsOf)/bedHalfDays)
		fedDry += float64(b.Grams) * (100 - moisture) / 100 * worked
	}
	var outDry float64
	for _, h := range r.Harvests {
		if h.Section == sec.ID && h.On >= from {
			moisture := h.MoisturePct
			if moisture <= 0 {
				moisture = r.Settings.CastingsMoisturePct
			}
			outDry += float64(h.Grams) * (100 - moisture) / 100
		}
	}
	wet := func(loss float64) float64 {
		return max(0, fedDry*(1-loss)-outDry) * 100 / (100 - r.Settings.CastingsMoisturePct)
	}
	mid := r.Settings.DryLossShare
	spread := (DryLossHigh - DryLossLow) / 2
	return CastingsEstimate{Section: sec.ID, WetG: Estimated{Mean: wet(mid), P05: wet(mid + spread), P25: wet(mid + spread*z75/z95),
		P75: wet(mid - spread*z75/z95), P95: wet(mid - spread)}}
}

type poolKey struct {
	on       Day
	material string
}

// leftShares is the share still uneaten of each material of each feeding day.
func (l *larder) leftShares() map[poolKey]float64 {
	fed, left := map[poolKey]float64{}, map[poolKey]float64{}
	for _, p := range l.pools {
		k := poolKey{p.on, p.material}
		fed[k] += p.fed
		left[k] += p.left
	}
	out := map[poolKey]float64{}
	for k, f := range fed {
		out[k] = clamp(left[k]/f, 0, 1)
	}
	return out
}

// effectiveDays counts days between two as so many at best temperature.
func (d *drive) effectiveDays(r *Record, from, to Day) float64 {
	var sum float64
	for day := from; day < to; day++ {
		t, _ := d.tempC(day)
		sum += TemperatureFactor(r.Bin.Species, t)
	}
	return sum
}

// ReadyOn is when a section's castings are ready: the earliest, likely and
// latest day. Known is false when it was never fed or works too slowly to say.
type ReadyOn struct {
	Section              string
	Known                bool
	Early, Likely, Late  Day
	Ready                bool // likely day has come
	LastFed              Day
	WorkedDays, NeedDays float64 // at best temperature
}

// String says it in a line.
func (r ReadyOn) String() string {
	if !r.Known {
		return "not known yet"
	}
	return fmt.Sprintf("%s (between %s and %s)", r.Likely, r.Early, r.Late)
}

// readySpread is how far either way the working days go: 75-90 d of the
// training guide against 45-60 d (Kauser and Khwairakpam 2022) and 3-6 months
// at home (Oregon State University EM 9034).
const readySpread = 0.3

const readyHorizon = 540 // days looked ahead

// readyOn counts days at best temperature since the section's last feed.
func (r *Record) readyOn(sec Section, d *drive) ReadyOn {
	out := ReadyOn{Section: sec.ID, NeedDays: r.Settings.WorkDays}
	fed := false
	for _, f := range r.Feedings {
		if f.Section == sec.ID && f.On >= sec.StartedOn {
			out.LastFed, fed = f.On, true
		}
	}
	if !fed {
		return out
	}
	out.WorkedDays = d.effectiveDays(r, out.LastFed, r.AsOf)
	var sum float64
	marks := []*Day{&out.Early, &out.Likely, &out.Late}
	wants := []float64{out.NeedDays * (1 - readySpread), out.NeedDays, out.NeedDays * (1 + readySpread)}
	next := 0
	for day := out.LastFed; day < r.AsOf+readyHorizon && next < len(marks); day++ {
		t, _ := d.tempC(day)
		sum += TemperatureFactor(r.Bin.Species, t)
		for next < len(marks) && sum >= wants[next] {
			*marks[next] = day + 1
			next++
		}
	}
	out.Known = next == len(marks)
	out.Ready = out.Known && out.Likely <= r.AsOf
	return out
}
