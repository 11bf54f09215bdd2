package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// IssueClass tells complaints, incidents and official visits apart. They are
// recorded, answered and kept alike.
type IssueClass string

// Classes of issue.
const (
	Complaint     IssueClass = "complaint"
	Incident      IssueClass = "incident"
	OfficialVisit IssueClass = "official_visit"
)

// IssueKinds lists the kinds of each class.
var IssueKinds = map[IssueClass][]string{
	Complaint:     {"smell", "pests", "noise", "sight", "other"},
	Incident:      {"injury", "spill", "pest", "refused_load", "other"},
	OfficialVisit: {"inspection", "advice", "follow_up"},
}

// Code is a refusal of this class, such as complaint.invalid.
func (c IssueClass) Code(reason string) Code { return Code(string(c) + "." + reason) }

// Raise is the action of recording one; visits are for those who answer them.
func (c IssueClass) Raise() Action {
	if c == OfficialVisit {
		return AnswerIssues
	}
	return RaiseIssue
}

// Issue is a complaint, an incident or an official visit. It must hold no name
// of a complainant and no health details of a person. It is kept for good.
type Issue struct {
	ID         uuid.UUID
	Class      IssueClass
	Kind       string
	What       string
	SiteID     uuid.UUID // zero: none named
	BinID      uuid.UUID
	Action     string // what was done about it
	ActionBy   uuid.UUID
	ClosedOn   measure.Day // zero: still open
	OccurredAt time.Time
	Day        measure.Day // the garden's day of OccurredAt
	RecordedAt time.Time
	RecordedBy uuid.UUID
	Version    int
}

// Validate refuses with the class's invalid, such as complaint.invalid. today
// is the garden's.
func (i Issue) Validate(today measure.Day) error {
	invalid := i.Class.Code("invalid")
	var f Faults
	if !oneOf(i.Kind, IssueKinds[i.Class]) {
		f.Add(invalid, "/kind", "kind: must be one of %v; got %q", IssueKinds[i.Class], i.Kind)
	}
	if i.What == "" {
		f.Add(invalid, "/what", "what: must say what happened")
	}
	f.Keep(CheckText(invalid, "/what", i.What, 4000))
	f.Keep(CheckText(invalid, "/action", i.Action, 4000))
	if c := i.ClosedOn; !c.IsZero() && (c.Before(i.Day) || c.After(today)) {
		f.Add(invalid, "/closed_on", "closed_on: must be between the day it happened, %s, and today, %s; got %s", i.Day, today, c)
	}
	return f.Err()
}
