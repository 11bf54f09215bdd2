package planner

import (
	"context"
	"fmt"
	"slices"
)

// visitSearch finds the visits worth their price. A slot that is fed costs a
// fixed fee, so the cheapest plan is no longer a mere flow; but every bound and
// every plan here is one, on the same tree with other costs. Costs in the search
// are multiplied by costScale, so that slopes rounded down lose little.
//
// A plan's flow is judged at its true cost by judge. A lower bound comes from
// price: any multipliers give one.
type visitSearch struct {
	ctx    context.Context
	n      *network
	s      *simplex
	base   []int64 // scaled costs without fees
	cost   []int64 // scaled costs of the last price
	fee    []int64 // per slot, scaled
	shut   int64   // scaled cost of feeding in a slot that is closed: dearer than leaving food over
	most   []int64 // per slot: the largest load that can come about
	link   []link
	ofSlot [][]int32 // slot -> its links

	load  []int64 // per slot, of the flow judged last
	best  int64   // value of the best plan, not scaled
	plan  []int64 // its flow
	bound int64   // proven, scaled

	maxPivots int64 // below 0 = no limit
	maxNodes  int
	nodes     int
	stopped   string
	err       error   // a certificate that was refused
	tangent   []int64 // per slot: where the envelope of the last price touches the true cost
	rise      [2]rises
	gs        []int64 // per slot: the part of the fee that the last price left to the envelope
}

// link is an arc into a slot of which at most room can be used, and only when
// the slot is visited (a strong link: Nemhauser and Wolsey, Integer and
// Combinatorial Optimization, 1988, section I.1.6).
type link struct {
	arc, slot int32
	room      int64
}

// How a slot stands in a node of the search.
const (
	slotFree int8 = iota
	slotOpen
	slotClosed
)

func newVisitSearch(ctx context.Context, n *network, fee []int64, opt Options) *visitSearch {
	f := &visitSearch{ctx: ctx, n: n, s: newSimplex(n), best: unlimited, maxPivots: -1, maxNodes: opt.MaxNodes}
	if opt.MaxPivots > 0 {
		f.maxPivots = opt.MaxPivots
	} else if opt.MaxPivots < 0 {
		f.maxPivots = 0
	}
	f.base = make([]int64, n.arcs())
	for e, c := range n.cost {
		f.base[e] = c * costScale
		if n.kind[e] == arcLeftOver {
			f.shut = max(f.shut, f.base[e]+1)
		}
	}
	f.cost = slices.Clone(f.base)
	f.fee = make([]int64, len(n.slots))
	for i := range fee {
		f.fee[i] = fee[i] * costScale
	}
	f.load = make([]int64, len(n.slots))
	f.tangent = make([]int64, len(n.slots))
	f.gs = make([]int64, len(n.slots))
	for k := range f.rise {
		f.rise[k].sum, f.rise[k].times = make([]float64, len(fee)), make([]float64, len(fee))
	}
	f.findLinks()
	f.judge() // everything left over
	return f
}

// findLinks works out how much can reach each node, top down, and from it the
// most each arc into a slot can carry.
func (f *visitSearch) findLinks() {
	n := f.n
	reach := slices.Clone(n.supply)
	for v := n.nodes() - 1; v > 0; v-- {
		for e := n.first[v]; e < n.first[v+1]; e++ {
			reach[n.to[e]] = min(unlimited, reach[n.to[e]]+min(n.room[e], reach[v]))
		}
	}
	f.most = make([]int64, len(n.slots))
	f.ofSlot = make([][]int32, len(n.slots))
	for i := range n.slots {
		s := &n.slots[i]
		if s.step > 0 {
			f.most[i] = min(s.room, reach[s.node], n.room[n.first[n.to[s.load]]])
		}
	}
	for e := range n.kind {
		var at int32
		room := min(n.room[e], reach[n.from[e]])
		switch n.kind[e] {
		case arcGroup:
			at = n.ref[e]
		case arcFeed, arcThaw:
			group := n.first[n.to[e]]
			at, room = n.ref[group], min(room, n.room[group])
		default:
			continue
		}
		if room = min(room, f.most[at]); room > 0 && f.fee[at] > 0 {
			f.ofSlot[at] = append(f.ofSlot[at], int32(len(f.link)))
			f.link = append(f.link, link{int32(e), at, room})
		}
	}
}

// price sets the costs of a node: fees of free slots are spread over their links
// by the multipliers w (cost per unit), and what is left of a fee over the first
// units of the load (the convex envelope of fee and crowding). It returns the
// fees of the slots that are open anyhow. The cheapest flow at these costs, plus
// those fees, is a lower bound for every plan that agrees with fix.
func (f *visitSearch) price(fix []int8, w []int64) int64 {
	n := f.n
	copy(f.cost, f.base)
	var fees int64
	for i := range n.slots {
		s := &n.slots[i]
		switch fix[i] {
		case slotOpen:
			fees += f.fee[i]
		case slotClosed:
			for e := s.load; e < s.load+s.step; e++ {
				f.cost[e] = f.shut
			}
		default:
			left := f.fee[i]
			for _, k := range f.ofSlot[i] {
				if w[k] > 0 {
					f.cost[f.link[k].arc] += w[k]
					left -= w[k] * f.link[k].room
				}
			}
			f.gs[i] = left
			f.envelope(i, left)
		}
	}
	return fees
}

// envelope prices a slot's load at the convex envelope of left and its crowding
// cost, slopes rounded down.
func (f *visitSearch) envelope(i int, left int64) {
	s := &f.n.slots[i]
	var x, c int64
	slope, last := unlimited, int32(-1)
	for k := range s.step {
		e := s.load + k
		part := min(f.n.room[e], f.most[i]-x)
		if part <= 0 {
			break
		}
		x += part
		c += part * f.base[e]
		if v := (left + c) / x; v < slope {
			slope, last, f.tangent[i] = v, k, x
		}
	}
	if last < 0 {
		return
	}
	for k := range s.step { // later steps are dearer, but for rounding and beyond the most
		if e := s.load + k; k <= last || f.cost[e] < slope {
			f.cost[e] = slope
		}
	}
}

// solve finds the cheapest flow at the present costs; false when the budget or
// the context ended first.
func (f *visitSearch) solve() bool {
	if f.ctx.Err() != nil {
		f.stopped = StoppedByCancel
		return false
	}
	f.s.reprice(f.cost)
	budget := int64(-1)
	if f.maxPivots >= 0 {
		budget = max(0, f.maxPivots-f.s.pivots)
	}
	switch f.s.rerun(f.ctx, budget) {
	case pivotsOut:
		f.stopped = StoppedByPivots
		return false
	case cancelled:
		f.stopped = StoppedByCancel
		return false
	}
	return true
}

// judge counts the true cost of the present flow and keeps it when it is the
// best so far.
func (f *visitSearch) judge() int64 {
	n := f.n
	var value int64
	for e, x := range f.s.flow {
		if x > 0 && n.kind[e] != arcLoad {
			value += x * n.cost[e]
		}
	}
	for i := range n.slots {
		s := &n.slots[i]
		var x int64
		for e := s.load; e < s.load+s.step; e++ {
			x += f.s.flow[e]
		}
		if f.load[i] = x; x > 0 {
			value += f.fee[i]/costScale + f.crowding(i, x)
		}
	}
	if value < f.best {
		f.best = value
		f.plan = append(f.plan[:0], f.s.flow...)
	}
	return value
}

// crowding is the true cost of a load, its cheapest steps first.
func (f *visitSearch) crowding(i int, load int64) int64 {
	s := &f.n.slots[i]
	var c int64
	for e := s.load; e < s.load+s.step && load > 0; e++ {
		part := min(load, f.n.room[e])
		c += part * f.n.cost[e]
		load -= part
	}
	return c
}

// beaten says whether a scaled bound rules out a better plan than the best.
func (f *visitSearch) beaten(bound int64) bool { return unscaled(bound) >= f.best }

// unscaled rounds a scaled bound up: values are whole numbers.
func unscaled(bound int64) int64 { return (bound + costScale - 1) / costScale }

// settle fixes free slots whose other choice would cost more than the best plan
// (reduced-cost fixing). The flow must be the cheapest at the costs of the last
// price, and bound its value. It returns how many it fixed.
func (f *visitSearch) settle(fix []int8, bound int64) int {
	n, fixed := f.n, 0
	for i := range n.slots {
		s := &n.slots[i]
		if fix[i] != slotFree || f.fee[i] == 0 {
			continue
		}
		if f.most[i] == 0 {
			fix[i] = slotClosed
			continue
		}
		worth := f.s.pot[s.node] - f.s.pot[n.to[s.load]]
		var now, left int64 = 0, f.most[i]
		open := f.gs[i]
		for e := s.load; e < s.load+s.step; e++ {
			now += min(0, f.cost[e]-worth) * n.room[e]
			open += min(0, f.base[e]-worth) * min(n.room[e], left)
			left -= min(n.room[e], left)
		}
		switch {
		case f.beaten(bound - now + open):
			fix[i] = slotClosed
			fixed++
		case f.beaten(bound - now):
			fix[i] = slotOpen
			fixed++
		}
	}
	return fixed
}

// certified is a lower bound for every flow at the present costs, from the
// potentials alone (linear programming duality): supplies at their potentials,
// less what full arcs could save. It rests on nothing the search did; for a
// cheapest flow it equals its cost, or the search was wrong.
func (f *visitSearch) certified() int64 {
	n, pot := f.n, f.s.pot
	var dual int64
	for v, m := range n.supply {
		dual += m * pot[v]
	}
	for e, c := range f.cost {
		if r := c + pot[n.to[e]] - pot[n.from[e]]; r < 0 {
			if f.s.flow[e] != n.room[e] && f.err == nil {
				f.err = fmt.Errorf("planner: certificate refused: arc %d: more could flow at reduced cost %d", e, r)
				return 0
			}
			dual += r * n.room[e]
		}
	}
	if value := f.s.value(); dual != value && f.err == nil {
		f.err = fmt.Errorf("planner: certificate refused: dual value %d differs from cost %d", dual, value)
	}
	return dual
}

// polish finds the cheapest plan with the visits of the best one.
func (f *visitSearch) polish() {
	if f.stopped == "" || f.stopped == StoppedByNodes {
		f.visited(f.openOf(f.plan))
	}
}

// finish leaves behind the cheapest flow, at plain costs, that makes only the
// visits of a plan on the given network; false when it was cut short.
func (f *visitSearch) finish(plan []int64, given *network) bool {
	f.n.shut = make([]bool, len(f.n.slots))
	copy(f.cost, f.n.cost)
	for i := range f.n.slots {
		var load int64
		for e := given.slots[i].load; e < given.slots[i].load+given.slots[i].step; e++ {
			load += plan[e]
		}
		if f.fee[i] > 0 && load == 0 {
			f.n.shut[i] = true
			for e := f.n.slots[i].load; e < f.n.slots[i].load+f.n.slots[i].step; e++ {
				f.cost[e] = f.shut/costScale + 1
			}
		}
	}
	return f.solve()
}
