package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// DryBedding is carbon material that came in dry: one material, one delivery.
// What is left of it is the ledger's to say.
type DryBedding struct {
	ID         uuid.UUID
	Material   string
	SiteID     uuid.UUID
	Reserve    bool // kept for rescuing wet bins
	Entered    Entered
	Weight     Weight
	Note       string
	EntryID    uuid.UUID
	ReceivedAt time.Time
	ReceivedOn measure.Day
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// Validate refuses with bedding.invalid; the mass is checked by Entered.Work.
func (d DryBedding) Validate() error {
	var f Faults
	if d.Material == "" {
		f.Add("bedding.invalid", "/material", "material: must name a bedding of the catalogue")
	}
	if d.SiteID == uuid.Nil {
		f.Add("bedding.invalid", "/site_id", "site_id: must be set")
	}
	f.Keep(CheckText("bedding.invalid", "/note", d.Note, 500))
	f.Keep(CheckText("bedding.invalid", "/amount/container", d.Entered.Container, 60))
	return f.Err()
}

// BeddingBatch is bedding shredded, wetted and ageing, one kind or a mix.
type BeddingBatch struct {
	ID          uuid.UUID
	SiteID      uuid.UUID
	Parts       []BeddingPart
	Water       measure.Quantity // as entered; empty: none noted
	WaterG      measure.Grams    // that it took up
	Tubs        int              // 0: not noted
	StandIn     bool             // soaked and wrung out instead of aged: usable at once
	Note        string
	MoisturePct float64 // of the kinds with the water, when it was made
	ReadyOn     measure.Day
	Looks       []BeddingLook // oldest first
	EntryID     uuid.UUID
	StartedAt   time.Time
	StartedOn   measure.Day
	RecordedAt  time.Time
	RecordedBy  uuid.UUID
}

// BeddingPart is dry bedding that went into a batch. Entered is nil when it
// was all that was left.
type BeddingPart struct {
	DryID         uuid.UUID
	Material      string
	Entered       *Entered
	Net           measure.Grams
	RelSDPermille int
}

// Bounds of a batch.
const (
	MaxBeddingParts = 20
	MaxBeddingWater = measure.Grams(2_000_000)
)

// Validate refuses with bedding.invalid.
func (b BeddingBatch) Validate() error {
	var f Faults
	if b.SiteID == uuid.Nil {
		f.Add("bedding.invalid", "/site_id", "site_id: must be set")
	}
	if n := len(b.Parts); n < 1 || n > MaxBeddingParts {
		f.Add("bedding.invalid", "/parts", "parts: a batch is made of 1 to %d dry beddings; got %d", MaxBeddingParts, n)
	}
	if b.Tubs < 0 || b.Tubs > 1000 {
		f.Add("bedding.invalid", "/tubs", "tubs: must be between 1 and 1000; got %d", b.Tubs)
	}
	f.Keep(CheckText("bedding.invalid", "/note", b.Note, 500))
	return f.Err()
}

// WaterMass is the water a person noted, in grams; a litre is a kilogram. It
// refuses with bedding.invalid.
func WaterMass(q measure.Quantity) (measure.Grams, error) {
	if q.Value == "" {
		return 0, nil
	}
	g, err := q.Grams()
	if kind, ok := q.Unit.Kind(); ok && kind == measure.Volume {
		var ml measure.Millilitres
		ml, err = q.Millilitres()
		g = measure.Grams(ml)
	}
	if err != nil {
		return 0, Refuse("bedding.invalid", "/water", "water: must be a volume or a mass such as 10 L; got %q %q: %s", q.Value, q.Unit, plain(err))
	}
	if g > MaxBeddingWater {
		return 0, Refuse("bedding.invalid", "/water", "water: must be at most 2,000 L; got %d g", g)
	}
	return g, nil
}

// BeddingReadyOn is the first day a batch counts as aged. Common practice, no
// source: 2 to 3 weeks, a setting of the garden. A stand-in does not age.
func (s Settings) BeddingReadyOn(started measure.Day, standIn bool) measure.Day {
	if standIn {
		return started
	}
	return started.Add(s.BeddingAgeDays)
}

// Ready tells whether the batch may be laid on a day: it has aged and the last
// look found it ready, or it is a stand-in.
func (b BeddingBatch) Ready(on measure.Day) bool {
	if b.StandIn {
		return true
	}
	n := len(b.Looks)
	return n > 0 && b.Looks[n-1].Ready() && !on.Before(b.ReadyOn)
}

// ReadyFrom is the first day the batch may be laid, as far as can be told
// today: today when it is ready, else the day it has aged. It must be looked at
// first, so that is tomorrow at the earliest.
func (b BeddingBatch) ReadyFrom(today measure.Day) measure.Day {
	if b.Ready(today) {
		return today
	}
	if b.ReadyOn.After(today) {
		return b.ReadyOn
	}
	return today.Add(1)
}

// BeddingLook is a look at ageing bedding.
type BeddingLook struct {
	ID         uuid.UUID
	BatchID    uuid.UUID
	SeenAt     time.Time
	SeenOn     measure.Day
	TempC      float64
	RoomC      float64
	Squeeze    Squeeze
	Smell      Smell
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// WarmerThanRoom is how much hotter than the room a ready batch may be, °C.
const WarmerThanRoom = 1.0

// Ready tells whether the batch had cooled, felt like a wrung sponge and smelled
// of earth or nothing (common practice, no source).
func (l BeddingLook) Ready() bool {
	return l.TempC <= l.RoomC+WarmerThanRoom && l.Squeeze == 3 && (l.Smell == SmellEarth || l.Smell == SmellNothing)
}

// Smells lists the smells, best first.
var Smells = []Smell{SmellEarth, SmellNothing, SmellSour, SmellAmmonia, SmellRotten}

// Validate refuses with bedding.invalid.
func (l BeddingLook) Validate() error {
	var f Faults
	if !(l.TempC >= -30 && l.TempC <= 90) {
		f.Add("bedding.invalid", "/temperature_c", "temperature_c: must be between -30 and 90 °C; got %g", l.TempC)
	}
	if !(l.RoomC >= -40 && l.RoomC <= 60) {
		f.Add("bedding.invalid", "/room_c", "room_c: must be between -40 and 60 °C; got %g", l.RoomC)
	}
	if !l.Squeeze.Valid() {
		f.Add("bedding.invalid", "/squeeze", "squeeze: must be 1 (dust-dry) to 5 (runs); got %d", l.Squeeze)
	}
	if !oneOf(l.Smell, Smells) {
		f.Add("bedding.invalid", "/smell", "smell: must be one of %v; got %q", Smells, string(l.Smell))
	}
	return f.Err()
}
