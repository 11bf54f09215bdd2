package farm

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// PledgeStatus is what became of a pledge.
type PledgeStatus string

// States of a pledge. Offered and accepted ones are open: still expected.
const (
	PledgeOffered   PledgeStatus = "offered"
	PledgeAccepted  PledgeStatus = "accepted"
	PledgeDeclined  PledgeStatus = "declined"
	PledgeWithdrawn PledgeStatus = "withdrawn"
	PledgeKept      PledgeStatus = "kept"
	PledgeMissed    PledgeStatus = "missed"
)

// PledgeDecision is what somebody makes of an open pledge.
type PledgeDecision string

// Decisions. A pledge is kept by the lot that cites it, not by decision.
const (
	AcceptPledge   PledgeDecision = "accept"
	DeclinePledge  PledgeDecision = "decline"
	WithdrawPledge PledgeDecision = "withdraw"
	MissPledge     PledgeDecision = "miss"
)

// Bounds of a pledge: how far ahead, and how many weeks in a row.
const (
	PledgeAhead = 366
	MostWeeks   = 52
)

// Pledge is a promise of scraps, for a drop-off window or for a day and a
// site. With a window, day and site are the window's own.
type Pledge struct {
	ID          uuid.UUID
	SeriesID    uuid.UUID // the first pledge of its weeks; its own id when alone
	RepeatWeeks int       // how many weeks the series has
	WindowID    uuid.UUID // zero: none
	ExpectedOn  measure.Day
	SiteID      uuid.UUID
	Material    string
	HouseholdID uuid.UUID // exactly one giver: a household or a member
	MemberID    uuid.UUID
	Entered     Entered
	Mass        measure.Grams
	RelSD       int // permille
	Status      PledgeStatus
	Reason      string // of the last decision
	Note        string
	PromisedAt  time.Time
	PromisedOn  measure.Day
	RecordedAt  time.Time
	RecordedBy  uuid.UUID
	DecidedAt   time.Time // zero: not yet
	DecidedBy   uuid.UUID
}

// Open tells whether the scraps are still expected.
func (p Pledge) Open() bool { return p.Status == PledgeOffered || p.Status == PledgeAccepted }

// Of tells whether the pledge is a member's own, or their household's.
func (p Pledge) Of(m Member) bool {
	return p.MemberID == m.ID || (p.HouseholdID != uuid.Nil && p.HouseholdID == m.HouseholdID)
}

// SeenBy tells whether a member may see the pledge: their own, or everyone's
// when they take scraps in.
func (p Pledge) SeenBy(m Member) bool { return m.Role.May(TakeIn) || p.Of(m) }

// Validate refuses with pledge.invalid; the mass is checked by Entered.Work.
// today is the garden's day of recording.
func (p Pledge) Validate(today measure.Day) error {
	var f Faults
	switch {
	case p.WindowID != uuid.Nil && p.RepeatWeeks != 1:
		f.Add("pledge.invalid", "/repeat_weeks", "repeat_weeks: a pledge for a window is for that window alone; got %d", p.RepeatWeeks)
	case p.RepeatWeeks < 1 || p.RepeatWeeks > MostWeeks:
		f.Add("pledge.invalid", "/repeat_weeks", "repeat_weeks: must be between 1 and %d; got %d", MostWeeks, p.RepeatWeeks)
	}
	switch {
	case p.WindowID != uuid.Nil:
	case p.ExpectedOn.IsZero():
		f.Add("pledge.invalid", "/expected_on", "expected_on: name a drop-off window, or a day and a site")
	case p.ExpectedOn.Before(today) || p.ExpectedOn.Sub(today) > PledgeAhead:
		f.Add("pledge.invalid", "/expected_on", "expected_on: must be between %s and %s; got %s", today, today.Add(PledgeAhead), p.ExpectedOn)
	}
	if p.SiteID == uuid.Nil {
		f.Add("pledge.invalid", "/site_id", "site_id: name a drop-off window, or a day and a site")
	}
	f.Keep(CheckText("pledge.invalid", "/note", p.Note, 500))
	return f.Err()
}

// MayDecide refuses with role.forbidden what a member may not make of this
// pledge: whoever takes scraps in accepts, declines and notes what was missed;
// only who promised, or a coordinator, withdraws.
func (p Pledge) MayDecide(d PledgeDecision, m Member) error {
	if d == WithdrawPledge {
		if p.Of(m) || m.Role == Coordinator {
			return nil
		}
		return Refuse("role.forbidden", "/decision", "decision: only who promised, or a coordinator, withdraws a pledge")
	}
	if m.Role.May(TakeIn) {
		return nil
	}
	return Refuse("role.forbidden", "/decision", "decision: a %s of this garden may only withdraw a pledge", m.Role)
}

// Decide gives the pledge after a decision. It refuses with pledge.state what
// its state does not allow, with pledge.not_due a miss before the day is over,
// and with pledge.invalid an unknown decision or a bad reason.
func (p Pledge) Decide(d PledgeDecision, reason string, today measure.Day) (Pledge, error) {
	if err := CheckText("pledge.invalid", "/reason", reason, 500); err != nil {
		return p, err
	}
	from := []PledgeStatus{PledgeOffered, PledgeAccepted}
	var to PledgeStatus
	switch d {
	case AcceptPledge:
		from, to = from[:1], PledgeAccepted
	case DeclinePledge:
		to = PledgeDeclined
	case WithdrawPledge:
		to = PledgeWithdrawn
	case MissPledge:
		to = PledgeMissed
	default:
		return p, Refuse("pledge.invalid", "/decision", "decision: must be accept, decline, withdraw or miss; got %q", d)
	}
	if !slices.Contains(from, p.Status) {
		return p, Refuse("pledge.state", "/decision", "decision: the pledge is %s; to %s it, it must be one of %v", p.Status, d, from)
	}
	if d == MissPledge && !p.ExpectedOn.Before(today) {
		return p, Refuse("pledge.not_due", "/decision", "decision: the scraps are expected on %s; that day is not over", p.ExpectedOn)
	}
	p.Status, p.Reason = to, reason
	return p, nil
}
