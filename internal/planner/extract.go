package planner

import "slices"

// extract reads a plan off a flow. Thawed food is charged to the lots of its
// drawer first in, first out, in list order within a day.
func extract(n *network, flow []int64, r *Result) {
	x := &extraction{n: n, flow: flow, r: r, byLot: make([][]Feeding, len(n.p.Lots)), frozen: make([]int64, len(n.p.Lots))}
	r.Feedings, r.Freezes = []Feeding{}, []Freezing{}
	r.LeftOver, r.StillFrozen, r.Bedding = []LeftOver{}, []StillFrozen{}, []BeddingUse{}
	x.lots()
	x.drawers()
	x.bedding()
	x.collect()
	x.price()
}

type extraction struct {
	n      *network
	flow   []int64
	r      *Result
	byLot  [][]Feeding
	queue  [][]inDrawer // per site and group, in order of going in
	frozen []int64      // per lot: in the freezer after the last day
	cost   int64
	load   []int64 // per slot
}

// inDrawer is a part of a lot in a drawer.
type inDrawer struct {
	lot  int32
	day  int
	mass int64
}

func (x *extraction) lots() {
	n, p := x.n, x.n.p
	x.queue = make([][]inDrawer, len(p.Sites)*len(p.Groups))
	x.load = make([]int64, len(n.slots))
	for i := range p.Lots {
		l := &p.Lots[i]
		v := int(n.lots) + i
		x.r.Totals.Supply += l.Mass
		for e := n.first[v]; e < n.first[v+1]; e++ {
			f := x.flow[e]
			if f == 0 {
				continue
			}
			x.cost += f * n.cost[e]
			switch n.kind[e] {
			case arcFeed:
				x.feed(i, n.to[e], f, nil)
			case arcFreeze:
				at := int(n.lotSite[i])*len(p.Groups) + int(n.lotGroup[i])
				x.queue[at] = append(x.queue[at], inDrawer{lot: int32(i), day: l.Arrive, mass: f})
				if !l.Frozen {
					x.r.Freezes = append(x.r.Freezes, Freezing{Lot: l.ID, Site: l.Site, Day: l.Arrive, Mass: f})
				}
			case arcLeftOver:
				x.r.LeftOver = append(x.r.LeftOver, LeftOver{Lot: l.ID, Mass: f, Declined: l.Kind != OnHand})
				x.r.leftOverCost += f * n.cost[e]
				if l.Kind == OnHand {
					x.r.Totals.Overflow += f
				} else {
					x.r.Totals.Declined += f
				}
			}
		}
	}
}

func (x *extraction) feed(lot int, node int32, mass int64, takenOut *int) {
	s := x.n.slotAt(node)
	x.load[x.n.ref[x.n.first[node]]] += mass
	x.r.Totals.Fed += mass
	list := x.byLot[lot]
	day := int(s.day)
	for i := range list { // the same lot may leave a drawer in two parts
		f := &list[i]
		if f.Bin == x.n.p.Bins[s.bin].ID && f.Day == day && takenOut != nil && f.TakenOut != nil && *f.TakenOut == *takenOut {
			f.Mass += mass
			return
		}
	}
	x.byLot[lot] = append(list, Feeding{Lot: x.n.p.Lots[lot].ID, Bin: x.n.p.Bins[s.bin].ID, Day: day, Mass: mass, TakenOut: takenOut})
}

// drawers empties each drawer day by day.
func (x *extraction) drawers() {
	n, p := x.n, x.n.p
	for at, queue := range x.queue {
		if len(queue) == 0 {
			continue
		}
		slices.SortStableFunc(queue, func(a, b inDrawer) int { return a.day - b.day })
		head := 0
		for d := 0; d < p.Days; d++ {
			v := n.drawer[at*p.Days+d]
			day := d
			for e := n.first[v]; e < n.first[v+1]; e++ {
				f := x.flow[e]
				x.cost += f * n.cost[e]
				for n.kind[e] == arcThaw && f > 0 {
					part := min(f, queue[head].mass)
					x.feed(int(queue[head].lot), n.to[e], part, &day)
					queue[head].mass -= part
					f -= part
					if queue[head].mass == 0 {
						head++
					}
				}
				if n.kind[e] == arcUnfed {
					x.r.Totals.StillFrozen += f
					x.r.leftOverCost += f * n.cost[e]
				}
			}
		}
		for ; head < len(queue); head++ {
			x.frozen[queue[head].lot] += queue[head].mass
		}
	}
}

func (x *extraction) bedding() {
	n, p := x.n, x.n.p
	use := make([]BeddingUse, len(p.Sites)*n.weeks)
	for e, k := range n.kind {
		f := x.flow[e]
		if f == 0 {
			continue
		}
		switch k {
		case arcWeekly:
			b, w := int(n.ref[e])/n.weeks, int(n.ref[e])%n.weeks
			use[int(n.siteOf[b])*n.weeks+w].Food += f
		case arcReady:
			use[n.ref[e]].Ready += f
		case arcStandIn:
			use[n.ref[e]].StandIn += f
			x.r.Totals.StandIn += f
			x.cost += f * n.cost[e]
		}
	}
	for i := range use {
		if u := &use[i]; u.Food+u.Ready+u.StandIn > 0 {
			u.Site, u.Week = p.Sites[i/n.weeks].ID, i%n.weeks
			x.r.Bedding = append(x.r.Bedding, *u)
		}
	}
}

// collect puts the feedings in order: by lot, then day. Within a day they
// come as the network has them: fresh before thawed.
func (x *extraction) collect() {
	for i, list := range x.byLot {
		slices.SortStableFunc(list, func(a, b Feeding) int { return a.Day - b.Day })
		x.r.Feedings = append(x.r.Feedings, list...)
		if m := x.frozen[i]; m > 0 {
			x.r.StillFrozen = append(x.r.StillFrozen, StillFrozen{Lot: x.n.p.Lots[i].ID, Mass: m})
		}
	}
}

// price charges each slot's load to its cheapest steps first, as the garden
// will; a flow that was stopped early may have used them out of order.
func (x *extraction) price() {
	n := x.n
	for i := range n.slots {
		s := &n.slots[i]
		rest := x.load[i]
		for e := s.load; e < s.load+s.step && rest > 0; e++ {
			part := min(rest, n.room[e])
			x.cost += part * n.cost[e]
			rest -= part
		}
	}
	x.r.Value = x.cost
}
