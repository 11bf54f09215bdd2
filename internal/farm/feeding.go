package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Feed is one feeding: scraps laid into a section, with bedding. It records what
// happened: what the bin can bear is said in warnings and stops nothing.
type Feed struct {
	ID         uuid.UUID
	BinID      uuid.UUID
	SectionID  uuid.UUID
	CoverMM    *int      // depth of the cover; nil: not noted
	PlanTaskID uuid.UUID // the task it does; zero: none
	Note       string
	Lots       []FedLot
	Bedding    []BeddingLaid
	Warnings   []Warning
	EntryID    uuid.UUID
	FedAt      time.Time
	FedOn      measure.Day
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// FedLot is a lot, or part of it, in a feeding. Entered is nil when it was all
// that was left.
type FedLot struct {
	LotID         uuid.UUID
	Material      string
	Unrecorded    bool // booked in with the feeding
	Entered       *Entered
	Net           measure.Grams
	RelSDPermille int
}

// BeddingLaid is bedding of a batch, or straight from the dry stock, as it was
// laid. Kinds are what it was made of.
type BeddingLaid struct {
	BatchID       uuid.UUID // one of the two is zero
	DryID         uuid.UUID
	AgedDays      int // batches only
	MoisturePct   float64
	Entered       *Entered
	RelSDPermille int
	Kinds         []LaidKind
}

// Net is the bedding's mass as laid.
func (b BeddingLaid) Net() (sum measure.Grams) {
	for _, k := range b.Kinds {
		sum += k.Grams
	}
	return sum
}

// FoodMass is the mass of scraps fed.
func (f Feed) FoodMass() (sum measure.Grams) {
	for _, l := range f.Lots {
		sum += l.Net
	}
	return sum
}

// BeddingMass is the mass of bedding laid.
func (f Feed) BeddingMass() (sum measure.Grams) {
	for _, b := range f.Bedding {
		sum += b.Net()
	}
	return sum
}

// Warning is advice that comes with the record of something done.
type Warning struct {
	Code    string `json:"code"`
	Urgency string `json:"urgency"` // calm, routine, soon or now
	Do      string `json:"do"`
	Why     string `json:"why"`
	Caution string `json:"caution,omitempty"`
	Source  string `json:"source"`
}

// Validate refuses with feeding.invalid.
func (f Feed) Validate() error {
	var faults Faults
	if f.CoverMM != nil && (*f.CoverMM < 0 || *f.CoverMM > 500) {
		faults.Add("feeding.invalid", "/cover_mm", "cover_mm: must be between 0 and 500 mm; got %d", *f.CoverMM)
	}
	if len(f.Lots) == 0 {
		faults.Add("feeding.invalid", "/lots", "lots: a feeding names at least one lot or unrecorded scraps")
	}
	faults.Keep(CheckText("feeding.invalid", "/note", f.Note, 1000))
	return faults.Err()
}

// MayFeed refuses with lot.rejected a lot that was turned away, with lot.state
// one that nobody has accepted yet, and with lot.not_yet one that came later.
// field names the lot in the request.
func (l Lot) MayFeed(field string, on measure.Day) error {
	switch {
	case l.Status == LotRejected:
		return Refuse("lot.rejected", field, "lot %s was rejected: %s", l.ID, l.RejectionReason)
	case l.Status == LotReceived:
		return Refuse("lot.state", field, "lot %s is not accepted yet; accept it first", l.ID)
	case on.Before(l.ReceivedOn):
		return Refuse("lot.not_yet", "/occurred_at", "occurred_at: lot %s came on %s; got %s", l.ID, l.ReceivedOn, on)
	}
	return nil
}
