package planner

import "slices"

// Reason says why a lot goes where it goes. Text is a plain sentence; the other
// fields carry the same for a program.
type Reason struct {
	Code    string `json:"code"`
	Lot     string `json:"lot"`
	Mass    int64  `json:"mass_units"`
	Bin     string `json:"bin,omitempty"`
	Other   string `json:"other_bin,omitempty"` // the next best bin
	Day     *int   `json:"day,omitempty"`       // of the next visit, when it comes too late
	Cause   Cause  `json:"cause,omitempty"`     // what binds
	Hits    int    `json:"bound_visits"`        // visits at which Cause binds most
	Visits  int    `json:"visits"`              // visits the lot could reach
	Extra   int64  `json:"extra_cost_per_unit"` // what the next best bin would cost more
	SparedG int64  `json:"spared_g_per_kg"`     // see Worth
	Freezer string `json:"freezer,omitempty"`   // why freezing did not help: "none", "full"
	Text    string `json:"text"`
}

// The codes of reasons.
const (
	PlacedOnly    = "placed.only_bin"     // no other bin within reach could take it
	PlacedNearer  = "placed.nearer"       // the next best bin is farther
	PlacedFuller  = "placed.next_bound"   // the next best bin is held back by Cause
	PlacedAsGood  = "placed.as_good"      // the next best bin would do as well
	PlacedThawed  = "placed.thawed"       // from the freezer: more room on a later day
	LeftPastUse   = "left.past_use"       // arrived past its last day
	LeftNoBin     = "left.no_bin"         // no bin within reach
	LeftNoVisit   = "left.no_visit"       // no keeper comes at all
	LeftTooLate   = "left.visit_too_late" // no keeper comes before its last day
	LeftNever     = "left.never"          // no bin within reach takes its group
	LeftBound     = "left.bound"          // Cause binds at most of the visits
	LeftTooDear   = "left.too_dear"       // every visit costs more than leaving it
	LeftPart      = "left.part_container" // less than one whole container
	LeftContainer = "left.container"      // a whole container is too much for any visit
	LeftStopped   = "left.search_stopped" // the search ended before it was placed
	KeptFrozen    = "frozen.kept"         // still frozen after the last day
	FreezerNone   = "none"
	FreezerFull   = "full"
	PlacedStopped = "placed.search_stopped" // placed, but the search ended before it was proven
)

// explain writes the reasons for every lot, in list order.
func explain(n *network, s *simplex, r *Result) []Reason {
	lists := make([][]Reason, len(n.p.Lots))
	explainLots(n, s, r, r.Status == Proven, nil, lists)
	return slices.Concat([]Reason{}, slices.Concat(lists...))
}

// explainLots writes the reasons for the lots of some groups; nil = of all. The
// flow is the best there is, for the visits made, when proven says so.
func explainLots(n *network, s *simplex, r *Result, proven bool, groups []bool, lists [][]Reason) {
	x := &explainer{n: n, s: s, proven: proven}
	size := n.p.sizes()
	left := make(map[string]int64, len(r.LeftOver))
	for _, l := range r.LeftOver {
		left[l.Lot] = l.Mass
	}
	kept := make(map[string]int64, len(r.StillFrozen))
	for _, k := range r.StillFrozen {
		kept[k.Lot] = k.Mass
	}
	x.binIx = make(map[string]int, len(n.p.Bins))
	for i := range n.p.Bins {
		x.binIx[n.p.Bins[i].ID] = i
	}
	next := 0
	for i := range n.p.Lots {
		l := &n.p.Lots[i]
		from := next
		for next < len(r.Feedings) && r.Feedings[next].Lot == l.ID {
			next++
		}
		g := int(n.lotGroup[i])
		if groups != nil && !groups[g] {
			continue
		}
		list := x.placed(i, r.Feedings[from:next])
		if m := kept[l.ID]; m > 0 {
			list = append(list, x.say(Reason{Code: KeptFrozen, Lot: l.ID, Mass: m}, i))
		}
		part := l.Mass % size[g] // always left over
		if m := left[l.ID] - part; m > 0 {
			list = append(list, x.say(x.leftOver(i, m), i))
		}
		if part > 0 {
			list = append(list, x.say(Reason{Code: LeftPart, Lot: l.ID, Mass: part}, i))
		}
		lists[i] = list
	}
}

type explainer struct {
	n      *network
	s      *simplex
	proven bool
	binIx  map[string]int
	near   *nearby // made when first needed
}

// placed gives one reason for each bin that the lot goes to.
func (x *explainer) placed(i int, feedings []Feeding) []Reason {
	var list []Reason
	at := make(map[string]int)
	for k := range feedings {
		f := &feedings[k]
		key := f.Bin
		if f.TakenOut != nil {
			key += " thawed"
		}
		if j, ok := at[key]; ok {
			list[j].Mass += f.Mass
			continue
		}
		at[key] = len(list)
		rs := Reason{Lot: f.Lot, Bin: f.Bin, Mass: f.Mass}
		switch {
		case !x.proven:
			rs.Code = PlacedStopped
		case f.TakenOut != nil:
			rs.Code = PlacedThawed
		default:
			x.nextBest(i, x.binIx[f.Bin], &rs)
		}
		list = append(list, rs)
	}
	for j := range list {
		list[j] = x.say(list[j], i)
	}
	return list
}

// nextBest finds the cheapest other bin for one more unit of the lot and says
// what speaks against it.
func (x *explainer) nextBest(i, bin int, rs *Reason) {
	n, s := x.n, x.s
	v := int(n.lots) + i
	own, best := int32(-1), int32(-1)
	for e := n.first[v]; e < n.first[v+1]; e++ {
		if n.kind[e] != arcFeed {
			continue
		}
		rs.Visits++
		slot := n.slotAt(n.to[e])
		switch {
		case int(slot.bin) == bin:
			if own < 0 || s.flow[e] > s.flow[own] {
				own = e
			}
		case best < 0 || s.reduced(e) < s.reduced(best):
			best = e
		}
	}
	if best < 0 {
		rs.Code = PlacedOnly
		return
	}
	rs.Other = n.p.Bins[n.slotAt(n.to[best]).bin].ID
	rs.Extra = (s.reduced(best) - s.reduced(own)) / n.per
	b := binding(n, s, n.to[best])
	switch farther := s.cost[best] - s.cost[own]; {
	case farther > 0 && (farther >= rs.Extra || b.price <= 0):
		rs.Code = PlacedNearer
	case b.price > 0 && (farther < 0 || rs.Extra > 0):
		rs.Code, rs.Cause, rs.SparedG = PlacedFuller, b.cause, n.p.spared(b.gain)
	default:
		rs.Code = PlacedAsGood
	}
}

// leftOver says why a lot, or part of it, goes to no bin.
func (x *explainer) leftOver(i int, mass int64) Reason {
	n, p, l := x.n, x.n.p, &x.n.p.Lots[i]
	rs := Reason{Lot: l.ID, Mass: mass}
	rs.Freezer = x.freezer(i)
	last := p.lastDay(l)
	if !l.Frozen && l.Latest < l.Arrive {
		rs.Code = LeftPastUse
		return rs
	}
	type tally struct {
		hits int
		gain int64
	}
	order := []Cause{CauseGoEasy, CauseRoom, CauseCrowding, CauseWeek, CauseBedding, CauseVisit}
	count := make(map[Cause]*tally, len(order))
	for _, c := range order {
		count[c] = new(tally)
	}
	v := int(n.lots) + i
	for e := n.first[v]; e < n.first[v+1]; e++ {
		if n.kind[e] == arcFeed {
			rs.Visits++
			if b := binding(n, x.s, n.to[e]); b.price > 0 {
				t := count[b.cause]
				t.hits, t.gain = t.hits+1, max(t.gain, b.gain)
			}
		}
	}
	if l.Frozen {
		rs.Code, rs.Cause = LeftBound, CauseFreezer
		return rs
	}
	if rs.Visits == 0 {
		return x.closed(i, last, rs)
	}
	if !x.proven {
		rs.Code = LeftStopped
		return rs
	}
	rs.Code = LeftTooDear
	for _, c := range order {
		if t := count[c]; t.hits > rs.Hits {
			rs.Code, rs.Cause, rs.Hits, rs.SparedG = LeftBound, c, t.hits, p.spared(t.gain)
		}
	}
	return rs
}

// closed says why a lot could not go to a single visit.
func (x *explainer) closed(i, last int, rs Reason) Reason {
	n, p, l := x.n, x.n.p, &x.n.p.Lots[i]
	within := x.reachable(i)
	if len(within) == 0 {
		rs.Code = LeftNoBin
		return rs
	}
	later := -1
	var noWeek, noBed, never, tooSmall bool
	for _, b := range within {
		bin := &p.Bins[b]
		for d := l.Arrive; d < p.Days; d++ {
			switch w := d / DaysPerWeek; {
			case bin.Room[d] == 0:
			case d > last:
				if later < 0 || d < later {
					later = d
				}
			case bin.Weekly[w] == 0:
				noWeek = true
			case n.bed[int(n.siteOf[b])*n.weeks+w] < 0:
				noBed = true
			case n.feedingAt(b, d, int(n.lotGroup[i])) >= 0: // the way is open, but not for a container
				tooSmall = true
			default:
				never = true
			}
		}
	}
	switch {
	case tooSmall:
		rs.Code = LeftContainer
	case never:
		rs.Code = LeftNever
	case noWeek:
		rs.Code, rs.Cause = LeftBound, CauseWeek
	case noBed:
		rs.Code, rs.Cause = LeftBound, CauseBedding
	case later >= 0:
		rs.Code, rs.Day = LeftTooLate, &later
	default:
		rs.Code = LeftNoVisit
	}
	return rs
}

// reachable lists the bins within the lot's reach.
func (x *explainer) reachable(i int) []int {
	if x.near == nil {
		x.n.binIx = x.binIx
		x.near = newNearby(x.n)
	}
	var list []int
	for _, r := range x.near.of(i) {
		list = append(list, int(r.bin))
	}
	return list
}

// freezer says why freezing the rest of a freezable lot was no way out.
func (x *explainer) freezer(i int) string {
	n, p, l := x.n, x.n.p, &x.n.p.Lots[i]
	if !l.Freezable && !l.Frozen {
		return ""
	}
	at := int(n.lotSite[i])*len(p.Groups) + int(n.lotGroup[i])
	if n.shelf[at] == 0 {
		return FreezerNone
	}
	for d := l.Arrive; d < p.Days-1; d++ {
		e := n.first[n.drawer[at*p.Days+d]]
		if x.s.flow[e] == n.room[e] {
			return FreezerFull
		}
	}
	return ""
}
