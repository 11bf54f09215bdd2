package planner

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
)

// Kind says how sure a lot is.
type Kind string

// The kinds of lot.
const (
	OnHand   Kind = "on_hand"  // already received
	Pledge   Kind = "pledge"   // offered, may be declined
	Expected Kind = "expected" // forecast, nobody has offered it yet
)

// Problem is everything a plan depends on. Masses are whole units of UnitG
// grams; costs are whole numbers per unit of mass. Days count from 0, the first
// day of the plan; weeks are blocks of seven days from day 0 and the last may be
// short.
type Problem struct {
	Days  int   `json:"days"`
	UnitG int64 `json:"unit_g"`
	// Food is fed and frozen in whole containers of this mass; 0 = in any mass.
	// What a lot holds beyond whole containers is left over.
	ContainerUnits int64    `json:"container_units,omitempty"`
	Nearest        int      `json:"nearest_bins"` // a lot considers this many nearest bins; 0 = all
	Prices         Prices   `json:"prices"`
	Load           []Step   `json:"load_steps"`
	ThawDays       int      `json:"thaw_days"`      // days between taking food out of the freezer and feeding it
	FirstThaw      int      `json:"first_thaw_day"` // no thawed food is fed before this day: people need notice
	Groups         []Group  `json:"groups"`
	Sites          []Site   `json:"sites"`
	Bins           []Bin    `json:"bins"`
	Lots           []Lot    `json:"lots"`
	DayLabels      []string `json:"day_labels,omitempty"` // names of the days in sentences; one per day, or none
}

// Prices turn the garden's priorities into one number. Each is a cost per unit
// of mass. To keep the order strict, Overflow must exceed every saving that
// carrying, crowding and freezing could offer together.
type Prices struct {
	Overflow    int64 `json:"overflow_cost_per_unit"`     // received food that no bin eats
	Decline     int64 `json:"decline_cost_per_unit"`      // a pledge or expected lot not taken
	StillFrozen int64 `json:"still_frozen_cost_per_unit"` // food in the freezer after the last day
	Freeze      int64 `json:"freeze_cost_per_unit"`
	Hold        int64 `json:"hold_cost_per_unit_night"` // each night in the freezer
	Thaw        int64 `json:"thaw_cost_per_unit"`
	Carry       int64 `json:"carry_cost_per_unit_km"`
	StandIn     int64 `json:"stand_in_cost_per_unit"` // fresh-wetted bedding used for want of ripe bedding
	Visit       int64 `json:"visit_cost,omitempty"`   // per visit, not per unit: one bin fed on one day; 0 = visits are free
}

// Step is one stretch of the crowding cost: up to UpToPct of a bin's room on a
// day, each further unit costs Cost. Costs never fall from step to step; the
// last step ends at 100.
type Step struct {
	UpToPct int64 `json:"up_to_pct"`
	Cost    int64 `json:"cost_per_unit"`
}

// Group is a go-easy group: foods of which a bin takes only a share per feeding.
type Group struct {
	ID     string `json:"id"`
	Label  string `json:"label,omitempty"`
	MaxPct int64  `json:"max_pct_of_room"` // for bins that do not say otherwise: 0 = never, 100 = no limit
	// The container of this group where it differs; a finer one suits a group of
	// which bins get little. 1 = in any mass; 0 = the Problem's.
	ContainerUnits int64 `json:"container_units,omitempty"`
}

// Site is a place with bins, a freezer and bedding.
type Site struct {
	ID      string   `json:"id"`
	Label   string   `json:"label,omitempty"`
	Place   *Place   `json:"place,omitempty"`
	Drawers []Drawer `json:"drawers,omitempty"`
	Bedding []int64  `json:"bedding_ready_units"`              // per week: food the bedding turning ripe covers; keeps for later weeks
	StandIn []int64  `json:"bedding_stand_in_units,omitempty"` // per week: food that fresh-wetted bedding may cover
}

// Drawer is a site's freezer space for one group.
type Drawer struct {
	Group    string `json:"group"`
	Capacity int64  `json:"capacity_units"`
}

// Place is a point on a flat local grid, in metres.
type Place struct {
	XM int64 `json:"x_m"`
	YM int64 `json:"y_m"`
}

// Bin is a place where food can be fed.
type Bin struct {
	ID     string     `json:"id"`
	Label  string     `json:"label,omitempty"`
	Site   string     `json:"site"`
	Place  *Place     `json:"place,omitempty"`  // the site's when absent
	Room   []int64    `json:"room_units"`       // per day: what it can be fed; 0 = no keeper there
	Weekly []int64    `json:"weekly_max_units"` // per week
	Limits []GroupMax `json:"limits,omitempty"` // go-easy limits that differ from the group's own
}

// GroupMax limits one group in one bin per feeding: as a share of that day's
// room, or as a mass. Exactly one of the two is set.
type GroupMax struct {
	Group string `json:"group"`
	Pct   *int64 `json:"max_pct_of_room,omitempty"`
	Units *int64 `json:"max_units,omitempty"`
}

// Lot is a batch of one group of food.
type Lot struct {
	ID        string    `json:"id"`
	Label     string    `json:"label,omitempty"`
	Site      string    `json:"site"` // whose freezer it may use
	Group     string    `json:"group"`
	Kind      Kind      `json:"kind"`
	Mass      int64     `json:"mass_units"`
	Arrive    int       `json:"arrive_day"`
	Latest    int       `json:"latest_day"` // last day it may be fed unfrozen; before Arrive = past use
	Freezable bool      `json:"freezable,omitempty"`
	Frozen    bool      `json:"frozen,omitempty"` // already in its site's freezer on day 0
	Place     *Place    `json:"place,omitempty"`  // the site's when absent
	Carry     []BinCost `json:"carry,omitempty"`  // when given: the only bins it can reach, with their costs
}

// BinCost is the cost of carrying one unit of a lot to a bin.
type BinCost struct {
	Bin  string `json:"bin"`
	Cost int64  `json:"cost_per_unit"`
}

// DaysPerWeek is the length of a planning week.
const DaysPerWeek = 7

// Weeks is the number of planning weeks, the last perhaps short.
func (p *Problem) Weeks() int { return (p.Days + DaysPerWeek - 1) / DaysPerWeek }

// lastDay is the last day of the plan on which the lot may be fed unfrozen; -1
// when there is none.
func (p *Problem) lastDay(l *Lot) int {
	if l.Frozen {
		return -1
	}
	return max(-1, min(l.Latest, p.Days-1))
}

// leftOverPrice is the cost of each unit of the lot that no bin gets.
func (p *Problem) leftOverPrice(l *Lot) int64 {
	if l.Kind == OnHand {
		return p.Prices.Overflow
	}
	return p.Prices.Decline
}

// Parse reads a Problem from JSON and refuses fields it does not know. It does
// not judge the content; Validate does.
func Parse(data []byte) (*Problem, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	p := new(Problem)
	if err := dec.Decode(p); err != nil {
		return nil, fmt.Errorf("planning problem: %w", err)
	}
	if _, err := dec.Token(); err != io.EOF {
		return nil, fmt.Errorf("planning problem: must be one JSON object; found more after it")
	}
	return p, nil
}
