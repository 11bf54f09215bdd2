package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// PlanState is what a plan is to the garden. A plan never changes but for this.
type PlanState string

// States of a plan.
const (
	PlanProposed  PlanState = "proposed"  // worked out, not yet anyone's plan
	PlanPublished PlanState = "published" // the garden's plan; at most one is
	PlanReplaced  PlanState = "replaced"  // was published once
)

// TaskKind is what a task of a plan asks for.
type TaskKind string

// Kinds of task.
const (
	TaskFeed         TaskKind = "feed"
	TaskFreeze       TaskKind = "freeze"
	TaskThawAndFeed  TaskKind = "thaw_and_feed"
	TaskOverflow     TaskKind = "overflow"      // on hand, and no bin can take it
	TaskTurnAway     TaskKind = "turn_away"     // pledged or expected, better not taken
	TaskStartBedding TaskKind = "start_bedding" // bedding to start ageing now
)

// LongestPlan is the most days that a plan may cover.
const LongestPlan = 60

// PlanRequest is what to plan for.
type PlanRequest struct {
	From     measure.Day // zero: today
	Days     int
	Nearest  int  // bins that a lot considers; 0: as many as is sensible
	Expected bool // reckon with scraps that nobody pledged
}

// Validate refuses with plan.invalid. today is the garden's.
func (r PlanRequest) Validate(today measure.Day) error {
	var f Faults
	if r.Days < 1 || r.Days > LongestPlan {
		f.Add("plan.invalid", "/days", "days: must be between 1 and %d; got %d", LongestPlan, r.Days)
	}
	if ahead := r.From.Sub(today); ahead < 0 || ahead > LongestPlan {
		f.Add("plan.invalid", "/from", "from: must be today, %s, or at most %d days later; got %s", today, LongestPlan, r.From)
	}
	if r.Nearest < 0 || r.Nearest > 200 {
		f.Add("plan.invalid", "/nearest_bins", "nearest_bins: must be between 1 and 200; got %d", r.Nearest)
	}
	return f.Err()
}

// Plan is a plan in short: what it covers, its sums and its proof.
type Plan struct {
	ID          uuid.UUID
	State       PlanState
	Request     PlanRequest // From is set
	AsOf        measure.Day // the garden's day on which it was worked out
	Totals      PlanTotals
	Proof       PlanProof
	ComputedAt  time.Time
	ComputedBy  uuid.UUID
	PublishedAt time.Time // zero: never
	PublishedBy uuid.UUID
}

// PlanTotals are a plan's sums: Supply = Fed + Frozen + Overflow + Declined.
type PlanTotals struct {
	Supply   measure.Grams
	Fed      measure.Grams
	Frozen   measure.Grams // in the freezer after the last day
	Overflow measure.Grams
	Declined measure.Grams
	Bedding  measure.Grams
	Visits   int // a bin on a day
}

// PlanProof is what is proven of a plan. Value and Bound are in thousandths of
// a point; gaps in millionths.
type PlanProof struct {
	Value           int64
	Bound           int64
	GapPPM          int64
	ControllablePPM int64
	Optimal         bool
	Stopped         string // why the search ended early; empty: it did not
	Pivots          int64
	Engine          string
	InputSHA256     [32]byte
}

// PlanTask is one thing to do. Ids are zero where they don't apply.
type PlanTask struct {
	ID        uuid.UUID
	Kind      TaskKind
	Day       measure.Day
	LotID     uuid.UUID
	PledgeID  uuid.UUID
	Expected  string // what is expected and when, for scraps nobody pledged
	Material  string
	BinID     uuid.UUID
	SectionID uuid.UUID
	SiteID    uuid.UUID
	Mass      measure.Grams
	Bedding   measure.Grams // the least to lay with it
	BatchID   uuid.UUID     // of bedding; the oldest that is ready
	KeeperIDs []uuid.UUID   // who is there that day
	Why       string
	DoneBy    uuid.UUID // the feeding that cites it; zero: none yet
}

// PlanBinding is a limit that binds, and what a kilogram more of it would be
// worth in points.
type PlanBinding struct {
	What       string `json:"what"`
	Rule       string `json:"rule"`
	WorthPerKg int64  `json:"worth_per_kg"`
	Sentence   string `json:"sentence"`
}
