package farm

import (
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// ShiftKind is what a shift is for.
type ShiftKind string

// Kinds of shift.
const (
	HostShift    ShiftKind = "host"
	KeeperRound  ShiftKind = "keeper_round"
	BeddingShift ShiftKind = "bedding"
	HarvestDay   ShiftKind = "harvest_day"
	WashUp       ShiftKind = "wash_up"
)

// ShiftKinds lists the kinds of shift.
var ShiftKinds = []ShiftKind{HostShift, KeeperRound, BeddingShift, HarvestDay, WashUp}

// ClaimState is what became of a place that a member took.
type ClaimState string

// States of a claim. A claimed and a done one take up a place.
const (
	Claimed  ClaimState = "claimed"
	Swapped  ClaimState = "swapped" // somebody else took it over
	Released ClaimState = "released"
	Done     ClaimState = "done"
	Missed   ClaimState = "missed"
)

// Claim is a member's place in a shift.
type Claim struct {
	MemberID  uuid.UUID
	State     ClaimState
	ChangedAt time.Time
	ChangedBy uuid.UUID
	Reason    string
}

// Live tells whether the claim takes up a place.
func (c Claim) Live() bool { return c.State == Claimed || c.State == Done }

// ShiftState follows from the claims and the clock.
type ShiftState string

// States of a shift: with places left, with none, over, or called off.
const (
	ShiftOpen      ShiftState = "open"
	ShiftClaimed   ShiftState = "claimed"
	ShiftDone      ShiftState = "done"
	ShiftCancelled ShiftState = "cancelled"
)

// longestShift is the longest that one shift may last.
const longestShift = 24 * time.Hour

// Shift is a job at a site and time, with places.
type Shift struct {
	ID        uuid.UUID
	Kind      ShiftKind
	SiteID    uuid.UUID
	StartsAt  time.Time
	EndsAt    time.Time
	Day       measure.Day // the garden's day on which it starts
	Places    int
	Note      string
	Cancelled bool
	Claims    []Claim // one per member, in order of member id
	CreatedAt time.Time
	Version   int
}

// Validate refuses with shift.invalid, and with shift.full fewer places than
// people who hold one.
func (s Shift) Validate() error {
	var f Faults
	if !oneOf(s.Kind, ShiftKinds) {
		f.Add("shift.invalid", "/kind", "kind: must be one of %v; got %q", ShiftKinds, s.Kind)
	}
	if long := s.EndsAt.Sub(s.StartsAt); long <= 0 || long > longestShift {
		f.Add("shift.invalid", "/ends_at", "ends_at: must be after starts_at, at most 24 hours; got %s to %s",
			s.StartsAt.Format(time.RFC3339), s.EndsAt.Format(time.RFC3339))
	}
	if s.Places < 1 || s.Places > 50 {
		f.Add("shift.invalid", "/places", "places: must be between 1 and 50; got %d", s.Places)
	}
	f.Keep(CheckText("shift.invalid", "/note", s.Note, 500))
	if n := s.Taken(); f.Len() == 0 && s.Places < n {
		f.Add("shift.full", "/places", "places: %d people hold a place; got %d", n, s.Places)
	}
	if s.Cancelled && slices.ContainsFunc(s.Claims, func(c Claim) bool { return c.State == Done }) {
		f.Add("shift.state", "/cancelled", "cancelled: somebody has done this shift; it can't be called off")
	}
	return f.Err()
}

// Taken is how many places are taken up.
func (s Shift) Taken() int {
	n := 0
	for _, c := range s.Claims {
		if c.Live() {
			n++
		}
	}
	return n
}

// State is where the shift stands at an instant.
func (s Shift) State(now time.Time) ShiftState {
	switch {
	case s.Cancelled:
		return ShiftCancelled
	case !s.EndsAt.After(now):
		return ShiftDone
	case s.Taken() >= s.Places:
		return ShiftClaimed
	}
	return ShiftOpen
}

// claimOf is the member's claim, and whether there is one in one of the states.
func (s Shift) claimOf(member uuid.UUID, states ...ClaimState) bool {
	return slices.ContainsFunc(s.Claims, func(c Claim) bool { return c.MemberID == member && slices.Contains(states, c.State) })
}

// Holds tells whether the member has a place in the shift.
func (s Shift) Holds(member uuid.UUID) bool { return s.claimOf(member, Claimed, Done) }

// ShiftMoveKind is what happens to a place.
type ShiftMoveKind string

// Moves of a place.
const (
	ClaimPlace   ShiftMoveKind = "claim"
	ReleasePlace ShiftMoveKind = "release"
	SwapPlace    ShiftMoveKind = "swap"
	MarkDone     ShiftMoveKind = "done"
	MarkMissed   ShiftMoveKind = "missed"
)

// ShiftMove is a wish to move a place: whose, who wishes it, and for a swap
// who takes it over. Host says that By hosts at the site during the shift.
type ShiftMove struct {
	Kind   ShiftMoveKind
	By     Member
	Host   bool
	Whose  Member
	To     Member
	Reason string
	At     time.Time
}

// Move changes a place, and gives the claims that changed. It refuses with
// role.forbidden what is not By's to do, with shift.state what the time or the
// shift's state forbids, with shift.full a claim without a place left, with
// claim.exists a second claim, with claim.none a place that is not held, and
// with shift.invalid a reason that is too long.
func (s Shift) Move(m ShiftMove) ([]Claim, error) {
	if err := CheckText("shift.invalid", "/reason", m.Reason, 300); err != nil {
		return nil, err
	}
	if err := s.mayMove(m); err != nil {
		return nil, err
	}
	if s.Cancelled {
		return nil, Refuse("shift.state", "/move", "move: the shift was called off")
	}
	to := func(who Member, state ClaimState) Claim {
		return Claim{MemberID: who.ID, State: state, ChangedAt: m.At, ChangedBy: m.By.ID, Reason: m.Reason}
	}
	switch m.Kind {
	case ClaimPlace:
		return []Claim{to(m.Whose, Claimed)}, s.checkClaim(m)
	case ReleasePlace:
		return []Claim{to(m.Whose, Released)}, s.checkRelease(m)
	case SwapPlace:
		return []Claim{to(m.Whose, Swapped), to(m.To, Claimed)}, s.checkSwap(m)
	case MarkDone:
		return []Claim{to(m.Whose, Done)}, s.checkMark(m)
	case MarkMissed:
		return []Claim{to(m.Whose, Missed)}, s.checkMark(m)
	}
	return nil, Refuse("shift.invalid", "/move", "move: must be claim, release, swap, done or missed; got %q", m.Kind)
}

func (s Shift) mayMove(m ShiftMove) error {
	if m.By.Role == Coordinator {
		return nil
	}
	if m.Kind == MarkDone || m.Kind == MarkMissed {
		if m.Host {
			return nil
		}
		return Refuse("role.forbidden", "/move", "move: a coordinator or who hosts at the site then says what was done")
	}
	if m.Whose.ID != m.By.ID {
		return Refuse("role.forbidden", "/member_id", "member_id: only a coordinator may do this for somebody else")
	}
	return nil
}

// fits refuses a person who may not take a place in this shift.
func (s Shift) fits(who Member, field string) error {
	need := ClaimShifts
	if s.Kind == KeeperRound {
		need = CareForBins
	}
	if !who.Active || !who.Role.May(need) {
		return Refuse("role.forbidden", field, "%s: a %s may not take a place in a shift of kind %s", field[1:], who.Role, s.Kind)
	}
	return nil
}

func (s Shift) over(at time.Time) error {
	if s.EndsAt.After(at) {
		return nil
	}
	return Refuse("shift.state", "/move", "move: the shift was over at %s", s.EndsAt.UTC().Format(time.RFC3339))
}

func (s Shift) checkClaim(m ShiftMove) error {
	if err := s.over(m.At); err != nil {
		return err
	}
	if err := s.fits(m.Whose, "/member_id"); err != nil {
		return err
	}
	if s.Holds(m.Whose.ID) {
		return Refuse("claim.exists", "/member_id", "member_id: this member has a place already")
	}
	if s.Taken() >= s.Places {
		return Refuse("shift.full", "/move", "move: all %d places are taken", s.Places)
	}
	return nil
}

func (s Shift) held(m ShiftMove) error {
	if s.claimOf(m.Whose.ID, Claimed) {
		return nil
	}
	return Refuse("claim.none", "/member_id", "member_id: this member holds no place that could be given up")
}

func (s Shift) checkRelease(m ShiftMove) error {
	if !s.StartsAt.After(m.At) {
		return Refuse("shift.state", "/move", "move: the shift has begun; mark the place missed instead")
	}
	return s.held(m)
}

func (s Shift) checkSwap(m ShiftMove) error {
	if m.To.ID == uuid.Nil || m.To.ID == m.Whose.ID {
		return Refuse("shift.invalid", "/to_member_id", "to_member_id: must name who takes the place, somebody else than who gives it up")
	}
	if err := s.over(m.At); err != nil {
		return err
	}
	if err := s.held(m); err != nil {
		return err
	}
	if s.Holds(m.To.ID) {
		return Refuse("claim.exists", "/to_member_id", "to_member_id: this member has a place already")
	}
	return s.fits(m.To, "/to_member_id")
}

// checkMark lets a mark be put right later: done and missed change into each
// other, as long as there is a place.
func (s Shift) checkMark(m ShiftMove) error {
	if s.StartsAt.After(m.At) {
		return Refuse("shift.state", "/move", "move: the shift begins only at %s", s.StartsAt.UTC().Format(time.RFC3339))
	}
	if !s.claimOf(m.Whose.ID, Claimed, Done, Missed) {
		return Refuse("claim.none", "/member_id", "member_id: this member took no place in the shift")
	}
	if m.Kind == MarkDone && !s.Holds(m.Whose.ID) && s.Taken() >= s.Places {
		return Refuse("shift.full", "/move", "move: all %d places are taken; somebody stepped in", s.Places)
	}
	return nil
}

// With gives the shift with claims put in place.
func (s Shift) With(claims []Claim) Shift {
	s.Claims = slices.Clone(s.Claims)
	for _, c := range claims {
		i, found := slices.BinarySearchFunc(s.Claims, c.MemberID, func(e Claim, id uuid.UUID) int { return slices.Compare(e.MemberID[:], id[:]) })
		if found {
			s.Claims[i] = c
		} else {
			s.Claims = slices.Insert(s.Claims, i, c)
		}
	}
	return s
}
