package farm

import (
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// LureState is where a lure stands.
type LureState string

// States of a lure.
const (
	LureWaiting LureState = "waiting" // unfed, or between a lift and the next dusting
	LureDusted  LureState = "dusted"
	LureEnded   LureState = "ended"
)

// LureStepKind is what was done.
type LureStepKind string

// Kinds of step.
const (
	LureStepDusted LureStepKind = "dusted" // a thin dusting of dry grain mix on the damp surface
	LureStepLooked LureStepKind = "looked"
	LureStepLifted LureStepKind = "lifted" // the top few centimetres, with the worms, to the feeding end
	LureStepEnded  LureStepKind = "ended"
)

// LureStepKinds lists the kinds of step.
var LureStepKinds = []LureStepKind{LureStepDusted, LureStepLooked, LureStepLifted, LureStepEnded}

// Days of a lure: unfed for two to four weeks, a look two to four days after
// the dusting (common practice, no source).
const (
	LureUnfedLeast = 14
	LureUnfedMost  = 28
	LureLookLeast  = 2
	LureLookMost   = 4
)

// MostDusting is the most grain mix of one dusting; it is to be thin.
const MostDusting measure.Grams = 5_000

// MostLureSteps is the most steps of one lure.
const MostLureSteps = 200

// LureStep is one step of a lure.
type LureStep struct {
	Kind       LureStepKind
	Dusting    measure.Quantity // dusted only; empty: not weighed
	TransferID uuid.UUID        // lifted only: the worms moved
	Note       string
	OccurredAt time.Time
	Day        measure.Day
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// Lure draws worms out of a section that is to be harvested: it is left unfed,
// dusted with grain mix, looked at, and the worms that came are lifted to the
// feeding end, until few come.
type Lure struct {
	ID         uuid.UUID
	BinID      uuid.UUID
	SectionID  uuid.UUID
	UnfedSince measure.Day
	State      LureState
	Note       string
	Steps      []LureStep // in order
	OccurredAt time.Time
	Day        measure.Day
	RecordedAt time.Time
	RecordedBy uuid.UUID
}

// Validate refuses with lure.invalid, and with section.stage a section that is
// still fed or worked.
func (l Lure) Validate(s Section) error {
	var f Faults
	if s.Stage != Maturing && s.Stage != Finished {
		f.Add("section.stage", "/section_id", "section_id: worms are lured out of a maturing or finished section; %s is %s", s.Name, s.Stage)
	}
	if l.UnfedSince.After(l.Day) {
		f.Add("lure.invalid", "/unfed_since", "unfed_since: must not be after %s, the day it began; got %s", l.Day, l.UnfedSince)
	}
	f.Keep(CheckText("lure.invalid", "/note", l.Note, 1000))
	return f.Err()
}

// Take gives the lure after a step. It refuses with lure.state a step that
// does not follow from where the lure stands, with lure.full one too many, and
// with lure.invalid.
func (l Lure) Take(s LureStep) (Lure, error) {
	next, ok := map[LureState]map[LureStepKind]LureState{
		LureWaiting: {LureStepDusted: LureDusted, LureStepEnded: LureEnded},
		LureDusted:  {LureStepLooked: LureDusted, LureStepLifted: LureWaiting, LureStepEnded: LureEnded},
	}[l.State][s.Kind]
	if !oneOf(s.Kind, LureStepKinds) {
		return l, Refuse("lure.invalid", "/kind", "kind: must be one of %v; got %q", LureStepKinds, string(s.Kind))
	}
	if !ok {
		return l, Refuse("lure.state", "/kind", "kind: the lure is %s; %s does not come next (%s)", l.State, s.Kind, l.NextStep())
	}
	if len(l.Steps) >= MostLureSteps {
		return l, Refuse("lure.full", "", "a lure has at most %d steps; end it and begin another", MostLureSteps)
	}
	var f Faults
	last := l.OccurredAt
	if n := len(l.Steps); n > 0 {
		last = l.Steps[n-1].OccurredAt
	}
	if s.OccurredAt.Before(last) {
		f.Add("lure.invalid", "/occurred_at", "occurred_at: must not be before the step before it, %s", last.Format(time.RFC3339))
	}
	if s.Dusting.Value != "" {
		g, err := s.Dusting.Grams()
		switch {
		case s.Kind != LureStepDusted:
			f.Add("lure.invalid", "/dusting", "dusting: belongs to dusted; leave it out for %s", s.Kind)
		case err != nil || g < 1 || g > MostDusting:
			f.Add("lure.invalid", "/dusting", "dusting: must be a mass between 1 g and 5 kg, such as 30 g; got %q %q", s.Dusting.Value, s.Dusting.Unit)
		}
	}
	f.Keep(CheckText("lure.invalid", "/note", s.Note, 500))
	if err := f.Err(); err != nil {
		return l, err
	}
	l.State, l.Steps = next, append(l.Steps[:len(l.Steps):len(l.Steps)], s)
	return l, nil
}

// NextStep says what comes next, and when.
func (l Lure) NextStep() string {
	var last LureStep
	if n := len(l.Steps); n > 0 {
		last = l.Steps[n-1]
	}
	switch {
	case l.State == LureEnded:
		return "take leftover grain off before the harvest"
	case l.State == LureWaiting && last.Kind == LureStepLifted:
		return "dust again; when few worms come, end the lure and take leftover grain off"
	case l.State == LureWaiting:
		return fmt.Sprintf("dust on or after %s, by %s", l.UnfedSince.Add(LureUnfedLeast), l.UnfedSince.Add(LureUnfedMost))
	case last.Kind == LureStepLooked:
		return "lift the top few centimetres with the worms to the feeding end, or look again"
	}
	return fmt.Sprintf("look from %s to %s", last.Day.Add(LureLookLeast), last.Day.Add(LureLookMost))
}
