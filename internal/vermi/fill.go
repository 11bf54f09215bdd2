package vermi

import (
	"math"

	"midden/internal/farm"
)

// setUpDepthMM is the depth of aged bedding of a new bin (common practice: 15
// to 20 cm).
const setUpDepthMM = 170

// Density of a settled bed and of castings, g/L: 1,000 lb/yd3, the planning
// figure for finished compost (NRAES-54, from memory).
const settledGPerL = 593

// settled is how much of the volume laid is left after some days: it sinks from
// the first share to the last, halfway every three weeks (a heap falls to a
// third to a half of its height in trade descriptions, and on from there as it
// is worked; the figures are chosen here).
func settled(first, last float64, days int) float64 {
	return last + (first-last)*math.Exp2(-float64(max(0, days))/21)
}

func settledFood(days int) float64    { return settled(0.8, 0.12, days) }
func settledBedding(days int) float64 { return settled(1, 0.2, days) }

// unseenFull is how full of its depth a bin may be taken to be when nobody
// measured: a keeper would have noticed more (chosen here, no source).
const unseenFull = 0.75

// fillDepth is the mean depth of the bed in millimetres: the last measured
// depths, moved on by what was laid and taken since; or set-up depth when
// nobody measured. measured tells which.
func (r *Record) fillDepth() (mm float64, measured bool) {
	from := r.firstDay()
	mm = min(setUpDepthMM, DepthMM(r.Bin.Shape)/2)
	for _, c := range r.Checks {
		var sum, n float64
		for _, s := range c.Sections {
			if s.DepthMM > 0 {
				sum += s.DepthMM
				n++
			}
		}
		if n > 0 {
			mm, from, measured = sum/n, c.On, true
		}
	}
	litres := VolumeL(r.Bin.Shape, mm)
	for _, f := range r.Feedings {
		if f.On < from || (measured && f.On == from) {
			continue
		}
		for _, food := range f.Food {
			litres += float64(food.Grams) / foodGPerL * settledFood(int(r.AsOf-f.On))
		}
	}
	for _, b := range r.Bedding {
		if b.On > from {
			m := Wetted(r.material(b.Material), b.MoisturePct)
			litres += float64(b.Grams) / m.DensityGPerL.Value * settledBedding(int(r.AsOf-b.On))
		}
	}
	for _, h := range r.Harvests {
		if h.On > from {
			litres -= float64(h.Grams) / settledGPerL
		}
	}
	mm = FillDepthMM(r.Bin.Shape, max(0, litres))
	if !measured {
		mm = min(mm, unseenFull*DepthMM(r.Bin.Shape))
	}
	return mm, measured
}

// bedMoisture is the bed's moisture in percent now: the last squeeze, moved on
// by the food, bedding and water given since, and held by drainage to what a
// drained bed keeps (83 %, a handful that drips). assumed is true when nobody
// ever squeezed.
func (r *Record) bedMoisture(fillMM float64) (pct float64, assumed bool) {
	pct, assumed = assumedMoisturePct, true
	from := r.firstDay()
	for _, c := range r.Checks {
		if m, ok := squeezed(c); ok {
			pct, from, assumed = m, c.On, false
		}
	}
	parts := []Component{{Grams: VolumeL(r.Bin.Shape, fillMM) * settledGPerL, MoisturePct: pct}}
	for _, f := range r.Feedings {
		if f.On >= from {
			for _, food := range f.Food {
				parts = append(parts, ComponentOf(r.material(food.Material), food.Grams))
			}
		}
	}
	for _, b := range r.Bedding {
		if b.On >= from {
			parts = append(parts, ComponentOf(Wetted(r.material(b.Material), b.MoisturePct), b.Grams))
		}
	}
	for _, c := range r.Care {
		if c.On >= from && c.Kind == Watering {
			parts = append(parts, Water(float64(c.Grams)))
		}
	}
	if m, ok := MixMoisturePct(parts); ok && !assumed {
		pct = m
	}
	if top, _ := MoistureOfSqueeze(farm.Squeeze(4)); r.Bin.Drained {
		pct = min(pct, top)
	}
	return pct, assumed
}
