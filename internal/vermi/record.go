package vermi

import (
	"sort"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Record is all that is known of one bin, in any order. Entries after AsOf are
// not used by Estimate; feedings after AsOf are the plan that Forecast follows.
// The zero values of Materials, Prior and Settings mean the published ones.
type Record struct {
	AsOf      Day
	Bin       Bin
	Sections  []Section
	Feedings  []Feeding
	Checks    []Check
	Transfers []Transfer
	Weighings []WormWeighing
	Harvests  []Harvest
	Bedding   []BeddingLaid
	Care      []Care
	Temps     []Temp
	Expected  []float64 // expected bed °C for AsOf+1, AsOf+2, …; the last one holds on
	Materials map[string]farm.Material
	Prior     AppetitePrior
	Settings  *Settings

	groups map[string]farm.Group // of the materials fed; filled by prepared
}

// Bin is what a bin is.
type Bin struct {
	Shape   farm.Shape
	Method  farm.Method
	Status  farm.BinStatus
	Drained bool
	Outdoor bool
	Species []SpeciesShare
	SetUpOn Day // the day worms went in
}

// Section is a stretch of a bin.
type Section struct {
	ID        string
	Stage     farm.Stage
	StartedOn Day // feeding began
}

// Feeding is scraps given on a day. Bedding given with it is a BeddingLaid.
type Feeding struct {
	On      Day
	Section string
	Food    []Food
}

// Food is a mass of one material.
type Food struct {
	Material string
	Grams    measure.Grams
}

// Check is what a keeper saw. Zero values mean "not looked at".
type Check struct {
	On            Day
	Smell         farm.Smell
	SqueezeTop    farm.Squeeze
	SqueezeBottom farm.Squeeze
	Left          farm.FoodLeft
	LeftOf        []string // materials ticked as left
	HotC          *float64 // hottest spot under the last feed
	BedC          *float64 // bed away from it
	RoomC         *float64
	Leaving       bool // worms on lid and walls
	Pests         []Pest
	Sections      []SectionLook // full check only
}

// SectionLook is one section at a full check.
type SectionLook struct {
	Section string
	DepthMM float64 // 0 when not measured
	Worms   WormLook
}

// WormLook is how many worms lie under one trowel, over three places.
type WormLook string

// Grades of a worm look.
const (
	WormsNone WormLook = "none"
	WormsFew  WormLook = "few"
	WormsSome WormLook = "some"
	WormsMany WormLook = "many"
)

// Pest is an animal or its traces seen at a bin.
type Pest string

// Pests that advice speaks of.
const (
	PestRodents    Pest = "rats_mice" // droppings, gnawing
	PestFruitFlies Pest = "fruit_flies"
	PestMites      Pest = "mites"
	PestAnts       Pest = "ants"
	PestJumping    Pest = "jumping_worms"
)

// Transfer is live worms into the bin (positive) or out of it (negative).
type Transfer struct {
	On            Day
	Grams         measure.Grams
	RelSDPermille int // relative standard deviation of the mass
}

// WormWeighing is the whole live stock of the bin, measured.
type WormWeighing struct {
	On            Day
	Grams         measure.Grams
	RelSDPermille int // relative standard deviation of the mass
}

// Harvest is castings taken out of a section.
type Harvest struct {
	On          Day
	Section     string
	Grams       measure.Grams
	MoisturePct float64 // 0 when not measured
	Emptied     bool    // the section was emptied
}

// BeddingLaid is bedding laid on a day, with its moisture as laid; 0 means the
// material's own.
type BeddingLaid struct {
	On          Day
	Section     string
	Material    string
	Grams       measure.Grams
	MoisturePct float64
}

// CareKind is a care event.
type CareKind string

// Care events.
const (
	Turning  CareKind = "turning"
	Watering CareKind = "watering"
	Removal  CareKind = "removal" // uneaten food taken out
)

// Care is a care event; Grams is the water added or the food taken out.
type Care struct {
	On    Day
	Kind  CareKind
	Grams measure.Grams
}

// Temp is a daily temperature of the bed or the room.
type Temp struct {
	On   Day
	C    float64
	Room bool
}

// prepared is a copy sorted by day, cut off after AsOf, with defaults filled.
// The planned feedings come back apart.
func (r Record) prepared() (rec Record, planned []Feeding) {
	r.Feedings, planned = upTo(r.Feedings, r.AsOf, func(f Feeding) Day { return f.On })
	r.Checks, _ = upTo(r.Checks, r.AsOf, func(c Check) Day { return c.On })
	r.Transfers, _ = upTo(r.Transfers, r.AsOf, func(t Transfer) Day { return t.On })
	r.Weighings, _ = upTo(r.Weighings, r.AsOf, func(w WormWeighing) Day { return w.On })
	r.Harvests, _ = upTo(r.Harvests, r.AsOf, func(h Harvest) Day { return h.On })
	r.Bedding, _ = upTo(r.Bedding, r.AsOf, func(b BeddingLaid) Day { return b.On })
	r.Care, _ = upTo(r.Care, r.AsOf, func(c Care) Day { return c.On })
	r.Temps, _ = upTo(r.Temps, r.AsOf, func(t Temp) Day { return t.On })
	if r.Materials == nil {
		r.Materials = publishedMaterials()
	}
	if r.Settings == nil {
		s := DefaultSettings()
		r.Settings = &s
	}
	if r.Prior == (AppetitePrior{}) {
		r.Prior = DefaultPrior()
	}
	r.groups = map[string]farm.Group{}
	for _, list := range [][]Feeding{r.Feedings, planned} {
		for _, f := range list {
			for _, food := range f.Food {
				if _, known := r.groups[food.Material]; !known {
					r.groups[food.Material] = r.material(food.Material).Group
				}
			}
		}
	}
	return r, planned
}

func upTo[T any](in []T, last Day, on func(T) Day) (past, later []T) {
	for _, v := range in {
		if on(v) <= last {
			past = append(past, v)
		} else {
			later = append(later, v)
		}
	}
	sort.SliceStable(past, func(i, j int) bool { return on(past[i]) < on(past[j]) })
	sort.SliceStable(later, func(i, j int) bool { return on(later[i]) < on(later[j]) })
	return past, later
}

func publishedMaterials() map[string]farm.Material {
	out := map[string]farm.Material{}
	for _, m := range Catalogue() {
		out[m.Key] = m
	}
	return out
}

// material looks a key up; one that is not known counts as mixed kitchen scraps.
func (r *Record) material(key string) farm.Material {
	if m, ok := r.Materials[key]; ok {
		return m
	}
	m, _ := MaterialByKey("mixed_kitchen_scraps")
	return m
}

// groupOf is the go-easy group of a material.
func (r *Record) groupOf(key string) farm.Group {
	if m, ok := r.groups[key]; ok {
		return m
	}
	return r.material(key).Group
}

// firstDay is the earliest day the record speaks of.
func (r *Record) firstDay() Day {
	first := r.AsOf
	if r.Bin.SetUpOn != 0 {
		first = min(first, r.Bin.SetUpOn)
	}
	if len(r.Feedings) > 0 {
		first = min(first, r.Feedings[0].On)
	}
	if len(r.Transfers) > 0 {
		first = min(first, r.Transfers[0].On)
	}
	if len(r.Weighings) > 0 {
		first = min(first, r.Weighings[0].On)
	}
	if len(r.Checks) > 0 {
		first = min(first, r.Checks[0].On)
	}
	return first
}
