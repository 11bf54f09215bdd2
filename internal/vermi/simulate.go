package vermi

import (
	"math"

	"midden/internal/farm"
	"midden/internal/measure"
)

// SimBin is an invented bin known exactly, in grams, for demonstrations and
// tests. Unlike State it is not what is believed of a bin but what is true of
// it. Step moves it on a day; every gram of dry matter and of water that goes
// in is in a part of it or in one of its running totals.
type SimBin struct {
	Bin          Bin
	K            float64 // kg scraps per kg live worms per day
	CapacityG    float64 // carrying capacity, live grams
	WormG        float64 // live
	Food         []SimFood
	BeddingDryG  float64
	CastingsDryG float64
	WaterG       float64 // of bedding and castings
	TempC        float64

	CO2DryG     float64 // dry matter breathed out so far
	EvaporatedG float64
	DrainedG    float64
	lastFedG    float64
}

// SimFood is uneaten food of one material.
type SimFood struct {
	Material string
	Group    farm.Group
	DryG     float64
	WaterG   float64
	last     bool // of the last feeding
}

// Weather is a day's mean air temperature around a bin, °C.
type Weather struct{ AirC float64 }

// Fed is what goes into a bin on a day.
type Fed struct {
	Food    []Food
	Bedding []Food
	WaterG  float64
	WormsG  measure.Grams // live worms put in
}

// wormDryShare is the dry share of a live worm (about 16-20 % in biology
// texts, from memory).
const wormDryShare = 0.18

// Figures of the simulation, chosen to be sane and not to forecast: heat of
// oxidised matter 15 kJ/g and of the wet bed 3.5 J/g/K (physics, rounded); most
// of the difference to the air is lost in a day; a tenth of what is eaten may
// become worm; bedding is worked down with bedHalfDays; 150 g/m² evaporate in
// a day at 20 °C, doubling every 10 °C.
const (
	oxidationJPerG   = 15000
	bedJPerGK        = 3.5
	airExchange      = 0.7
	worksIntoWorm    = 0.1
	evaporateGPerM2  = 150
	drainsAbovePct   = 82
	starvingShare    = 0.05 // of full appetite
	dailyStarved     = 0.005
	dailyHeatOrFrost = 0.2
)

// NewSimBin is a bin freshly laid with wetted bedding and worms.
func NewSimBin(b Bin, k, capacityKgPerM2, wormsG, beddingDryG, moisturePct, tempC float64) SimBin {
	moisturePct = clamp(moisturePct, 0, 95)
	surface := SurfaceM2(b.Shape, DepthMM(b.Shape)/2)
	return SimBin{Bin: b, K: k, CapacityG: capacityKgPerM2 * 1000 * surface, WormG: wormsG, BeddingDryG: beddingDryG,
		WaterG: beddingDryG * moisturePct / (100 - moisturePct), TempC: tempC}
}

// Step is the bin a day later: fed, warmed or cooled, eaten from, decayed,
// evaporated and drained. It leaves b as it was.
func Step(b SimBin, w Weather, fed Fed) SimBin {
	b.Food = append([]SimFood(nil), b.Food...)
	b.take(fed)
	eatenDry, oxidised := b.eat()
	oxidised += b.decay()
	b.live(eatenDry)
	mass := b.bedG()
	b.TempC += airExchange * (w.AirC - b.TempC)
	if mass > 0 {
		b.TempC += min(15, oxidised*oxidationJPerG/(max(mass, 1000)*bedJPerGK))
	}
	b.dryOut()
	return b
}

func (b *SimBin) take(fed Fed) {
	materials := publishedMaterials()
	look := func(key string) farm.Material {
		if m, ok := materials[key]; ok {
			return m
		}
		return materials["mixed_kitchen_scraps"]
	}
	if len(fed.Food) > 0 {
		b.lastFedG = 0
		for i := range b.Food {
			b.Food[i].last = false
		}
	}
	for _, f := range fed.Food {
		m, g := look(f.Material), max(0, float64(f.Grams))
		dry := g * (100 - m.MoisturePct.Value) / 100
		b.Food = append(b.Food, SimFood{Material: f.Material, Group: m.Group, DryG: dry, WaterG: g - dry, last: true})
		b.lastFedG += g
	}
	for _, f := range fed.Bedding {
		m, g := look(f.Material), max(0, float64(f.Grams))
		dry := g * (100 - m.MoisturePct.Value) / 100
		b.BeddingDryG += dry
		b.WaterG += g - dry
	}
	b.WaterG += max(0, fed.WaterG)
	b.WormG += max(0, float64(fed.WormsG))
}

// eat lets the worms eat for a day; it returns dry matter eaten and oxidised.
func (b *SimBin) eat() (eatenDry, oxidised float64) {
	f := TemperatureFactor(b.Bin.Species, b.TempC)
	want := b.K * b.WormG * f * MoistureFactor(b.MoisturePct())
	var sum float64
	for _, p := range b.Food {
		sum += (p.DryG + p.WaterG) * taste(p.Group)
	}
	for i := range b.Food {
		p := &b.Food[i]
		wet := p.DryG + p.WaterG
		if sum <= 0 || wet <= 0 {
			continue
		}
		share := min(1, want*taste(p.Group)/sum)
		eatenDry += share * p.DryG
		b.WaterG += share * p.WaterG
		p.DryG -= share * p.DryG
		p.WaterG -= share * p.WaterG
	}
	worked := b.BeddingDryG * (1 - math.Exp2(-f/bedHalfDays)) * clamp(b.WormG/max(1, b.CapacityG), 0, 1)
	b.BeddingDryG -= worked
	// Half of what is worked leaves as carbon dioxide; live() turns part of the
	// castings' half into worm.
	oxidised = (eatenDry + worked) * 0.5
	b.CO2DryG += oxidised
	b.CastingsDryG += eatenDry + worked - oxidised
	return eatenDry, oxidised
}

// decay lets microbes at what is left; half of it leaves as carbon dioxide.
func (b *SimBin) decay() (oxidised float64) {
	kept := b.Food[:0]
	for _, p := range b.Food {
		lost := 1 - math.Exp(-decayPerDay(p.Group, b.TempC))
		if p.DryG+p.WaterG < crumb {
			lost = 1
		}
		dry, water := p.DryG*lost, p.WaterG*lost
		p.DryG -= dry
		p.WaterG -= water
		b.WaterG += water
		b.CastingsDryG += dry / 2
		b.CO2DryG += dry / 2
		oxidised += dry / 2
		if lost < 1 {
			kept = append(kept, p)
		}
	}
	b.Food = kept
	return oxidised
}

// live lets the stock grow on what was eaten, or shrink from hunger, heat,
// frost or crowding; the dead go to the castings.
func (b *SimBin) live(eatenDry float64) {
	rate := GrowthRate(b.Bin.Species, b.TempC, MoistureFactor(b.MoisturePct()))
	change := LogisticStep(b.WormG, rate, b.CapacityG) - b.WormG
	if change > 0 {
		change = min(change, eatenDry*worksIntoWorm/wormDryShare, b.CastingsDryG/wormDryShare, b.WaterG/(1-wormDryShare))
	}
	// A kilogram of worms at full appetite eats K kilograms of food that is a
	// fifth dry.
	if eatenDry < starvingShare*b.K*b.WormG/5 && b.TempC > 10 {
		change = min(change, 0) - dailyStarved*b.WormG
	}
	if b.TempC > 33 || b.TempC < 0 {
		change = min(change, 0) - dailyHeatOrFrost*b.WormG
	}
	change = max(change, -b.WormG)
	b.WormG += change
	b.CastingsDryG -= change * wormDryShare
	b.WaterG -= change * (1 - wormDryShare)
}

func (b *SimBin) dryOut() {
	surface := SurfaceM2(b.Bin.Shape, DepthMM(b.Bin.Shape)/2)
	gone := min(b.WaterG, evaporateGPerM2*surface*math.Exp2((clamp(b.TempC, 0, 45)-20)/10))
	b.WaterG -= gone
	b.EvaporatedG += gone
	if b.Bin.Drained {
		dry := b.BeddingDryG + b.CastingsDryG
		spill := max(0, b.WaterG-dry*drainsAbovePct/(100-drainsAbovePct))
		b.WaterG -= spill
		b.DrainedG += spill
	}
}

// bedG is the wet mass of the bed with its food, grams.
func (b *SimBin) bedG() float64 { return b.BeddingDryG + b.CastingsDryG + b.WaterG + b.UneatenG() }

// DryG is all dry matter in the bin, worms included.
func (b *SimBin) DryG() float64 {
	sum := b.BeddingDryG + b.CastingsDryG + b.WormG*wormDryShare
	for _, p := range b.Food {
		sum += p.DryG
	}
	return sum
}

// AllWaterG is all water in the bin, in food and worms too.
func (b *SimBin) AllWaterG() float64 {
	sum := b.WaterG + b.WormG*(1-wormDryShare)
	for _, p := range b.Food {
		sum += p.WaterG
	}
	return sum
}

// UneatenG is the wet mass of food not yet eaten.
func (b *SimBin) UneatenG() float64 {
	var sum float64
	for _, p := range b.Food {
		sum += p.DryG + p.WaterG
	}
	return sum
}

// MoisturePct is the moisture of bedding and castings, percent of wet mass.
func (b *SimBin) MoisturePct() float64 {
	dry := b.BeddingDryG + b.CastingsDryG
	if dry+b.WaterG <= 0 {
		return 0
	}
	return 100 * b.WaterG / (dry + b.WaterG)
}

// LastLeft is the grade a keeper would give to what is left of the last feed.
func (b *SimBin) LastLeft() farm.FoodLeft {
	var left float64
	for _, p := range b.Food {
		if p.last {
			left += p.DryG + p.WaterG
		}
	}
	return GradeLeft(left, b.lastFedG)
}

// GradeLeft is the grade of a mass left out of a mass fed.
func GradeLeft(leftG, fedG float64) farm.FoodLeft {
	if fedG <= 0 {
		return farm.LeftNone
	}
	for _, grade := range []farm.FoodLeft{farm.LeftNone, farm.LeftLittle, farm.LeftHalf} {
		if _, hi, _ := leftBounds(grade); leftG/fedG <= hi {
			return grade
		}
	}
	return farm.LeftMost
}

// Squeeze is the grade a squeezed handful of this bin would get.
func (b *SimBin) Squeeze() farm.Squeeze {
	best := farm.Squeeze(1)
	for s := farm.Squeeze(1); s.Valid(); s++ {
		at, _ := MoistureOfSqueeze(s)
		was, _ := MoistureOfSqueeze(best)
		if math.Abs(at-b.MoisturePct()) < math.Abs(was-b.MoisturePct()) {
			best = s
		}
	}
	return best
}

// HarvestSim takes a share of the castings out with their water, and returns
// the bin left and the wet grams taken. The worms stay.
func HarvestSim(b SimBin, share float64) (SimBin, float64) {
	share = clamp(share, 0, 1)
	b.Food = append([]SimFood(nil), b.Food...)
	dry := b.CastingsDryG * share
	water := 0.0
	if bed := b.BeddingDryG + b.CastingsDryG; bed > 0 {
		water = b.WaterG * dry / bed
	}
	b.CastingsDryG -= dry
	b.WaterG -= water
	return b, dry + water
}

// MoveWorms takes live worms out (negative) or puts them in, never below none,
// and returns the grams moved.
func MoveWorms(b SimBin, grams float64) (SimBin, float64) {
	b.Food = append([]SimFood(nil), b.Food...)
	grams = max(grams, -b.WormG)
	b.WormG += grams
	return b, grams
}
