package farm

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Availability is when a keeper can visit bins: a weekly pattern, and the days
// unlike it. Version 0: the keeper never said, and can come on any day.
type Availability struct {
	MemberID   uuid.UUID
	Weekdays   [7]bool // by time.Weekday: Sunday first
	Exceptions []DayException
	Version    int
}

// DayException is a day unlike the weekly pattern.
type DayException struct {
	Day       measure.Day `json:"day"`
	Available bool        `json:"available"`
}

// AnyDay is the availability of a keeper who never said.
func AnyDay(member uuid.UUID) Availability {
	return Availability{MemberID: member, Weekdays: [7]bool{true, true, true, true, true, true, true}}
}

// Validate refuses with availability.invalid a day that is named twice.
func (a Availability) Validate() error {
	var f Faults
	seen := map[measure.Day]bool{}
	for i, x := range a.Exceptions {
		if x.Day.IsZero() || seen[x.Day] {
			f.Add("availability.invalid", fmt.Sprintf("/exceptions/%d/day", i), "day: must be set and named once; got %s", x.Day)
		}
		seen[x.Day] = true
	}
	return f.Err()
}

// On tells whether the keeper can come on a day: an exception wins over the
// weekly pattern.
func (a Availability) On(d measure.Day) bool {
	for _, x := range a.Exceptions {
		if x.Day == d {
			return x.Available
		}
	}
	return a.Weekdays[d.Weekday()]
}

// WeekOf puts weekdays into a pattern. It refuses with availability.invalid a
// day that is named twice.
func WeekOf(days []time.Weekday) (week [7]bool, err error) {
	var f Faults
	for i, d := range days {
		if week[d] {
			f.Add("availability.invalid", fmt.Sprintf("/weekdays/%d", i), "weekdays: names %s twice", d)
		}
		week[d] = true
	}
	return week, f.Err()
}

// CaresForBins tells whether a member's role has bins to visit.
func (m Member) CaresForBins() bool { return m.Active && m.Role.May(CareForBins) }
