package demo

import (
	"math"
	"math/rand/v2"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/vermi"
)

// twoYears moves every bin of the garden through two years of its weather, fed
// by its keeper's rule, and calls at each evening.
func twoYears(each func(b *bin, day int)) []*bin {
	rng := rand.New(rand.NewPCG(1, 2))
	first := measure.MustDay("2024-01-01")
	w := newWeather(1, first, 730)
	var bins []*bin
	for _, f := range binFacts {
		b := newBin(f)
		b.sections = []section{{stage: farm.Feeding}}
		litres := b.surfaceM2() * 150
		b.put(&b.sections[0], nil, []vermi.Food{{Material: "corrugated_cardboard", Grams: measure.Grams(litres * 65)}}, litres*110)
		b.moveWorms(900 * b.surfaceM2())
		b.rationG = 200
		bins = append(bins, b)
	}
	for i := range 730 {
		day := first.Add(i)
		for _, b := range bins {
			air := w.at(day, siteFacts[b.fact.site])
			if i%5 == 0 {
				if g := b.rationOf(b.check(rng, air, false), 5, rng); g > 0 {
					under := b.fedSurfaceM2() * freshMM
					b.put(&b.sections[0], []vermi.Food{{Material: "mixed_kitchen_scraps", Grams: measure.Grams(g)}},
						[]vermi.Food{{Material: "leaves", Grams: measure.Grams(under * 60)}}, under*80)
				}
			}
			if i%140 == 139 {
				b.harvest(0.4, 0.3)
			}
			b.step(air)
			each(b, i)
		}
	}
	return bins
}

// What goes in comes out, is breathed out or is there: conservation of mass.
func TestDryMatterOfEveryBinIsAccountedForOverTwoYears(t *testing.T) {
	t.Parallel()
	bins := twoYears(func(b *bin, day int) {
		if miss := b.imbalance(); math.Abs(miss) > 1e-6*max(1, b.inDryG) {
			t.Fatalf("%s, day %d: %.6f g of dry matter are missing of %.0f g", b.fact.name, day, miss, b.inDryG)
		}
	})
	for _, b := range bins {
		if b.outDryG <= 0 || b.sim.CO2DryG <= 0 {
			t.Errorf("%s: %.0f g carried out and %.0f g breathed out say nothing", b.fact.name, b.outDryG, b.sim.CO2DryG)
		}
	}
}

func TestBinsThatAreFedByLooksLiveOn(t *testing.T) {
	t.Parallel()
	for _, b := range twoYears(func(*bin, int) {}) {
		if d := b.densityKgPerM2(); d < 0.3 || d > b.fact.carries {
			t.Errorf("%s ends with %.2f kg of worms to the square metre; it carries %.1f", b.fact.name, d, b.fact.carries)
		}
	}
}

func TestOverfeedingABinWithoutADrainTurnsItSour(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 4))
	b := newBin(binFacts[10])
	if !b.fact.sours || b.fact.drained {
		t.Fatalf("%s is not the bin that sours", b.fact.name)
	}
	b.sections = []section{{stage: farm.Feeding}}
	b.put(&b.sections[0], nil, []vermi.Food{{Material: "corrugated_cardboard", Grams: 4000}}, 8000)
	b.moveWorms(500)
	for range 28 {
		b.put(&b.sections[0], []vermi.Food{{Material: "melon_rind", Grams: 1200}}, nil, 0)
		b.step(21)
	}
	if s := b.smell(rng); s != farm.SmellSour && s != farm.SmellRotten {
		t.Fatalf("it smells of %s with %.1f kg/m² uneaten at %.0f %% moisture", s, b.uneatenPerM2(), b.sim.MoisturePct())
	}
	if g := b.rationOf(b.check(rng, 21, false), 5, rng); g != 0 {
		t.Errorf("a keeper who smells it feeds %.0f g on top", g)
	}
}

func TestTheYearHasAHeatWaveAndAColdSpell(t *testing.T) {
	t.Parallel()
	first := measure.MustDay("2024-01-01")
	w := newWeather(7, first, 730)
	hot, cold := -100.0, 100.0
	var hotOn, coldOn measure.Day
	for i, c := range w.airC {
		if c > hot {
			hot, hotOn = c, first.Add(i)
		}
		if c < cold {
			cold, coldOn = c, first.Add(i)
		}
	}
	if hotOn.Month() != 7 || hot < 28 || coldOn.Month() != 1 || cold > 4 {
		t.Errorf("hottest %.1f °C on %s, coldest %.1f °C on %s", hot, hotOn, cold, coldOn)
	}
	july, out := measure.MustDay("2025-07-16"), siteFacts[plot]
	if in := w.at(july, siteFacts[cellar]); in >= w.at(july, out) {
		t.Errorf("the cellar is at %.1f °C in the heat wave, no cooler than outdoors at %.1f °C", in, w.at(july, out))
	}
}

func TestSupplyFollowsTheYear(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(5, 6))
	var givers []giver
	for range 40 {
		givers = append(givers, giver{comes: 0.4, grams: 2000})
	}
	come := func(day string) (by map[string]float64, all float64) {
		by = map[string]float64{}
		for range 40 {
			for _, g := range gifts(givers, measure.MustDay(day), 0, rng) {
				by[g.material] += g.grams
				all += g.grams
			}
		}
		return by, all
	}
	may, inMay := come("2025-05-14")
	autumn, inAutumn := come("2025-10-15")
	pumpkins, _ := come("2025-11-05")
	_, inWinter := come("2025-12-27")
	summer, _ := come("2025-08-06")
	if autumn["apples"] < 5*(may["apples"]+1) || inAutumn < 1.3*inMay {
		t.Errorf("no apple glut: %.0f g in May, %.0f g in October; in all %.0f and %.0f g", may["apples"], autumn["apples"], inMay, inAutumn)
	}
	if inWinter > 0.7*inMay {
		t.Errorf("no winter lull: %.0f g against %.0f g in May", inWinter, inMay)
	}
	if pumpkins["pumpkin"] < 2*autumn["pumpkin"] || summer["melon_rind"] < 1000 || may["melon_rind"] > 0 {
		t.Errorf("pumpkin %.0f g in October, %.0f g in November; melon %.0f g in May, %.0f g in August",
			autumn["pumpkin"], pumpkins["pumpkin"], may["melon_rind"], summer["melon_rind"])
	}
}
