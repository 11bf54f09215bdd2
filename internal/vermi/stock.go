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
// can't explain: 2 % a day, 20 % over a season (chosen here, no source).
const growthNoise = 0.0005

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
	gain := b.variance / total
	miss := grams - b.mean
	b.mean = max(0, b.mean+gain*miss)
	b.variance *= 1 - gain
	// A wild sight tells little about capacity: its say is cut at three sigma.
	return -0.5 * (math.Log(total) + min(9, miss*miss/total))
}

// wormLookKgPerM2 is the density a trowel look stands for; the relative error
// of one look is lookError (both chosen here, no source).
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

const lookError = 0.9

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

// stockHistory is the believed stock of each day from first to AsOf, and the
// carrying capacity learned.
type stockHistory struct {
	first     Day
	days      []belief
	capacity  float64 // g, posterior mean
	recorded  bool
	surfaceM2 float64
}

func (h *stockHistory) on(d Day) belief {
	i := int(d - h.first)
	return h.days[min(max(i, 0), len(h.days)-1)]
}

// traceStock runs one filter for each carrying capacity of the grid and mixes
// them by how well each foretold the weighings.
func traceStock(r *Record, d *drive, surfaceM2 float64) stockHistory {
	h := stockHistory{first: r.firstDay(), surfaceM2: surfaceM2}
	n := int(r.AsOf-h.first) + 1
	h.days = make([]belief, n)
	runs := make([][]belief, len(capacityGrid))
	logs := make([]float64, len(capacityGrid))
	rates := make([]float64, n)
	for i := range rates {
		day := h.first + Day(i)
		t, _ := d.tempC(day)
		_, g, _ := d.factors(day)
		if fedWithin(r, day, staleDays) {
			rates[i] = GrowthRate(r.Bin.Species, t, g)
		}
	}
	for j, kg := range capacityGrid {
		runs[j], logs[j] = r.runStock(h.first, rates, kg*1000*surfaceM2, surfaceM2)
	}
	weights := softmax(logs)
	for j, w := range weights {
		h.capacity += w * capacityGrid[j] * 1000 * surfaceM2
	}
	for i := range h.days {
		var m, second float64
		for j, w := range weights {
			b := runs[j][i]
			m += w * b.mean
			second += w * (b.variance + b.mean*b.mean)
		}
		h.days[i] = belief{m, max(0, second-m*m)}
	}
	h.recorded = len(r.Transfers)+len(r.Weighings) > 0
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
			b.move(float64(r.Transfers[it].Grams), r.Transfers[it].How.Error())
		}
		for ; iw < len(r.Weighings) && r.Weighings[iw].On <= day; iw++ {
			logL += b.see(float64(r.Weighings[iw].Grams), r.Weighings[iw].How.Error())
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
