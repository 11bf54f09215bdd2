package demo

import (
	"math"
	"math/rand/v2"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/vermi"
)

// wormDryShare is the dry share of a live worm, as the simulation takes it.
var wormDryShare = func() float64 { one := vermi.SimBin{WormG: 1}; return one.DryG() }()

// bin is one bin: what is true of it, and what its keepers go by.
type bin struct {
	fact     binFact
	id       uuid.UUID
	sections []section
	position int // of the section that is fed, along the bin
	status   farm.BinStatus
	sim      vermi.SimBin
	today    vermi.Fed // goes in before the day is over
	inDryG   float64   // dry matter that ever went in
	outDryG  float64   // dry matter that was carried out; what was breathed out is the simulation's to say

	rationG   float64 // what the keeper takes a feeding to be
	looks     int
	lastVisit measure.Day
	lastFed   measure.Day
	firstFeed measure.Day // not before this day
	lastTurn  measure.Day
	harvested measure.Day
	rescue    int // steps of a rescue still to come
	rescueOn  measure.Day
	splitOn   measure.Day
}

// section is a stretch of a bin as the books know it.
type section struct {
	id      uuid.UUID
	name    string
	stage   farm.Stage
	begun   measure.Day
	lastFed measure.Day
	dryG    float64 // food and bedding that went in since it was emptied
	emptied bool
	wormsG  float64 // on its books
	lure    *lure
}

type lure struct {
	id    uuid.UUID
	next  measure.Day
	lifts int
	step  farm.LureStepKind // that comes next
}

func newBin(f binFact) *bin {
	if f.species == "" {
		f.species = farm.Eisenia
	}
	b := &bin{fact: f}
	b.sim = vermi.NewSimBin(vermi.Bin{Shape: f.shape, Method: f.method, Drained: f.drained, Outdoor: f.site == plot,
		Species: []vermi.SpeciesShare{{Species: f.species, Share: 1}}}, f.eats, f.carries, 0, 0, 0, yearMeanC)
	return b
}

// fed is the section that food goes on; nil when none is.
func (b *bin) fed() *section {
	for i := len(b.sections) - 1; i >= 0; i-- {
		if s := &b.sections[i]; s.stage == farm.Feeding || b.fact.method == farm.Batch && s.stage == farm.Working {
			return s
		}
	}
	return nil
}

// put is food, bedding and water laid into a section today.
func (b *bin) put(s *section, food, bedding []vermi.Food, waterG float64) {
	b.today.Food = append(b.today.Food, food...)
	b.today.Bedding = append(b.today.Bedding, bedding...)
	b.today.WaterG += waterG
	dry := dryOf(food) + dryOf(bedding)
	b.inDryG += dry
	if s != nil {
		s.dryG += dry
	}
}

func dryOf(list []vermi.Food) (g float64) {
	for _, f := range list {
		g += float64(f.Grams) * (100 - catalogue[f.Material].MoisturePct.Value) / 100
	}
	return g
}

// catalogue by key.
var catalogue = func() map[string]farm.Material {
	out := map[string]farm.Material{}
	for _, m := range vermi.Catalogue() {
		out[m.Key] = m
	}
	return out
}()

// step lets a day pass in an air.
func (b *bin) step(airC float64) {
	b.sim = vermi.Step(b.sim, vermi.Weather{AirC: airC}, b.today)
	b.today = vermi.Fed{}
}

// moveWorms brings worms in, or takes some out, and gives the grams that moved.
func (b *bin) moveWorms(g float64) float64 {
	var moved float64
	b.sim, moved = vermi.MoveWorms(b.sim, g)
	if moved > 0 {
		b.inDryG += moved * wormDryShare
	} else {
		b.outDryG -= moved * wormDryShare
	}
	return moved
}

// harvest takes a share of the castings out, and of the bedding that is still
// among them, and gives the wet grams.
func (b *bin) harvest(share, bedding float64) float64 {
	before := b.sim.DryG()
	rough := b.sim.BeddingDryG * bedding
	water := 0.0
	if dry := b.sim.BeddingDryG + b.sim.CastingsDryG; dry > 0 {
		water = b.sim.WaterG * rough / dry
	}
	b.sim.BeddingDryG -= rough
	b.sim.WaterG -= water
	var wet float64
	b.sim, wet = vermi.HarvestSim(b.sim, share)
	wet += rough + water
	b.outDryG += before - b.sim.DryG()
	return wet
}

// takeFood takes up to so many grams of a material out again.
func (b *bin) takeFood(material string, g float64) (taken float64) {
	food := append([]vermi.SimFood(nil), b.sim.Food...)
	before := b.sim.DryG()
	for i := range food {
		wet := food[i].DryG + food[i].WaterG
		if food[i].Material != material || wet <= 0 {
			continue
		}
		share := min(1, (g-taken)/wet)
		food[i].DryG -= share * food[i].DryG
		food[i].WaterG -= share * food[i].WaterG
		taken += share * wet
	}
	b.sim.Food = food
	b.outDryG += before - b.sim.DryG()
	return taken
}

// share moves part of a bin's bed with its worms into another bin.
func (b *bin) share(to *bin, part float64) (wormsG float64) {
	wormsG = b.sim.WormG * part
	before, there := b.sim.DryG(), to.sim.DryG()
	for _, x := range []struct{ from, to *float64 }{{&b.sim.WormG, &to.sim.WormG}, {&b.sim.BeddingDryG, &to.sim.BeddingDryG},
		{&b.sim.CastingsDryG, &to.sim.CastingsDryG}, {&b.sim.WaterG, &to.sim.WaterG}} {
		g := *x.from * part
		*x.from -= g
		*x.to += g
	}
	b.outDryG += before - b.sim.DryG()
	to.inDryG += to.sim.DryG() - there
	return wormsG
}

// imbalance is the dry matter that is not accounted for, in grams: what went in
// less what was carried out, breathed out and is still there.
func (b *bin) imbalance() float64 {
	return b.inDryG - dryOf(b.today.Food) - dryOf(b.today.Bedding) - b.outDryG - b.sim.CO2DryG - b.sim.DryG()
}

// uneatenPerM2 is the uneaten food on a square metre, in kilograms.
func (b *bin) uneatenPerM2() float64 { return b.sim.UneatenG() / 1000 / b.surfaceM2() }

func (b *bin) surfaceM2() float64 {
	return vermi.SurfaceM2(b.fact.shape, vermi.DepthMM(b.fact.shape)/2)
}

func (b *bin) fedSurfaceM2() float64 {
	return vermi.FedSurfaceM2(b.fact.shape, vermi.DepthMM(b.fact.shape)/2, 50)
}

// densityKgPerM2 is the live worms on a square metre.
func (b *bin) densityKgPerM2() float64 { return b.sim.WormG / 1000 / b.surfaceM2() }

// Grams in a litre of the bed: castings with their water lie as settled compost
// does, worked bedding much looser (chosen here).
const (
	castingsGPerL = 600
	looseGPerL    = 260
)

// depthMM is how deep the bed lies.
func (b *bin) depthMM() float64 {
	dry := b.sim.BeddingDryG + b.sim.CastingsDryG
	if dry <= 0 {
		return 0
	}
	loose := b.sim.BeddingDryG / dry
	bed := dry + b.sim.WaterG
	litres := bed*(1-loose)/castingsGPerL + bed*loose/looseGPerL + b.sim.UneatenG()/500
	return vermi.FillDepthMM(b.fact.shape, litres)
}

// smell is what a nose says: food in a heap or a drowned bed goes sour.
func (b *bin) smell(rng *rand.Rand) farm.Smell {
	wet, heap := b.sim.MoisturePct(), b.uneatenPerM2()
	switch {
	case wet > 87 && heap > 4:
		return farm.SmellRotten
	case wet > 85 || heap > 9:
		return farm.SmellSour
	case rng.Float64() < 0.2:
		return farm.SmellNothing
	}
	return farm.SmellEarth
}

// read is a thermometer's reading, to half a degree.
func read(rng *rand.Rand, c float64) *float64 {
	v := math.Round(2*(c+0.4*rng.NormFloat64())) / 2
	return &v
}

// wormGrade is how many lie under a trowel.
func wormGrade(kgPerM2 float64, rng *rand.Rand) (farm.WormGrade, []int) {
	var counts []int
	sum := 0.0
	for range 3 {
		n := int(math.Round(max(0, kgPerM2*8*(1+0.35*rng.NormFloat64()))))
		counts, sum = append(counts, n), sum+float64(n)/3
	}
	switch {
	case sum < 1.0/3 && kgPerM2 <= 0:
		return farm.NoWorms, counts
	case sum < 6:
		return farm.FewWorms, counts
	case sum < 15:
		return farm.SomeWorms, counts
	}
	return farm.ManyWorms, counts
}

// check is what a keeper sees: quick, or into every section.
func (b *bin) check(rng *rand.Rand, airC float64, full bool) farm.Check {
	c := farm.Check{BinID: b.id, Kind: farm.QuickCheck, Smell: b.smell(rng), FoodLeft: b.sim.LastLeft(), BedC: read(rng, b.sim.TempC),
		FeedC: read(rng, b.sim.TempC+min(6, b.uneatenPerM2()/2)), RoomC: read(rng, airC), Thermometer: farm.Probe}
	c.SqueezeBottom = b.sim.Squeeze()
	c.SqueezeTop = c.SqueezeBottom
	if dryTop := rng.Float64(); c.SqueezeBottom >= 4 && dryTop < 0.7 || dryTop < 0.05 {
		c.SqueezeTop = max(1, c.SqueezeTop-1)
	}
	if rng.Float64() < 0.04 {
		c.SqueezeBottom = min(5, c.SqueezeBottom+1)
	}
	if c.FoodLeft != farm.LeftNone {
		for _, f := range b.sim.Food {
			if f.DryG+f.WaterG > 30 && len(c.LeftOf) < 3 && !contains(c.LeftOf, f.Material) {
				c.LeftOf = append(c.LeftOf, f.Material)
			}
		}
	}
	if b.sim.TempC > 18 && b.uneatenPerM2() > 1.5 && rng.Float64() < 0.15 {
		c.Pests = append(c.Pests, farm.FruitFlies)
	}
	c.Leaving = c.Smell == farm.SmellRotten
	if !full {
		return c
	}
	c.Kind = farm.FullCheck
	for i := range b.sections {
		depth := int(math.Round((b.depthMM()+8*rng.NormFloat64())/5) * 5)
		depth = min(max(depth, 20), int(vermi.DepthMM(b.fact.shape)))
		look := farm.SectionLook{SectionID: b.sections[i].id, DepthMM: &depth}
		here := b.densityKgPerM2()
		if st := b.sections[i].stage; st == farm.Maturing || st == farm.Finished {
			here *= 0.4
		}
		look.Worms, look.PerTrowel = wormGrade(here, rng)
		if look.Worms == farm.NoWorms {
			look.Worms = farm.FewWorms // one more place finds some
		}
		c.Sections = append(c.Sections, look)
	}
	return c
}

func contains[T comparable](list []T, v T) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}

// rationOf is the keeper's rule: give what was mostly eaten last time, a little
// more when nothing was left, less when half was, nothing while most lies there.
// It moves what the keeper takes a feeding to be and gives today's.
func (b *bin) rationOf(c farm.Check, days int, rng *rand.Rand) float64 {
	most := 0.7 * 1000 * b.fedSurfaceM2() * float64(days) // the common surface load
	switch c.FoodLeft {
	case farm.LeftNone:
		b.rationG = min(b.rationG*1.2, 1.2*most)
	case farm.LeftHalf:
		b.rationG *= 0.85
	case farm.LeftMost:
		b.rationG *= 0.75
	}
	b.rationG = max(b.rationG, 120)
	g := min(b.rationG, most) * (0.9 + 0.2*rng.Float64())
	bed := *c.BedC
	switch {
	case c.FoodLeft == farm.LeftMost, c.Smell == farm.SmellSour, c.Smell == farm.SmellRotten, *c.FeedC >= 27, c.SqueezeBottom >= 5, bed < 4:
		return 0
	case bed < 10:
		return 0.35 * g
	case c.SqueezeBottom >= 4:
		return 0.6 * g
	}
	return g
}
