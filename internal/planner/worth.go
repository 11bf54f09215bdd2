package planner

// Cause names a limit that binds.
type Cause string

// The limits a plan can run into.
const (
	CauseRoom     Cause = "room"     // a bin's room on a day when its keeper comes
	CauseCrowding Cause = "crowding" // not full, but fuller than is good for it
	CauseGoEasy   Cause = "go_easy"  // the limit on one group in one feeding
	CauseWeek     Cause = "weekly"   // a bin's appetite in a week
	CauseBedding  Cause = "bedding"  // ripe bedding of a site
	CauseStandIn  Cause = "stand_in" // fresh-wetted bedding of a site
	CauseFreezer  Cause = "freezer"  // a drawer
	CauseVisit    Cause = "visit"    // a visit that is not worth its price
)

// Worth says what more of a binding limit would bring. CostPerUnit is how much
// one more unit could lower the value, at most: limits that bind together can
// make it less. Where visits have a price it holds for the visits as planned; with
// whole containers there is none, since a gram can make a container. SparedG puts the same in grams of uneaten food spared per
// kilogram. A freezer's worth is for a larger drawer on every night.
type Worth struct {
	Cause       Cause  `json:"cause"`
	Site        string `json:"site,omitempty"`
	Bin         string `json:"bin,omitempty"`
	Group       string `json:"group,omitempty"`
	Day         *int   `json:"day,omitempty"`
	Week        *int   `json:"week,omitempty"`
	CostPerUnit int64  `json:"cost_per_unit"`
	SparedG     int64  `json:"spared_g_per_kg"`
}

// reduced is what one more unit on the arc would add to the cost, all told.
func (s *simplex) reduced(e int32) int64 {
	return s.cost[e] + s.pot[s.net.to[e]] - s.pot[s.net.from[e]]
}

// spared puts a saving per unit into grams of uneaten food per kilogram: never
// more than the kilogram itself.
func (p *Problem) spared(costPerUnit int64) int64 {
	return mulDiv(min(costPerUnit, p.Prices.Overflow), 1000, p.Prices.Overflow)
}

// worth lists the binding limits of a proven plan, in the order of the network:
// bedding, bins, freezers.
func worth(n *network, s *simplex) []Worth {
	p := n.p
	list := []Worth{}
	put := func(w Worth, perUnit int64) {
		w.CostPerUnit, w.SparedG = perUnit, p.spared(perUnit)
		list = append(list, w)
	}
	shelf := make([]int64, len(n.shelf))
	for e := int32(0); e < int32(n.arcs()); e++ {
		gain := -s.reduced(e)
		if gain <= 0 {
			continue
		}
		ref := int(n.ref[e])
		switch n.kind[e] {
		case arcReady, arcStandIn:
			week, cause := ref%n.weeks, CauseBedding
			if n.kind[e] == arcStandIn {
				cause = CauseStandIn
			}
			put(Worth{Cause: cause, Site: p.Sites[ref/n.weeks].ID, Week: &week}, gain)
		case arcWeekly:
			week := ref % n.weeks
			put(Worth{Cause: CauseWeek, Bin: p.Bins[ref/n.weeks].ID, Week: &week}, gain)
		case arcLoad:
			sl := &n.slots[ref]
			if e == sl.load+sl.step-1 { // earlier steps are prices, not limits
				day := int(sl.day)
				put(Worth{Cause: CauseRoom, Bin: p.Bins[sl.bin].ID, Day: &day}, gain)
			}
		case arcGroup:
			sl := &n.slots[ref]
			day := int(sl.day)
			put(Worth{Cause: CauseGoEasy, Bin: p.Bins[sl.bin].ID, Group: p.Groups[n.groupOf(n.from[e])].ID, Day: &day}, gain)
		case arcHold:
			shelf[ref/p.Days] += gain
		}
	}
	for at, gain := range shelf {
		if gain > 0 {
			put(Worth{Cause: CauseFreezer, Site: p.Sites[at/len(p.Groups)].ID, Group: p.Groups[at%len(p.Groups)].ID}, gain)
		}
	}
	return list
}

// groupOf is the group of a feeding node.
func (n *network) groupOf(feeding int32) int {
	at := int(n.ref[n.first[feeding]]) * len(n.p.Groups)
	for g := range n.p.Groups {
		if n.feeding[at+g] == feeding {
			return g
		}
	}
	return -1
}

// bind is what makes feeding a group to a bin on a day dear: the largest part
// of the price of doing so, and the most that one more unit of it could save.
type bind struct {
	cause Cause
	price int64 // the part of the price
	gain  int64 // saving per extra unit of the limit
}

// binding looks at a feeding and everything it needs.
func binding(n *network, s *simplex, feeding int32) bind {
	group := n.first[feeding]
	sl := n.slotAt(feeding)
	weekNode := n.to[sl.load]
	weekly := n.first[weekNode]
	bed := n.to[weekly]
	full := sl.load + sl.step - 1
	roomGain := max(0, -s.reduced(full))
	load := bind{CauseCrowding, s.pot[sl.node] - s.pot[weekNode], roomGain}
	switch {
	case n.shut != nil && n.shut[n.ref[group]]:
		load.cause = CauseVisit
	case s.flow[full] == n.room[full]:
		load.cause = CauseRoom
	}
	best := bind{CauseGoEasy, s.pot[feeding] - s.pot[sl.node], max(0, -s.reduced(group))}
	for _, b := range []bind{
		load,
		{CauseWeek, s.pot[weekNode] - s.pot[bed], max(0, -s.reduced(weekly))},
		{CauseBedding, s.pot[bed], s.pot[bed]},
	} {
		if b.price > best.price {
			best = b
		}
	}
	if n.per > 1 {
		best.gain = 0 // known per container only
	}
	return best
}
