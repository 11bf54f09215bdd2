package vermi

import "midden/internal/farm"

// Cardinal are the cardinal temperatures of a response in °C: nothing happens
// at or beyond Min and Max, most at Opt. Opt must lie above the middle of Min
// and Max, or the model's curve is not one-humped.
type Cardinal struct{ Min, Opt, Max float64 }

// Response is the cardinal temperature model with inflection, between 0 and 1:
//
//	(T−Tmax)(T−Tmin)² / ((Topt−Tmin)[(Topt−Tmin)(T−Topt) − (Topt−Tmax)(Topt+Tmin−2T)])
//
// Source: Rosso, Lobry and Flandrois 1993, J. theor. Biol. 162:447-463.
func (c Cardinal) Response(tempC float64) float64 {
	if !(tempC > c.Min && tempC < c.Max) {
		return 0
	}
	num := (tempC - c.Max) * (tempC - c.Min) * (tempC - c.Min)
	den := (c.Opt - c.Min) * ((c.Opt-c.Min)*(tempC-c.Opt) - (c.Opt-c.Max)*(c.Opt+c.Min-2*tempC))
	if den == 0 {
		return 0
	}
	return clamp(num/den, 0, 1)
}

// FeedingTemperatures are the cardinal temperatures of eating.
//
// Eisenia: sources disagree. Breeding is best at 15-20 °C within limits of 4
// and 30 (Earthworm Ecology, Table 18.3), gain at 20-29 °C (Kaplan et al.
// 1980), a species table gives 3-35 and an ideal of 21-27, home guidance sees
// deaths above 32 °C. We show the band 15-27 and take 4, 23, 33.
// Dendrobaena: 15-25 (Viljoen 1991), table 3-32 with an ideal of 15-21: we take
// 3, 20, 32. Perionyx: growth fastest at 30, breeding at 25, dies below 9
// (Edwards 1998); a web summary says it also dies above 30, so we take 9, 27,
// 33. Mixed beds are taken as Eisenia (common practice, no source).
func FeedingTemperatures(s farm.Species) Cardinal {
	switch s {
	case farm.Dendrobaena:
		return Cardinal{3, 20, 32}
	case farm.Perionyx:
		return Cardinal{9, 27, 33}
	}
	return Cardinal{4, 23, 33}
}

// BreedingTemperatures are the cardinal temperatures of increase. Eisenia:
// optimum 15-20 within 4 and 30 (Earthworm Ecology, Table 18.3), most cocoons
// at 20 (van Gestel et al. 1992). Dendrobaena 15-25 (Viljoen 1991), Perionyx
// 25 (Hallatt et al. 1990).
func BreedingTemperatures(s farm.Species) Cardinal {
	switch s {
	case farm.Dendrobaena:
		return Cardinal{3, 19, 30}
	case farm.Perionyx:
		return Cardinal{9, 25, 31}
	}
	return Cardinal{4, 20, 30}
}

// SpeciesShare is how much of a bin's worms, by live mass, is of one group.
type SpeciesShare struct {
	Species farm.Species
	Share   float64
}

// mixture averages a response over the species of a bin by mass; none named
// means Eisenia.
func mixture(mix []SpeciesShare, tempC float64, of func(farm.Species) Cardinal) float64 {
	var sum, share float64
	for _, s := range mix {
		w := max(0, s.Share)
		sum += w * of(s.Species).Response(tempC)
		share += w
	}
	if share == 0 {
		return of(farm.Eisenia).Response(tempC)
	}
	return sum / share
}

// TemperatureFactor is f(T), 0 to 1, for the worms of a bin.
func TemperatureFactor(mix []SpeciesShare, tempC float64) float64 {
	return mixture(mix, tempC, FeedingTemperatures)
}

// line is a broken line through points sorted by x, flat beyond the ends.
func line(x float64, pts [][2]float64) float64 {
	if x <= pts[0][0] {
		return pts[0][1]
	}
	for i := 1; i < len(pts); i++ {
		if x <= pts[i][0] {
			a, b := pts[i-1], pts[i]
			return a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
		}
	}
	return pts[len(pts)-1][1]
}

// MoistureFactor is g, 0 to 1, at a bed moisture in percent of wet mass: full
// at 70-85 % (Kaplan et al. 1980), tolerated from 60 to 90 % (Earthworm
// Ecology, Table 18.3). The heights at the ends of the tolerated span and the
// feet at 45 and 95 % are chosen here (no source).
func MoistureFactor(moisturePct float64) float64 {
	return line(moisturePct, [][2]float64{{45, 0}, {60, 0.5}, {70, 1}, {85, 1}, {90, 0.5}, {95, 0}})
}

// MoistureOfSqueeze is the moisture in percent that a squeezed handful stands
// for; ok is false for a grade that is not 1 to 5. Common practice, no source:
// a wrung sponge is taken as the middle of 70 to 80 %.
func MoistureOfSqueeze(s farm.Squeeze) (pct float64, ok bool) {
	if !s.Valid() {
		return 0, false
	}
	return [...]float64{35, 58, 74, 83, 91}[s-1], true
}

// StressFactor is h, 0 to 1, from what a check found: sour, rotten or ammonia
// smell, and worms leaving. The heights are chosen here (no source); the signs
// themselves are those of extension guides.
func StressFactor(smell farm.Smell, leaving bool) float64 {
	h := 1.0
	switch smell {
	case farm.SmellSour:
		h = 0.6
	case farm.SmellRotten:
		h = 0.4
	case farm.SmellAmmonia:
		h = 0.3
	}
	if leaving {
		h *= 0.5
	}
	return h
}
