package demo

import (
	"math"
	"math/rand/v2"

	"midden/internal/measure"
)

// weather is the mean air temperature outdoors, °C, day by day from the first.
// It is invented: a mild coast with a yearly course, weeks that lean one way,
// one heat wave and one cold spell.
type weather struct {
	first measure.Day
	airC  []float64
}

// Of the invented climate.
const (
	yearMeanC  = 14.0
	yearSwingC = 6.5
	heatC      = 11.0
	coldC      = -6.0
)

// newWeather makes the weather for a number of days. The heat wave comes in the
// last July told, the cold spell in the last January.
func newWeather(seed uint64, first measure.Day, days int) weather {
	rng := rand.New(rand.NewPCG(seed, 0x3ea))
	w := weather{first, make([]float64, days)}
	lean := 0.0
	for i := range w.airC {
		day := first.Add(i)
		if day.Weekday() == 1 {
			lean = 0.5*lean + 1.6*rng.NormFloat64()
		}
		// The warmest day is about 5 August, day 217.
		at := 2 * math.Pi * float64(day.UTC().YearDay()-217) / 365.25
		w.airC[i] = yearMeanC + yearSwingC*math.Cos(at) + lean + 0.9*rng.NormFloat64()
	}
	w.spell(7, 12, 9, heatC)
	w.spell(1, 14, 8, coldC)
	return w
}

// spell bends the days from a date of the last year that has all of it.
func (w weather) spell(month, date, days int, byC float64) {
	for i := len(w.airC) - days; i >= 0; i-- {
		if _, m, d := w.first.Add(i).Date(); int(m) != month || d != date {
			continue
		}
		for j := range days {
			w.airC[i+j] += byC * math.Sin(math.Pi*(float64(j)+0.5)/float64(days))
		}
		return
	}
}

// at is the air around the bins of a site: walls hold the year's mean, the more
// the deeper in the ground.
func (w weather) at(day measure.Day, s siteFact) float64 {
	i := day.Sub(w.first)
	air := w.airC[min(max(i, 0), len(w.airC)-1)]
	mean, n := 0.0, 0
	for j := max(0, i-10); j <= i && j < len(w.airC); j++ {
		mean, n = mean+w.airC[j], n+1
	}
	if n > 0 {
		mean /= float64(n)
	} else {
		mean = air
	}
	return s.warmC + (1-s.shelter)*air + s.shelter*(0.5*mean+0.5*yearMeanC)
}
