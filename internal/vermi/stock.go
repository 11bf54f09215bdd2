package vermi

import "math"

// Life history of Eisenia under ideal conditions (species table of Earthworm
// Ecology and Edwards 1988, as reprinted): maxima, not forecasts.
const (
	CocoonsPerAdultWeek = 3.8
	HatchShare          = 0.832
	HatchlingsPerCocoon = 3.3
)

// YoungPerAdultWeek is the net young of an adult in a week under ideal
// conditions: cocoons × share that hatch × hatchlings of each.
func YoungPerAdultWeek(cocoons, hatchShare, hatchlings float64) float64 {
	return cocoons * hatchShare * hatchlings
}

// EggToMaturityDays is the span from egg to mature worm: hatching 32-73 d and
// growth 53-76 d of the same table give 85-149 d.
func EggToMaturityDays(hatchLow, hatchHigh, matureLow, matureHigh int) (low, high int) {
	return hatchLow + matureLow, hatchHigh + matureHigh
}

// DoublingDays is how long a stock takes to double in good conditions: the
// middle of 60-90 d (Natural Farmer, NOFA; Munroe's OACC manual, from memory).
// It is far slower than the life history allows, as beds are never ideal.
const DoublingDays = 75

// Carrying capacity in kg of live worms per m² of bed. It is not one number:
// 0.77 on horse manure and above 2.9 on activated sludge (Neuhauser et al.
// 1980), starting stocks of 4.88 (1 lb/ft², Sherman).
const (
	CapacityLowKgPerM2  = 0.8
	CapacityHighKgPerM2 = 5.0
)

// growthNoise is the daily variance of the log of the stock that the model
// can't explain: 3 % a day, 30 % over a season (chosen here, no source).
const growthNoise = 0.001

// GrowthRate is the daily rate of increase of a small stock, 1/day: ln 2 over
// DoublingDays, scaled by temperature (breeding) and moisture.
func GrowthRate(mix []SpeciesShare, tempC, moistureFactor float64) float64 {
	return math.Ln2 / DoublingDays * mixture(mix, tempC, BreedingTemperatures) * moistureFactor
}

// LogisticStep is a stock a day later: W + rW(1 − W/K). K of 0 means no room.
func LogisticStep(grams, ratePerDay, capacityG float64) float64 {
	if capacityG <= 0 {
		return grams
	}
	return max(0, grams+ratePerDay*grams*(1-grams/capacityG))
}

// belief is a stock as mean and variance, in grams.
type belief struct{ mean, variance float64 }

func (b *belief) grow(rate, capacityG float64) {
	if b.mean <= 0 || capacityG <= 0 {
		return
	}
	slope := clamp(1+rate*(1-2*b.mean/capacityG), 0, 2)
	b.mean = LogisticStep(b.mean, rate, capacityG)
	b.variance = slope*slope*b.variance + growthNoise*b.mean*b.mean
}

// move adds (or takes out) a mass known to a relative error.
func (b *belief) move(grams, relErr float64) {
	b.mean = max(0, b.mean+grams)
	b.variance += grams * grams * relErr * relErr
}

// see weighs a sight of the stock in, and returns its log likelihood.
func (b *belief) see(grams, relErr float64) float64 {
	noise := math.Pow(max(grams, 1)*relErr, 2)
	if b.mean <= 0 && b.variance == 0 {
		b.mean, b.variance = grams, noise
		return 0
	}
	total := b.variance + noise
	miss := grams - b.mean
	// A wild sight tells little about capacity: its say is cut at three sigma.
	logL := -0.5 * (math.Log(total) + min(9, miss*miss/total))
	if miss*miss > 4*total {
		// Beyond two sigma the belief was too sure of itself: it is widened
		// until the sight is only two sigma off.
		b.variance = miss*miss/4 - noise
		total = b.variance + noise
	}
	gain := b.variance / total
	b.mean = max(0, b.mean+gain*miss)
	b.variance *= 1 - gain
	return logL
}

// wormLookKgPerM2 is the density a trowel look stands for; the relative error
// of one look is lookError, large because one keeper's looks err alike (both
// chosen here, no source).
func wormLookKgPerM2(w WormLook) (kg float64, ok bool) {
	switch w {
	case WormsNone:
		return 0.05, true
	case WormsFew:
		return 0.4, true
	case WormsSome:
		return 1.2, true
	case WormsMany:
		return 2.5, true
	}
	return 0, false
}

const lookError = 1.5

// unknownStockKgPerM2 stands in when a bin in use has no worm record at all:
// the published best density of 1.60 kg/m² (Ndegwa et al. 2000), halved for
// caution, with an error of its own size.
const unknownStockKgPerM2 = 0.8

// capacityGrid are the carrying capacities weighed against each other.
var capacityGrid = func() []float64 {
	const n = 9
	out := make([]float64, n)
	for i := range out {
		out[i] = CapacityLowKgPerM2 * math.Pow(CapacityHighKgPerM2/CapacityLowKgPerM2, float64(i)/(n-1))
	}
	return out
}()

// herd is the stock believed under each carrying capacity of the grid, with
// the weight of each.
type herd struct {
	at       []belief
	capacity []float64 // g
	weight   []float64
}

// grow moves every belief on a day.
func (h *herd) grow(rate float64) {
	for j := range h.at {
		h.at[j].grow(rate, h.capacity[j])
	}
}

// mix is the stock believed over all capacities.
func (h *herd) mix() belief { return mixBeliefs(h.at, h.weight) }

func (h *herd) clone() herd {
	return herd{append([]belief(nil), h.at...), h.capacity, h.weight}
}

func mixBeliefs(at []belief, weight []float64) belief {
	var m, second float64
	for j, w := range weight {
		m += w * at[j].mean
		second += w * (at[j].variance + at[j].mean*at[j].mean)
	}
	return belief{m, max(0, second-m*m)}
}

// stockHistory is the believed stock of each day from first to AsOf, and where
// it stands then.
type stockHistory struct {
	first    Day
	days     []belief
	now      herd
	capacity float64 // g, posterior mean
	recorded bool
}

func (h *stockHistory) on(d Day) belief {
	i := int(d - h.first)
	return h.days[min(max(i, 0), len(h.days)-1)]
}

// traceStock runs one filter for each carrying capacity of the grid and mixes
// them by how well each foretold the weighings.
func traceStock(r *Record, d *drive, surfaceM2 float64) stockHistory {
	h := stockHistory{first: r.firstDay(), recorded: len(r.Transfers)+len(r.Weighings) > 0}
	n := int(r.AsOf-h.first) + 1
	h.days = make([]belief, n)
	rates := make([]float64, n)
	for i := range rates {
		day := h.first + Day(i)
		if fedWithin(r, day, staleDays) {
			t, _ := d.tempC(day)
			_, g, _ := d.factors(day)
			rates[i] = GrowthRate(r.Bin.Species, t, g)
		}
	}
	runs := make([][]belief, len(capacityGrid))
	logs := make([]float64, len(capacityGrid))
	for j, kg := range capacityGrid {
		capacityG := kg * 1000 * surfaceM2
		h.now.capacity = append(h.now.capacity, capacityG)
		runs[j], logs[j] = r.runStock(h.first, rates, capacityG, surfaceM2)
		h.now.at = append(h.now.at, runs[j][n-1])
	}
	h.now.weight = softmax(logs)
	for j, w := range h.now.weight {
		h.capacity += w * h.now.capacity[j]
	}
	at := make([]belief, len(runs))
	for i := range h.days {
		for j := range runs {
			at[j] = runs[j][i]
		}
		h.days[i] = mixBeliefs(at, h.now.weight)
	}
	return h
}

func fedWithin(r *Record, day, days Day) bool {
	for i := len(r.Feedings) - 1; i >= 0; i-- {
		if on := r.Feedings[i].On; on <= day {
			return day-on <= days
		}
	}
	return false
}

func softmax(logs []float64) []float64 {
	top := math.Inf(-1)
	for _, l := range logs {
		top = max(top, l)
	}
	out := make([]float64, len(logs))
	var sum float64
	for i, l := range logs {
		out[i] = math.Exp(l - top)
		sum += out[i]
	}
	for i := range out {
		out[i] /= sum
	}
	return out
}

// runStock filters the records at one carrying capacity. Within a day:
// transfers, then weighings and looks; growth follows to the next day.
func (r *Record) runStock(first Day, rates []float64, capacityG, surfaceM2 float64) ([]belief, float64) {
	var b belief
	if len(r.Transfers)+len(r.Weighings) == 0 && r.Bin.Status != "" {
		g := unknownStockKgPerM2 * 1000 * surfaceM2
		b = belief{g, g * g}
	}
	out := make([]belief, len(rates))
	var logL float64
	it, iw, ic := 0, 0, 0
	for i := range rates {
		day := first + Day(i)
		for ; it < len(r.Transfers) && r.Transfers[it].On <= day; it++ {
			b.move(float64(r.Transfers[it].Grams), relativeError(r.Transfers[it].RelSDPermille))
		}
		for ; iw < len(r.Weighings) && r.Weighings[iw].On <= day; iw++ {
			logL += b.see(float64(r.Weighings[iw].Grams), relativeError(r.Weighings[iw].RelSDPermille))
		}
		for ; ic < len(r.Checks) && r.Checks[ic].On <= day; ic++ {
			if kg, n := lookDensity(r.Checks[ic]); n > 0 && b.mean > 0 {
				logL += b.see(kg*1000*surfaceM2, lookError/math.Sqrt(float64(n)))
			}
		}
		out[i] = b
		b.grow(rates[i], capacityG)
	}
	return out, logL
}

// relativeError is a spread as a fraction; no mass of worms is known exactly.
func relativeError(permille int) float64 { return float64(max(1, permille)) / 1000 }

func lookDensity(c Check) (kgPerM2 float64, sections int) {
	for _, s := range c.Sections {
		if kg, ok := wormLookKgPerM2(s.Worms); ok {
			kgPerM2 += kg
			sections++
		}
	}
	if sections > 0 {
		kgPerM2 /= float64(sections)
	}
	return kgPerM2, sections
}
