package planner

import (
	"cmp"
	"slices"
)

// slopes finds plans by spreading each fee over the load that the last plan gave
// the slot, again and again (slope scaling: Kim and Pardalos, Operations Research
// Letters 24, 1999).
func (f *visitSearch) slopes(rounds int) bool {
	rate := make([]int64, len(f.load))
	for i := range rate {
		rate[i] = 2 * f.fee[i] / (f.n.slots[i].room + 1)
	}
	for range rounds {
		copy(f.cost, f.base)
		for i := range f.n.slots {
			if f.load[i] > 0 {
				rate[i] = f.fee[i] / f.load[i]
			}
			s := &f.n.slots[i]
			for e := s.load; e < s.load+s.step; e++ {
				f.cost[e] += rate[i]
			}
		}
		if !f.solve() {
			return false
		}
		f.judge()
	}
	return true
}

// visited finds the cheapest plan that makes no visits but these.
func (f *visitSearch) visited(open []bool) bool {
	copy(f.cost, f.base)
	for i, yes := range open {
		if s := &f.n.slots[i]; !yes {
			for e := s.load; e < s.load+s.step; e++ {
				f.cost[e] = f.shut
			}
		}
	}
	if !f.solve() {
		return false
	}
	f.judge()
	return true
}

// openOf lists the slots with a load in a plan; those without a fee are open
// anyhow.
func (f *visitSearch) openOf(plan []int64) []bool {
	open := make([]bool, len(f.n.slots))
	for i := range open {
		s := &f.n.slots[i]
		open[i] = f.fee[i] == 0
		for e := s.load; e < s.load+s.step; e++ {
			open[i] = open[i] || plan[e] > 0
		}
	}
	return open
}

// move tries a change of the open slots and undoes it unless it helps.
func (f *visitSearch) move(open []bool, a, b int32) (better, ok bool) {
	was := f.best
	flip := func() {
		open[a] = !open[a]
		if b >= 0 {
			open[b] = !open[b]
		}
	}
	flip()
	if !f.visited(open) {
		flip()
		return false, false
	}
	if f.best < was {
		return true, true
	}
	flip()
	return false, true
}

// improve closes and opens single slots, least loaded first, then swaps an open
// slot for a closed one, until nothing helps or the trials are spent.
func (f *visitSearch) improve(fix []int8, trials int) bool {
	open := f.openOf(f.plan)
	if !f.visited(open) {
		return false
	}
	for again := true; again; {
		again = false
		order := f.byLoad(fix)
		for _, i := range order {
			if trials--; trials < 0 {
				return true
			}
			better, ok := f.move(open, i, -1)
			if !ok {
				return false
			}
			again = again || better
		}
		if again {
			continue
		}
		for _, i := range order {
			if !open[i] {
				continue
			}
			for _, j := range f.alike(order, i) {
				if open[j] || !open[i] {
					continue
				}
				if trials--; trials < 0 {
					return true
				}
				better, ok := f.move(open, i, j)
				if !ok {
					return false
				}
				again = again || better
			}
		}
	}
	return true
}

// byLoad lists the slots that may be opened or closed, least loaded in the best
// plan first.
func (f *visitSearch) byLoad(fix []int8) []int32 {
	load := make([]int64, len(f.n.slots))
	var order []int32
	for i := range f.n.slots {
		s := &f.n.slots[i]
		for e := s.load; e < s.load+s.step; e++ {
			load[i] += f.plan[e]
		}
		if f.fee[i] > 0 && f.most[i] > 0 && fix[i] == slotFree {
			order = append(order, int32(i))
		}
	}
	slices.SortStableFunc(order, func(a, b int32) int { return cmp.Compare(load[a], load[b]) })
	return order
}

// alike lists the slots that may stand in for one: those within three days at
// bins of its site, and any day of its bin.
func (f *visitSearch) alike(order []int32, i int32) []int32 {
	n := f.n
	me := &n.slots[i]
	var list []int32
	for _, j := range order {
		s := &n.slots[j]
		apart := s.day - me.day
		if j != i && (s.bin == me.bin || n.siteOf[s.bin] == n.siteOf[me.bin] && -3 <= apart && apart <= 3) {
			list = append(list, j)
		}
	}
	return list
}
