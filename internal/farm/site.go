package farm

import (
	"time"

	"github.com/google/uuid"
)

// SiteKind is what a place is.
type SiteKind string

// Kinds of site.
const (
	Shed       SiteKind = "shed"
	Basement   SiteKind = "basement"
	Plot       SiteKind = "plot"
	Greenhouse SiteKind = "greenhouse"
	Outdoors   SiteKind = "outdoors"
	OtherSite  SiteKind = "other"
)

// SiteKinds lists the kinds of site.
var SiteKinds = []SiteKind{Shed, Basement, Plot, Greenhouse, Outdoors, OtherSite}

// Coordinates in degrees, WGS 84.
type Coordinates struct {
	Latitude  float64
	Longitude float64
}

// Site is a place in or near the garden where bins or lots stand.
type Site struct {
	ID        uuid.UUID
	Name      string
	Kind      SiteKind
	At        *Coordinates // nil: not noted
	FreezerL  int          // freezer room for scraps in litres; 0: none
	AreaM2    float64      // ground; 0: not noted
	Note      string
	Active    bool
	CreatedAt time.Time
	Version   int
}

// Validate refuses with site.invalid.
func (s Site) Validate() error {
	var f Faults
	f.Keep(CheckName("site.invalid", "/name", s.Name, 120))
	if !oneOf(s.Kind, SiteKinds) {
		f.Add("site.invalid", "/kind", "kind: must be one of %v; got %q", SiteKinds, s.Kind)
	}
	if c := s.At; c != nil {
		if !(c.Latitude >= -90 && c.Latitude <= 90) {
			f.Add("site.invalid", "/latitude", "latitude: must be between -90 and 90; got %g", c.Latitude)
		}
		if !(c.Longitude >= -180 && c.Longitude <= 180) {
			f.Add("site.invalid", "/longitude", "longitude: must be between -180 and 180; got %g", c.Longitude)
		}
	}
	if s.FreezerL < 0 || s.FreezerL > 100_000 {
		f.Add("site.invalid", "/freezer_l", "freezer_l: must be between 0 and 100,000 L; got %d", s.FreezerL)
	}
	if !(s.AreaM2 >= 0 && s.AreaM2 <= 1e6) {
		f.Add("site.invalid", "/area_m2", "area_m2: must be between 0 and 1,000,000 m²; got %g", s.AreaM2)
	}
	f.Keep(CheckText("site.invalid", "/note", s.Note, 1000))
	return f.Err()
}

// OverflowKind is what takes the surplus.
type OverflowKind string

// Kinds of overflow place.
const (
	HotHeap       OverflowKind = "hot_heap"
	OtherGarden   OverflowKind = "other_garden" // one that agreed to take it
	OtherOverflow OverflowKind = "other"
)

// OverflowKinds lists the kinds of overflow place.
var OverflowKinds = []OverflowKind{HotHeap, OtherGarden, OtherOverflow}

// OverflowPlace takes what the bins can't: a hot heap, or another garden.
type OverflowPlace struct {
	ID          uuid.UUID
	Name        string
	Kind        OverflowKind
	WeeklyG     int64   // room in grams a week; 0: not stated
	BrownsRatio float64 // browns needed per scraps, by mass; 0: not stated
	Note        string
	Active      bool
	CreatedAt   time.Time
	Version     int
}

// Validate refuses with overflow.invalid.
func (p OverflowPlace) Validate() error {
	var f Faults
	f.Keep(CheckName("overflow.invalid", "/name", p.Name, 120))
	if !oneOf(p.Kind, OverflowKinds) {
		f.Add("overflow.invalid", "/kind", "kind: must be one of %v; got %q", OverflowKinds, p.Kind)
	}
	if p.WeeklyG < 0 || p.WeeklyG > 100_000_000 {
		f.Add("overflow.invalid", "/weekly_room_g", "weekly_room_g: must be between 0 g and 100 t; got %d g", p.WeeklyG)
	}
	if !(p.BrownsRatio >= 0 && p.BrownsRatio <= 20) {
		f.Add("overflow.invalid", "/browns_ratio", "browns_ratio: must be between 0 and 20; got %g", p.BrownsRatio)
	}
	f.Keep(CheckText("overflow.invalid", "/note", p.Note, 1000))
	return f.Err()
}

func oneOf[T comparable](v T, list []T) bool {
	for _, x := range list {
		if x == v {
			return true
		}
	}
	return false
}
