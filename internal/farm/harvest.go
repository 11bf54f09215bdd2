package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Harvest is castings taken from a section. Closed is the scraps and bedding
// that left the section's books because it was emptied; WormsLeft the worms
// that the books still hold there then.
type Harvest struct {
	ID         uuid.UUID
	BinID      uuid.UUID
	SectionID  uuid.UUID
	LotID      uuid.UUID // the castings lot it made
	Entered    Entered
	Grams      measure.Grams
	WormsOut   *WormAmount // carried out with the castings; nil: none seen
	WormsGrams measure.Grams
	WormsFound measure.Grams // of them, what the books did not know of
	Emptied    bool
	Closed     measure.Grams
	WormsLeft  measure.Grams
	Note       string
	EntryID    uuid.UUID
	OccurredAt time.Time
	Day        measure.Day
	RecordedAt time.Time
	RecordedBy uuid.UUID
	Reversed   bool
}

// Validate refuses with harvest.invalid; amounts are checked when weighed.
func (h Harvest) Validate() error {
	var f Faults
	if h.BinID == uuid.Nil {
		f.Add("harvest.invalid", "/bin_id", "bin_id: must be set")
	}
	if h.SectionID == uuid.Nil {
		f.Add("harvest.invalid", "/section_id", "section_id: must be set")
	}
	f.Keep(CheckText("harvest.invalid", "/note", h.Note, 1000))
	return f.Err()
}
