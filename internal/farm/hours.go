package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Hours is time that a member gave outside shifts.
type Hours struct {
	ID         uuid.UUID
	MemberID   uuid.UUID
	Minutes    int
	Work       string
	OccurredAt time.Time
	Day        measure.Day // the garden's day of OccurredAt
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// Validate refuses with hours.invalid.
func (h Hours) Validate() error {
	var f Faults
	if h.Minutes < 1 || h.Minutes > 24*60 {
		f.Add("hours.invalid", "/minutes", "minutes: must be between 1 and 1440; got %d", h.Minutes)
	}
	f.Keep(CheckName("hours.invalid", "/work", h.Work, 200))
	return f.Err()
}
