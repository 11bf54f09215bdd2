package farm

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// AcceptanceList is one version of what a garden takes. On a day the latest
// version holds whose ValidFrom has come.
type AcceptanceList struct {
	Version   int
	Accepted  []string // keys of materials
	Refused   []string // in people's words: "meat and fish"
	ValidFrom measure.Day
	Note      string
	CreatedAt time.Time
	CreatedBy uuid.UUID
}

// Validate refuses with acceptance.invalid. Whether the materials are known is
// not for it to say.
func (l AcceptanceList) Validate() error {
	var f Faults
	once := func(field string, list []string) {
		seen := map[string]bool{}
		for i, x := range list {
			at := fmt.Sprintf("/%s/%d", field, i)
			f.Keep(CheckName("acceptance.invalid", at, x, 200))
			if seen[x] {
				f.Add("acceptance.invalid", at, "%s: names %q twice", field, x)
			}
			seen[x] = true
		}
	}
	once("accepted_materials", l.Accepted)
	once("refused", l.Refused)
	if l.ValidFrom.IsZero() {
		f.Add("acceptance.invalid", "/valid_from", "valid_from: must be a day")
	}
	f.Keep(CheckText("acceptance.invalid", "/note", l.Note, 1000))
	return f.Err()
}

// NotToday is the go-easy groups that a garden does not take for now. Until is
// the last day of it; zero: until said otherwise. Version 0: never said.
type NotToday struct {
	Groups  []Group
	Until   measure.Day
	Version int
}

// Validate refuses with not_today.invalid; today is the garden's day.
func (n NotToday) Validate(today measure.Day) error {
	var f Faults
	seen := map[Group]bool{}
	for i, g := range n.Groups {
		at := fmt.Sprintf("/groups/%d", i)
		if !oneOf(g, Groups) {
			f.Add("not_today.invalid", at, "groups: must be among %v; got %q", Groups, g)
		}
		if seen[g] {
			f.Add("not_today.invalid", at, "groups: names %q twice", g)
		}
		seen[g] = true
	}
	if !n.Until.IsZero() && n.Until.Before(today) {
		f.Add("not_today.invalid", "/until", "until: must not be before today, %s; got %s", today, n.Until)
	}
	return f.Err()
}

// On gives what still holds on a day: nothing once Until has passed.
func (n NotToday) On(d measure.Day) NotToday {
	if !n.Until.IsZero() && d.After(n.Until) {
		n.Groups, n.Until = nil, measure.Day{}
	}
	return n
}
