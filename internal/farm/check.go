package farm

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// CheckKind tells a look of half a minute from a thorough one.
type CheckKind string

// Kinds of check. A full one looks into each section.
const (
	QuickCheck CheckKind = "quick"
	FullCheck  CheckKind = "full"
)

// Pest is an animal, its traces or a growth seen at a bin.
type Pest string

// Pests.
const (
	Mites        Pest = "mites"
	FruitFlies   Pest = "fruit_flies"
	Ants         Pest = "ants"
	Slugs        Pest = "slugs"
	RatsOrMice   Pest = "rats_or_mice"
	Mould        Pest = "mould"
	Flatworms    Pest = "flatworms"
	JumpingWorms Pest = "jumping_worms"
	OtherPest    Pest = "other"
)

// Pests lists the pests.
var Pests = []Pest{Mites, FruitFlies, Ants, Slugs, RatsOrMice, Mould, Flatworms, JumpingWorms, OtherPest}

// WormGrade is how many worms lie under one trowel.
type WormGrade string

// Grades of a look for worms.
const (
	NoWorms   WormGrade = "none"
	FewWorms  WormGrade = "few"
	SomeWorms WormGrade = "some"
	ManyWorms WormGrade = "many"
)

// WormGrades lists the grades, fewest first.
var WormGrades = []WormGrade{NoWorms, FewWorms, SomeWorms, ManyWorms}

// Thermometer is what a temperature was read from.
type Thermometer string

// Thermometers. A dial is read to the nearest few degrees.
const (
	Probe Thermometer = "probe"
	Dial  Thermometer = "dial"
)

// FoodLefts lists the grades of food left, least first.
var FoodLefts = []FoodLeft{LeftNone, LeftLittle, LeftHalf, LeftMost}

// SectionLook is what a full check saw in one section. Zero fields were not
// looked at; WetSpots nil neither.
type SectionLook struct {
	SectionID uuid.UUID
	DepthMM   *int
	Worms     WormGrade
	PerTrowel []int // worms counted, at up to three places
	Texture   string
	WetSpots  *bool
}

// Check is what a keeper saw of a bin. Zero fields and nil were not looked at.
type Check struct {
	ID            uuid.UUID
	BinID         uuid.UUID
	Kind          CheckKind
	Smell         Smell
	SqueezeTop    Squeeze
	SqueezeBottom Squeeze
	FoodLeft      FoodLeft
	LeftOf        []string // materials seen
	FeedC         *float64 // hottest spot under the last feed
	BedC          *float64 // in the bed away from it
	RoomC         *float64
	Thermometer   Thermometer
	Leaving       bool // worms in number on the lid and walls
	Pests         []Pest
	Sections      []SectionLook
	Odd           string
	OccurredAt    time.Time
	Day           measure.Day
	RecordedAt    time.Time
	RecordedBy    uuid.UUID
}

// Validate refuses with check.invalid. sections are the bin's, and known tells
// which materials the garden has; it refuses with section.not_found and
// material.not_found too.
func (c Check) Validate(sections []Section, known func(material string) bool) error {
	var f Faults
	if !oneOf(c.Kind, []CheckKind{QuickCheck, FullCheck}) {
		f.Add("check.invalid", "/kind", "kind: must be quick or full; got %q", string(c.Kind))
	}
	optional(&f, "/smell", c.Smell, Smells)
	optional(&f, "/food_left", c.FoodLeft, FoodLefts)
	optional(&f, "/thermometer", c.Thermometer, []Thermometer{Probe, Dial})
	for _, s := range []struct {
		field string
		v     Squeeze
	}{{"squeeze_top", c.SqueezeTop}, {"squeeze_bottom", c.SqueezeBottom}} {
		if s.v != 0 && !s.v.Valid() {
			f.Add("check.invalid", "/"+s.field, "%s: must be 1 (dust-dry) to 5 (runs); got %d", s.field, s.v)
		}
	}
	temperature(&f, "temperature_feed_c", c.FeedC, -30, 90)
	temperature(&f, "temperature_bed_c", c.BedC, -30, 90)
	temperature(&f, "temperature_room_c", c.RoomC, -40, 60)
	for i, p := range c.Pests {
		if !oneOf(p, Pests) {
			f.Add("check.invalid", fmt.Sprintf("/pests/%d", i), "pests: must be of %v; got %q", Pests, string(p))
		}
	}
	if len(c.LeftOf) > 0 && c.FoodLeft == LeftNone {
		f.Add("check.invalid", "/food_left_of", "food_left_of: no food was left")
	}
	for i, m := range c.LeftOf {
		if !known(m) {
			f.Add("material.not_found", fmt.Sprintf("/food_left_of/%d", i), "food_left_of: %q is neither in the catalogue nor the garden's own", m)
		}
	}
	f.Keep(CheckText("check.invalid", "/odd", c.Odd, 1000))
	c.checkLooks(&f, sections)
	if f.Len() == 0 && c.saysNothing() {
		f.Add("check.invalid", "", "a check says at least one thing that was seen")
	}
	return f.Err()
}

func (c Check) checkLooks(f *Faults, sections []Section) {
	if c.Kind == QuickCheck && len(c.Sections) > 0 {
		f.Add("check.invalid", "/sections", "sections: a quick check does not look into sections; make it a full one")
	}
	seen := map[uuid.UUID]bool{}
	for i, l := range c.Sections {
		at := fmt.Sprintf("/sections/%d", i)
		found := false
		for _, s := range sections {
			found = found || s.ID == l.SectionID
		}
		if !found {
			f.Add("section.not_found", at+"/section_id", "section_id: no section %s in this bin", l.SectionID)
		}
		if seen[l.SectionID] {
			f.Add("check.invalid", at+"/section_id", "section_id: %s is looked into twice", l.SectionID)
		}
		seen[l.SectionID] = true
		l.check(f, at)
	}
}

func (l SectionLook) check(f *Faults, at string) {
	optional(f, at+"/worms", l.Worms, WormGrades)
	if l.DepthMM != nil && (*l.DepthMM < 0 || *l.DepthMM > 5000) {
		f.Add("check.invalid", at+"/depth_mm", "depth_mm: must be between 0 and 5000 mm; got %d", *l.DepthMM)
	}
	if len(l.PerTrowel) > 3 {
		f.Add("check.invalid", at+"/worms_per_trowel", "worms_per_trowel: at most three places; got %d", len(l.PerTrowel))
	}
	for _, n := range l.PerTrowel {
		if n < 0 || n > 1000 {
			f.Add("check.invalid", at+"/worms_per_trowel", "worms_per_trowel: must be between 0 and 1000; got %d", n)
		} else if n > 0 && l.Worms == NoWorms {
			f.Add("check.invalid", at+"/worms", "worms: none were seen, but %d lay under a trowel", n)
		}
	}
	f.Keep(CheckText("check.invalid", at+"/texture", l.Texture, 200))
}

func (c Check) saysNothing() bool {
	return c.Smell == "" && c.SqueezeTop == 0 && c.SqueezeBottom == 0 && c.FoodLeft == "" && len(c.LeftOf) == 0 &&
		c.FeedC == nil && c.BedC == nil && c.RoomC == nil && !c.Leaving && len(c.Pests) == 0 && len(c.Sections) == 0 && c.Odd == ""
}

func optional[T ~string](f *Faults, field string, v T, list []T) {
	if v != "" && !oneOf(v, list) {
		f.Add("check.invalid", field, "%s: must be one of %v; got %q", field[1:], list, string(v))
	}
}

func temperature(f *Faults, field string, v *float64, low, high float64) {
	if v != nil && !(*v >= low && *v <= high) {
		f.Add("check.invalid", "/"+field, "%s: must be between %g and %g °C; got %g", field, low, high, *v)
	}
}
