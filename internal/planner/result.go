package planner

// Status says whether a plan is proven best.
type Status string

// What a plan's status may be, and why a search stopped early.
const (
	Proven  Status = "proven"
	Stopped Status = "stopped"

	StoppedByPivots = "pivots"
	StoppedByCancel = "cancelled"
	StoppedByNodes  = "nodes"
	// Not stopped at all, but containers of several sizes, or stand-in bedding
	// under whole containers, leave a gap that this search can't close.
	StoppedByContainers = "containers"
)

// Result is a plan and its proof. Masses are in the Problem's unit. For every
// lot, fed + left over + still frozen = its mass.
type Result struct {
	Status      Status `json:"status"`
	StoppedBy   string `json:"stopped_by,omitempty"`
	UnitG       int64  `json:"unit_g"`
	Value       int64  `json:"value"`       // cost of this plan, visits included
	Bound       int64  `json:"lower_bound"` // no plan costs less
	Gap         int64  `json:"gap"`
	GapPPM      int64  `json:"gap_ppm"`          // gap in millionths of the value
	Unavoidable int64  `json:"unavoidable_cost"` // least price of uneaten food under any plan
	// The gap in millionths of what planning can influence: value less unavoidable.
	ControllablePPM int64 `json:"gap_controllable_ppm"`

	Visits      int           `json:"visits,omitempty"` // bin-days with a feeding; counted when a visit has a price
	Totals      Totals        `json:"totals"`
	Feedings    []Feeding     `json:"feedings"`
	Freezes     []Freezing    `json:"freezings"`
	LeftOver    []LeftOver    `json:"left_over"`
	StillFrozen []StillFrozen `json:"still_frozen"`
	Bedding     []BeddingUse  `json:"bedding"`
	Worth       []Worth       `json:"worth,omitempty"`
	Reasons     []Reason      `json:"reasons,omitempty"`
	Notes       []Fault       `json:"notes,omitempty"`
	Work        Work          `json:"work"`

	leftOverCost int64
}

// Totals sum the plan.
type Totals struct {
	Supply      int64 `json:"supply_units"`
	Fed         int64 `json:"fed_units"`
	Overflow    int64 `json:"overflow_units"` // on hand, but no bin can take it
	Declined    int64 `json:"declined_units"` // pledged or expected, better not taken
	StillFrozen int64 `json:"still_frozen_units"`
	StandIn     int64 `json:"stand_in_units"`
}

// Feeding gives part of a lot to a bin on a day. TakenOut is the day it leaves
// the freezer, for thawed food only.
type Feeding struct {
	Lot      string `json:"lot"`
	Bin      string `json:"bin"`
	Day      int    `json:"day"`
	Mass     int64  `json:"mass_units"`
	TakenOut *int   `json:"taken_out_day,omitempty"`
}

// Freezing puts part of a lot into its site's freezer on its arrival day. Lots
// that were frozen from the start have none.
type Freezing struct {
	Lot  string `json:"lot"`
	Site string `json:"site"`
	Day  int    `json:"day"`
	Mass int64  `json:"mass_units"`
}

// LeftOver is the part of a lot that goes elsewhere: to overflow, or, for a
// pledge or expected lot, is not taken.
type LeftOver struct {
	Lot      string `json:"lot"`
	Mass     int64  `json:"mass_units"`
	Declined bool   `json:"declined"`
}

// StillFrozen is the part of a lot in the freezer after the last day.
type StillFrozen struct {
	Lot  string `json:"lot"`
	Mass int64  `json:"mass_units"`
}

// BeddingUse is the bedding of a site in a week, in units of food covered: what
// that week's feedings need, and what is drawn from the bedding that turns ripe
// in that week (now or later) or wetted fresh for want of it.
type BeddingUse struct {
	Site    string `json:"site"`
	Week    int    `json:"week"`
	Food    int64  `json:"food_units"`
	Ready   int64  `json:"from_ready_units"`
	StandIn int64  `json:"stand_in_units"`
}

// Work counts what the search did.
type Work struct {
	Pivots   int64 `json:"pivots"`
	Branches int   `json:"branches,omitempty"` // choices of visits looked into
	Nodes    int   `json:"nodes"`              // of the network
	Arcs     int   `json:"arcs"`
}
