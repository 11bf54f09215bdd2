package farm

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// CastingsDensity is the bulk density of castings, used when a person counts
// tubs and states none: 1000 lb to the cubic yard, the planning figure for
// finished compost (NRAES-54, from memory); 0.4 to 0.9 kg/L by moisture.
var CastingsDensity = Figure{Value: 593, Low: 400, High: 900, Source: "NRAES-54, On-Farm Composting Handbook, 1992", Trust: TrustMemory}

// CastingsStage is how far castings have come.
type CastingsStage string

// Stages of a castings lot, in their order.
const (
	CastingsHarvested CastingsStage = "harvested"
	CastingsDrying    CastingsStage = "drying"
	CastingsScreened  CastingsStage = "screened"
	CastingsResting   CastingsStage = "resting"
	CastingsReady     CastingsStage = "ready"
)

// CastingsStages lists the stages in their order.
var CastingsStages = []CastingsStage{CastingsHarvested, CastingsDrying, CastingsScreened, CastingsResting, CastingsReady}

// CastingsLot is the castings of one harvest. What is left of it is the
// ledger's to say.
type CastingsLot struct {
	ID          uuid.UUID
	HarvestID   uuid.UUID
	BinID       uuid.UUID
	SectionID   uuid.UUID
	HarvestedOn measure.Day
	Stage       CastingsStage
	Harvested   measure.Grams
	Steps       []CastingsStep // oldest first
}

// CastingsStep is something done to a castings lot. Mass is what it weighed
// then; Weighed tells whether it did.
type CastingsStep struct {
	ID         uuid.UUID
	Stage      CastingsStage
	OccurredAt time.Time
	Mass       measure.Grams
	Weighed    bool
	Note       string
	EntryID    uuid.UUID // zero: nothing moved
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// CheckStep refuses with castings.state a step back, and the same stage again
// unless the lot is weighed or screened once more; with castings.invalid an
// unknown stage, screenings of another stage and screenings without a place.
func (l CastingsLot) CheckStep(to CastingsStage, weighed, screenings bool, bin, section uuid.UUID) error {
	var f Faults
	next, at := slices.Index(CastingsStages, to), slices.Index(CastingsStages, l.Stage)
	switch {
	case next < 0:
		f.Add("castings.invalid", "/stage", "stage: must be one of %v; got %q", CastingsStages, string(to))
	case next < at, next == at && !weighed && !screenings:
		f.Add("castings.state", "/stage", "stage: the lot is %s; a step goes on from there, or weighs it again", l.Stage)
	}
	switch {
	case screenings && to != CastingsScreened:
		f.Add("castings.invalid", "/screenings", "screenings: only screening has some; this step is %s", to)
	case screenings && bin == uuid.Nil:
		f.Add("castings.invalid", "/screenings_bin_id", "screenings_bin_id: say which bin the screenings went back to")
	case screenings && section == uuid.Nil:
		f.Add("castings.invalid", "/screenings_section_id", "screenings_section_id: say which section the screenings went back to")
	case !screenings && (bin != uuid.Nil || section != uuid.Nil):
		f.Add("castings.invalid", "/screenings", "screenings: say how much went back to the bin")
	}
	return f.Err()
}

// RecipientKind is who receives castings.
type RecipientKind string

// Kinds of recipient.
const (
	ToMember    RecipientKind = "member"
	ToHousehold RecipientKind = "household"
	ToBed       RecipientKind = "bed"
	ToOutsider  RecipientKind = "outsider"
)

// Giveaway is castings given to somebody. Class says which bed, or which class
// of outsider, never a name.
type Giveaway struct {
	ID          uuid.UUID
	LotID       uuid.UUID
	Entered     Entered
	Grams       measure.Grams
	To          RecipientKind
	MemberID    uuid.UUID
	HouseholdID uuid.UUID
	Class       string
	Note        string
	EntryID     uuid.UUID
	OccurredAt  time.Time
	Day         measure.Day
	RecordedAt  time.Time
	RecordedBy  uuid.UUID
	Reversed    bool
}

// Validate refuses with giveaway.invalid; the amount is checked when weighed.
func (g Giveaway) Validate() error {
	var f Faults
	if !oneOf(g.To, []RecipientKind{ToMember, ToHousehold, ToBed, ToOutsider}) {
		f.Add("giveaway.invalid", "/to", "to: must be member, household, bed or outsider; got %q", string(g.To))
	}
	needs := func(field string, given bool, kinds ...RecipientKind) {
		switch needed := oneOf(g.To, kinds); {
		case needed && !given:
			f.Add("giveaway.invalid", "/"+field, "%s: say which %s received the castings", field, g.To)
		case given && !needed:
			f.Add("giveaway.invalid", "/"+field, "%s: belongs to another recipient than a %s", field, g.To)
		}
	}
	needs("member_id", g.MemberID != uuid.Nil, ToMember)
	needs("household_id", g.HouseholdID != uuid.Nil, ToHousehold)
	needs("recipient_class", g.Class != "", ToBed, ToOutsider)
	f.Keep(CheckText("giveaway.invalid", "/recipient_class", g.Class, 80))
	f.Keep(CheckText("giveaway.invalid", "/note", g.Note, 500))
	return f.Err()
}

// CheckFrom refuses with castings.state castings that are not resting or ready
// yet, and with castings.not_yet a day before they were harvested.
func (g Giveaway) CheckFrom(l CastingsLot) error {
	if l.Stage != CastingsResting && l.Stage != CastingsReady {
		return Refuse("castings.state", "/castings_lot_id", "castings_lot_id: the lot is %s; give away what is resting or ready", l.Stage)
	}
	return l.CheckDay(g.Day)
}

// CheckDay refuses with castings.not_yet a day before the lot was harvested.
func (l CastingsLot) CheckDay(on measure.Day) error {
	if on.Before(l.HarvestedOn) {
		return Refuse("castings.not_yet", "/occurred_at", "occurred_at: the lot was harvested on %s; got %s", l.HarvestedOn, on)
	}
	return nil
}

// OutsiderClass is a class of outsiders as one word: "Primary school" becomes
// "primary_school". A class without a Latin letter becomes "other".
func OutsiderClass(text string) string {
	word := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return ' '
	}, strings.ToLower(text))
	word = strings.Join(strings.Fields(word), "_")
	word = strings.TrimLeft(word, "0123456789_")
	if len(word) > 40 {
		word = word[:40]
	}
	if word == "" {
		return "other"
	}
	return word
}

// Label is the text for a bag or tub of castings: where it is from, and what
// whoever opens it should know. Local rules on compost come first.
func (g Giveaway) Label(garden Garden, l CastingsLot) string {
	return strings.Join([]string{
		"Worm castings from " + garden.Name,
		"Lot of " + l.HarvestedOn.String() + ". " + g.Grams.Format(garden.Units) + ", given on " + g.Day.String() + ".",
		"Not heat-treated. May hold worm cocoons and seeds.",
		"Damp before use. Wear gloves; wash hands after.",
		"For beds and pots. Not for woods, nor near them.",
		"Local rules on compost come first.",
		"",
	}, "\n")
}
