package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// CareKind is what was done for a bin that is no feeding.
type CareKind string

// Kinds of care event.
const (
	Turned         CareKind = "turned" // within a section only
	Watered        CareKind = "watered"
	LidLeftOpen    CareKind = "lid_left_open"
	LimeOrEggshell CareKind = "lime_or_eggshell"
	FoodRemoved    CareKind = "food_removed"
	FedBeddingOnly CareKind = "fed_bedding_only"
)

// CareKinds lists the kinds of care event.
var CareKinds = []CareKind{Turned, Watered, LidLeftOpen, LimeOrEggshell, FoodRemoved, FedBeddingOnly}

// RemovedTo is where food went that was taken out of a bin.
type RemovedTo string

// Ends of removed food.
const (
	RemovedToOverflow RemovedTo = "overflow"
	RemovedToLandfill RemovedTo = "landfill"
)

// MostWatering is the most water of one care event.
const MostWatering measure.Grams = 200_000

// LaidKind is so much bedding of one kind.
type LaidKind struct {
	Material string
	Grams    measure.Grams
}

// CareEvent is something done for a bin. Entered is the food removed or the
// bedding laid; Grams is its mass, or that of the water.
type CareEvent struct {
	ID            uuid.UUID
	BinID         uuid.UUID
	SectionID     uuid.UUID // zero: the whole bin
	Kind          CareKind
	Water         measure.Quantity
	Material      string // of removed food
	To            RemovedTo
	PlaceID       uuid.UUID // overflow place
	BatchID       uuid.UUID // bedding batch
	Entered       *Entered
	Grams         measure.Grams
	RelSDPermille int
	MoisturePct   float64    // of bedding as laid
	Laid          []LaidKind // bedding by kind
	Note          string
	EntryID       uuid.UUID // zero: nothing moved by the books
	OccurredAt    time.Time
	Day           measure.Day
	RecordedAt    time.Time
	RecordedBy    uuid.UUID
}

// Validate refuses with care.invalid, and with section.not_found a section of
// another bin.
func (c CareEvent) Validate(sections []Section) error {
	var f Faults
	if !oneOf(c.Kind, CareKinds) {
		f.Add("care.invalid", "/kind", "kind: must be one of %v; got %q", CareKinds, string(c.Kind))
		return f.Err()
	}
	part := func(field string, there bool, of CareKind, must bool) {
		switch {
		case there && c.Kind != of:
			f.Add("care.invalid", "/"+field, "%s: belongs to %s; leave it out for %s", field, of, c.Kind)
		case !there && c.Kind == of && must:
			f.Add("care.invalid", "/"+field, "%s: must be set for %s", field, of)
		}
	}
	part("water", c.Water.Value != "", Watered, true)
	part("removed_material", c.Material != "", FoodRemoved, true)
	part("removed_to", c.To != "", FoodRemoved, true)
	part("overflow_place_id", c.PlaceID != uuid.Nil, FoodRemoved, c.To == RemovedToOverflow)
	part("bedding_batch_id", c.BatchID != uuid.Nil, FedBeddingOnly, true)
	if c.Entered == nil && (c.Kind == FoodRemoved || c.Kind == FedBeddingOnly) {
		f.Add("care.invalid", c.AmountField(), "%s: must be set for %s", c.AmountField()[1:], c.Kind)
	}
	if c.To == RemovedToLandfill && c.PlaceID != uuid.Nil {
		f.Add("care.invalid", "/overflow_place_id", "overflow_place_id: landfill is no overflow place; leave it out")
	}
	if c.SectionID == uuid.Nil && (c.Kind == FoodRemoved || c.Kind == FedBeddingOnly) {
		f.Add("care.invalid", "/section_id", "section_id: must be set for %s", c.Kind)
	}
	found := c.SectionID == uuid.Nil
	for _, s := range sections {
		found = found || s.ID == c.SectionID
	}
	if !found {
		f.Add("section.not_found", "/section_id", "section_id: no section %s in this bin", c.SectionID)
	}
	f.Keep(CheckText("care.invalid", "/note", c.Note, 1000))
	return f.Err()
}

// AmountField is the request's field that Entered came in.
func (c CareEvent) AmountField() string {
	if c.Kind == FedBeddingOnly {
		return "/bedding"
	}
	return "/removed"
}

// Watering works out the water given, in grams. It refuses with care.invalid.
func (c CareEvent) Watering() (measure.Grams, error) {
	g, err := WaterMass(c.Water)
	if err == nil && g >= 1 && g <= MostWatering {
		return g, nil
	}
	return 0, Refuse("care.invalid", "/water", "water: must be between 1 g and 200 L, such as 2 L; got %q %q", c.Water.Value, c.Water.Unit)
}
