package demo

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

// scrapFact is a material with how much of it comes month by month, in parts of
// all that comes; January first.
type scrapFact struct {
	material string
	months   [12]float64
}

var scrapFacts = []scrapFact{
	{"mixed_kitchen_scraps", [12]float64{4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4}},
	{"vegetable_trimmings", [12]float64{4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4}},
	{"leafy_greens", [12]float64{1, 1, 3, 4, 4, 3, 2, 1, 1, 1, 1, 1}},
	{"potato_peel", [12]float64{2, 2, 2, 1.5, 1, 1, 1, 1, 1.5, 2, 2, 2}},
	{"root_vegetable_peel", [12]float64{2, 2, 1.5, 1, 1, 1, 1, 1, 1, 1.5, 2, 2}},
	{"apples", [12]float64{1, .5, .3, 0, 0, 0, .5, 1.5, 4, 5, 2.5, 1}},
	{"pears_stone_fruit", [12]float64{0, 0, 0, 0, .5, 1, 2, 2, 1.5, 1, .3, 0}},
	{"melon_rind", [12]float64{0, 0, 0, 0, 0, 1.5, 4, 5, 2, 0, 0, 0}},
	{"tomatoes", [12]float64{0, 0, 0, 0, 0, .5, 1.5, 2.5, 2, 1, 0, 0}},
	{"cucumber_courgette", [12]float64{0, 0, 0, 0, .5, 1.5, 2.5, 2, 1, 0, 0, 0}},
	{"pumpkin", [12]float64{0, 0, 0, 0, 0, 0, 0, 0, .3, 1, 2, .5}},
	{"citrus_peel", [12]float64{1.5, 1.2, .8, .4, .2, .2, .2, .2, .2, .3, .6, 1.2}},
	{"banana_peel", [12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}},
	{"coffee_grounds", [12]float64{1.5, 1.5, 1.5, 1.5, 1.5, 1.5, 1.2, .8, 1.5, 1.5, 1.5, 1.5}},
	{"tea_leaves", [12]float64{.6, .6, .5, .4, .4, .3, .3, .3, .4, .5, .6, .6}},
	{"onion_family", [12]float64{.8, .8, .8, .7, .6, .6, .6, .6, .7, .8, .8, .8}},
	{"bread", [12]float64{.5, .5, .5, .5, .5, .5, .5, .4, .5, .5, .5, .7}},
	{"cut_flowers", [12]float64{.1, .3, .2, .2, .3, .3, .2, .2, .2, .2, .2, .2}},
}

// giver is a household or a member that brings scraps.
type giver struct {
	household uuid.UUID
	member    uuid.UUID
	comes     float64 // chance at a window
	grams     float64 // usual
	joined    int     // week
	weighs    bool    // else counts vessels
	coffee    bool    // brings coffee grounds only
}

// gift is what a giver brings to a window.
type gift struct {
	from     giver
	material string
	grams    float64
}

// turnout is how lively drop-offs are on a day: people stay at home in the
// winter lull and are away in August.
func turnout(day measure.Day) float64 {
	_, month, date := day.Date()
	switch {
	case month == 12 && date > 20, month == 1 && date < 8:
		return 0.45
	case month == 1, month == 2:
		return 0.7
	case month == 8:
		return 0.65
	}
	return 1
}

// gifts are what comes to a window on a day.
func gifts(givers []giver, day measure.Day, week int, rng *rand.Rand) []gift {
	var out []gift
	_, month, date := day.Date()
	for _, g := range givers {
		if week < g.joined || rng.Float64() > g.comes*turnout(day) {
			continue
		}
		if g.coffee {
			out = append(out, gift{g, "coffee_grounds", round(g.grams * (0.7 + 0.6*rng.Float64()))})
			continue
		}
		for range 1 + rng.IntN(2) {
			m := drawScraps(int(month)-1, rng)
			out = append(out, gift{g, m, round(g.grams * 0.62 * math.Exp(0.45*rng.NormFloat64()))})
		}
		// The glut: windfalls from late September to October, pumpkins after the last of October.
		switch {
		case (month == 9 && date > 20 || month == 10) && rng.Float64() < 0.12:
			out = append(out, gift{g, "apples", round(7000 + 9000*rng.Float64())})
		case month == 11 && date < 16 && rng.Float64() < 0.2:
			out = append(out, gift{g, "pumpkin", round(3000 + 4000*rng.Float64())})
		}
	}
	return out
}

func drawScraps(month int, rng *rand.Rand) string {
	var sum float64
	for _, f := range scrapFacts {
		sum += f.months[month]
	}
	at := sum * rng.Float64()
	for _, f := range scrapFacts {
		if at -= f.months[month]; at < 0 {
			return f.material
		}
	}
	return scrapFacts[0].material
}

// round is a mass as a kitchen scale shows it, to 10 g.
func round(g float64) float64 { return max(50, 10*math.Round(g/10)) }

// weighed is an amount that stood on a scale.
func weighed(g float64) farm.Entered {
	return farm.Entered{Method: farm.ByScale, Gross: kilograms(g)}
}

// kilograms writes a mass as people do.
func kilograms(g float64) measure.Quantity {
	return measure.Quantity{Value: fmt.Sprintf("%.3f", max(1, math.Round(g))/1000), Unit: measure.Kilogram}
}

// guessed is an amount by eye, to 100 g.
func guessed(g float64) farm.Entered {
	return farm.Entered{Method: farm.ByEstimate, Gross: kilograms(max(100, 100*math.Round(g/100)))}
}
