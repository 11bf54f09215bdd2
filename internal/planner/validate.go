package planner

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// Limits on what a Problem may hold.
const (
	MaxDays  = 366
	MaxUnits = int64(1) << 40 // any one mass or capacity
	MaxCost  = int64(1) << 40 // any one price per unit

	// Bound methods multiply costs by this to keep fractions; totals leave room.
	costScale = 1000
	maxTotal  = uint64(1) << 62
	maxArcs   = 50_000_000
	maxMetres = int64(1) << 29
)

// Fault is one thing wrong with a Problem or a plan. A note is no obstacle: it
// says what the planner will assume.
type Fault struct {
	Path    string `json:"path"` // e.g. lots[3].mass_units
	Rule    string `json:"rule"` // e.g. mass.negative
	Message string `json:"message"`
	Note    bool   `json:"note,omitempty"`
}

func (f Fault) String() string { return f.Path + ": " + f.Message }

// InvalidError says why a Problem can't be planned.
type InvalidError struct{ Faults []Fault }

func (e *InvalidError) Error() string {
	var b strings.Builder
	b.WriteString("planning problem: ")
	for i, f := range e.Faults {
		if i == 3 {
			fmt.Fprintf(&b, " (and %d more)", len(e.Faults)-3)
			break
		}
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(f.String())
	}
	return b.String()
}

// Validate lists every fault of the Problem, in the order of its fields, notes
// included. Solve refuses a Problem with a fault that is not a note.
func (p *Problem) Validate() []Fault {
	v := &validator{p: p}
	v.frame()
	if len(v.faults) > 0 {
		return v.faults // lengths below depend on the frame
	}
	v.sites()
	v.bins()
	v.lots()
	v.totals()
	return v.faults
}

// refusals keeps the faults that stand in the way and the notes apart.
func refusals(all []Fault) (bad, notes []Fault) {
	for _, f := range all {
		if f.Note {
			notes = append(notes, f)
		} else {
			bad = append(bad, f)
		}
	}
	return bad, notes
}

type validator struct {
	p      *Problem
	faults []Fault
	group  map[string]int
	site   map[string]int
	bin    map[string]int
}

func (v *validator) add(rule, path, format string, args ...any) {
	v.faults = append(v.faults, Fault{Path: path, Rule: rule, Message: fmt.Sprintf(format, args...)})
}

func (v *validator) between(path string, got, lo, hi int64) {
	if got < lo || got > hi {
		v.add("number.range", path, "must be between %d and %d; got %d", lo, hi, got)
	}
}

func (v *validator) series(path string, s []int64, want int) {
	if len(s) != want {
		v.add("series.length", path, "must have %d entries; got %d", want, len(s))
	}
	for i, x := range s {
		if x < 0 || x > MaxUnits { // the path is made only when it is needed
			v.between(fmt.Sprintf("%s[%d]", path, i), x, 0, MaxUnits)
		}
	}
}

func (v *validator) id(seen map[string]int, path, id string, i int) {
	if id == "" {
		v.add("id.missing", path+".id", "must not be empty")
		return
	}
	if j, ok := seen[id]; ok {
		v.add("id.duplicate", path+".id", "must be unique; %q is also entry %d", id, j)
		return
	}
	seen[id] = i
}

func (v *validator) known(seen map[string]int, path, id string) {
	if _, ok := seen[id]; !ok {
		v.add("id.unknown", path, "must name one that is listed; got %q", id)
	}
}

func (v *validator) place(path string, at *Place) {
	if at != nil {
		v.between(path+".x_m", at.XM, -maxMetres, maxMetres)
		v.between(path+".y_m", at.YM, -maxMetres, maxMetres)
	}
}

func (v *validator) frame() {
	p := v.p
	v.between("days", int64(p.Days), 1, MaxDays)
	v.between("unit_g", p.UnitG, 1, 1_000_000)
	v.between("nearest_bins", int64(p.Nearest), 0, 1_000_000)
	v.between("thaw_days", int64(p.ThawDays), 0, MaxDays)
	v.between("first_thaw_day", int64(p.FirstThaw), 0, MaxDays)
	pr := p.Prices
	v.between("prices.overflow_cost_per_unit", pr.Overflow, 1, MaxCost)
	v.between("prices.decline_cost_per_unit", pr.Decline, 1, MaxCost)
	v.between("prices.still_frozen_cost_per_unit", pr.StillFrozen, 0, MaxCost)
	v.between("prices.freeze_cost_per_unit", pr.Freeze, 0, MaxCost)
	v.between("prices.hold_cost_per_unit_night", pr.Hold, 0, MaxCost)
	v.between("prices.thaw_cost_per_unit", pr.Thaw, 0, MaxCost)
	v.between("prices.carry_cost_per_unit_km", pr.Carry, 0, MaxCost)
	v.between("prices.stand_in_cost_per_unit", pr.StandIn, 0, MaxCost)
	v.between("prices.visit_cost", pr.Visit, 0, MaxCost)
	v.between("container_units", p.ContainerUnits, 0, MaxUnits)
	if n := len(p.Load); n == 0 || p.Load[n-1].UpToPct != 100 {
		v.add("load.end", "load_steps", "the last step must end at 100 percent")
	}
	var last Step
	for i, s := range p.Load {
		path := fmt.Sprintf("load_steps[%d]", i)
		if s.UpToPct <= last.UpToPct || s.UpToPct > 100 {
			v.add("load.order", path+".up_to_pct", "must rise from step to step, up to 100; got %d after %d", s.UpToPct, last.UpToPct)
		}
		if s.Cost < last.Cost || s.Cost > MaxCost {
			v.add("load.falling", path+".cost_per_unit", "must not fall from step to step; got %d after %d", s.Cost, last.Cost)
		}
		last = s
	}
	if len(p.DayLabels) != 0 && len(p.DayLabels) != p.Days {
		v.add("series.length", "day_labels", "must have %d entries or none; got %d", p.Days, len(p.DayLabels))
	}
	v.group = make(map[string]int, len(p.Groups))
	for i, g := range p.Groups {
		path := fmt.Sprintf("groups[%d]", i)
		v.id(v.group, path, g.ID, i)
		v.between(path+".max_pct_of_room", g.MaxPct, 0, 100)
		v.between(path+".container_units", g.ContainerUnits, 0, MaxUnits)
	}
}

func (v *validator) sites() {
	v.site = make(map[string]int, len(v.p.Sites))
	for i := range v.p.Sites {
		s := &v.p.Sites[i]
		path := fmt.Sprintf("sites[%d]", i)
		v.id(v.site, path, s.ID, i)
		v.place(path+".place", s.Place)
		v.series(path+".bedding_ready_units", s.Bedding, v.p.Weeks())
		if len(s.StandIn) > 0 {
			v.series(path+".bedding_stand_in_units", s.StandIn, v.p.Weeks())
		}
		seen := make(map[string]bool)
		for j, d := range s.Drawers {
			at := fmt.Sprintf("%s.drawers[%d]", path, j)
			v.known(v.group, at+".group", d.Group)
			v.between(at+".capacity_units", d.Capacity, 0, MaxUnits)
			if seen[d.Group] {
				v.add("id.duplicate", at+".group", "must appear once per site; %q is repeated", d.Group)
			}
			seen[d.Group] = true
		}
	}
}

func (v *validator) bins() {
	v.bin = make(map[string]int, len(v.p.Bins))
	for i := range v.p.Bins {
		b := &v.p.Bins[i]
		path := fmt.Sprintf("bins[%d]", i)
		v.id(v.bin, path, b.ID, i)
		v.known(v.site, path+".site", b.Site)
		v.place(path+".place", b.Place)
		v.series(path+".room_units", b.Room, v.p.Days)
		v.series(path+".weekly_max_units", b.Weekly, v.p.Weeks())
		seen := make(map[string]bool)
		for j, g := range b.Limits {
			at := fmt.Sprintf("%s.limits[%d]", path, j)
			v.known(v.group, at+".group", g.Group)
			if seen[g.Group] {
				v.add("id.duplicate", at+".group", "must appear once per bin; %q is repeated", g.Group)
			}
			seen[g.Group] = true
			switch {
			case (g.Pct == nil) == (g.Units == nil):
				v.add("limit.form", at, "must give either max_pct_of_room or max_units, not both or neither")
			case g.Pct != nil:
				v.between(at+".max_pct_of_room", *g.Pct, 0, 100)
			default:
				v.between(at+".max_units", *g.Units, 0, MaxUnits)
			}
		}
	}
}

func (v *validator) lots() {
	p := v.p
	seen := make(map[string]int, len(p.Lots))
	byPlace := false
	for i := range p.Lots {
		l := &p.Lots[i]
		path := fmt.Sprintf("lots[%d]", i)
		v.id(seen, path, l.ID, i)
		v.known(v.site, path+".site", l.Site)
		v.known(v.group, path+".group", l.Group)
		v.place(path+".place", l.Place)
		v.between(path+".mass_units", l.Mass, 0, MaxUnits)
		if l.Kind != OnHand && l.Kind != Pledge && l.Kind != Expected {
			v.add("kind.unknown", path+".kind", "must be %q, %q or %q; got %q", OnHand, Pledge, Expected, l.Kind)
		}
		if l.Arrive < 0 || l.Arrive >= p.Days {
			v.add("day.outside", path+".arrive_day", "must be between 0 and %d, inside the plan; got %d", p.Days-1, l.Arrive)
		}
		if l.Frozen && (l.Arrive != 0 || l.Kind != OnHand) {
			v.add("lot.frozen_later", path+".frozen", "a lot already in the freezer must be on hand from day 0")
		}
		switch {
		case l.Frozen:
		case l.Latest >= p.Days:
			v.note("day.clamped", path+".latest_day", "day %d lies beyond the plan; taken as day %d", l.Latest, p.Days-1)
		case l.Latest < l.Arrive:
			v.note("lot.past_use", path+".latest_day", "the lot is past use when it arrives; all of it is left over")
		}
		v.carry(path, l)
		if len(l.Carry) == 0 {
			byPlace = true
			if s, ok := v.site[l.Site]; ok && l.Place == nil && p.Sites[s].Place == nil && len(p.Bins) > 0 {
				v.add("place.missing", path+".place", "must be given, here or for its site, when carry lists no bins")
			}
		}
	}
	for i := range p.Bins {
		s, ok := v.site[p.Bins[i].Site]
		if byPlace && ok && p.Bins[i].Place == nil && p.Sites[s].Place == nil {
			v.add("place.missing", fmt.Sprintf("bins[%d].place", i), "must be given, here or for its site, when a lot lists no carrying costs")
		}
	}
}

// carry is judged without naming each entry first: there may be millions.
func (v *validator) carry(path string, l *Lot) {
	seen := make([]int, 0, len(l.Carry))
	for j, c := range l.Carry {
		b, known := v.bin[c.Bin]
		if !known || c.Cost < 0 || c.Cost > MaxCost {
			at := fmt.Sprintf("%s.carry[%d]", path, j)
			v.known(v.bin, at+".bin", c.Bin)
			v.between(at+".cost_per_unit", c.Cost, 0, MaxCost)
		}
		if known {
			seen = append(seen, b)
		}
	}
	slices.Sort(seen)
	for j := 1; j < len(seen); j++ {
		if seen[j] == seen[j-1] {
			v.add("id.duplicate", path+".carry", "must name each bin once; %q is repeated", v.p.Bins[seen[j]].ID)
		}
	}
}

func (v *validator) note(rule, path, format string, args ...any) {
	v.add(rule, path, format, args...)
	v.faults[len(v.faults)-1].Note = true
}

// totals makes sure that no sum of costs can overflow 64 bits and that the
// problem fits in memory.
func (v *validator) totals() {
	if bad, _ := refusals(v.faults); len(bad) > 0 {
		return
	}
	p, pr := v.p, v.p.Prices
	var mass uint64
	var carry, arcs int64
	reach := int64(len(p.Bins))
	if p.Nearest > 0 {
		reach = min(reach, int64(p.Nearest))
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		mass += uint64(l.Mass) // at most 2^40 each: cannot wrap for any list that fits in memory
		n := reach
		for _, c := range l.Carry {
			carry = max(carry, c.Cost)
		}
		if len(l.Carry) > 0 {
			n = int64(len(l.Carry))
		}
		arcs += n * int64(max(0, p.lastDay(l)-l.Arrive+1))
	}
	for i := range p.Sites {
		arcs += int64(len(p.Sites[i].Drawers)) * int64(p.Days)
	}
	slots := int64(len(p.Bins)) * int64(p.Days)
	arcs += slots * int64(len(p.Groups)*2+len(p.Load)+1)
	if arcs > maxArcs {
		v.add("problem.too_large", "lots", "lots times bins times days must stay below %d choices; got %d. Lower nearest_bins or days", maxArcs, arcs)
	}
	if diag := v.span(); diag > 0 {
		hi, lo := bits.Mul64(uint64(diag), uint64(pr.Carry))
		if hi != 0 || lo/1000 > uint64(MaxCost) {
			v.add("cost.overflow", "prices.carry_cost_per_unit_km", "too large for the distances: the longest carry would cost more than %d per unit", MaxCost)
			return
		}
		carry = max(carry, int64(lo/1000))
	}
	dearest := uint64(max(pr.Overflow, pr.Decline)) + uint64(pr.StillFrozen) + uint64(pr.Freeze) +
		uint64(pr.Hold)*uint64(p.Days) + uint64(pr.Thaw) + uint64(carry) + uint64(pr.StandIn) + uint64(p.Load[len(p.Load)-1].Cost)
	// A path through the tree meets each node at most once; nodes never outnumber arcs and lots.
	steps := uint64(arcs) + uint64(len(p.Lots)) + uint64(len(p.Sites)*(p.Weeks()+1)) + 2
	most := maxTotal
	if p.refined() { // a fee may fall on one unit; reduced costs add up several ways
		dearest += uint64(pr.Visit)
		mass = max(mass, uint64(slots))
		if over, s := bits.Mul64(steps, uint64(slices.Max(append(p.sizes(), 1)))); over > 0 {
			steps = maxTotal
		} else {
			steps = s
		}
		most /= 8
	}
	for _, n := range []uint64{max(mass, 1), steps} {
		hi, lo := bits.Mul64(dearest, n)
		hi2, lo2 := bits.Mul64(lo, costScale)
		if hi != 0 || hi2 != 0 || lo2 >= most {
			v.add("cost.overflow", "prices", "prices times masses must stay below 2^%d; the dearest way of one unit costs %d. Lower the prices or use a larger unit", bits.Len64(most)-1, dearest)
			return
		}
	}
}

// span is no less than the longest distance in metres between any two places.
func (v *validator) span() int64 {
	var x0, x1, y0, y1 int64
	first := true
	see := func(at *Place) {
		if at == nil {
			return
		}
		if first {
			x0, x1, y0, y1, first = at.XM, at.XM, at.YM, at.YM, false
		}
		x0, x1, y0, y1 = min(x0, at.XM), max(x1, at.XM), min(y0, at.YM), max(y1, at.YM)
	}
	for i := range v.p.Sites {
		see(v.p.Sites[i].Place)
	}
	for i := range v.p.Bins {
		see(v.p.Bins[i].Place)
	}
	for i := range v.p.Lots {
		see(v.p.Lots[i].Place)
	}
	return (x1 - x0) + (y1 - y0)
}
