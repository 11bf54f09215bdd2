package planner

import (
	"container/heap"
	"slices"
)

// branchNode is a part of the choices left: some slots fixed, the rest free.
type branchNode struct {
	bound int64 // scaled
	order int   // of making, to break ties
	fix   []int8
	on    int32 // the slot to branch on
	doubt int64 // see doubtful
}

// frontier has the lowest bound on top; of equals, the one made last.
type frontier []*branchNode

func (q frontier) Len() int { return len(q) }
func (q frontier) Less(i, j int) bool {
	if q[i].bound != q[j].bound {
		return q[i].bound < q[j].bound
	}
	return q[i].order > q[j].order
}
func (q frontier) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *frontier) Push(x any)   { *q = append(*q, x.(*branchNode)) }
func (q *frontier) Pop() any {
	last := len(*q) - 1
	x := (*q)[last]
	(*q)[last] = nil
	*q = (*q)[:last]
	return x
}

// run searches until the best plan is proven or a budget is spent. Trials at the
// root are fewer the larger the network is.
func (f *visitSearch) run() {
	trials := max(1, 30_000_000/(f.n.arcs()+1))
	fix := make([]int8, len(f.n.slots))
	w := make([]int64, len(f.link))

	f.price(fix, w) // the envelope alone
	if !f.solve() {
		f.bound = max(0, lowerBound(f.n, f.cost, f.s.pot))
		f.judge()
		return
	}
	f.judge()
	f.bound = f.certified()
	if f.beaten(f.bound) || !f.slopes(min(25, trials)) || f.beaten(f.bound) {
		return
	}
	bound, ok := f.ascend(fix, w, min(trials, 400))
	f.bound = max(f.bound, bound)
	if !ok || f.beaten(f.bound) {
		return
	}
	f.settle(fix, bound)
	if !f.improve(fix, min(trials/4, 20*len(fix))) || f.beaten(f.bound) {
		return
	}
	f.branch(fix, w)
}

// branch is a best-first branch and bound on the visits, at the multipliers w.
func (f *visitSearch) branch(fix []int8, w []int64) {
	open := &frontier{}
	made := 0
	add := func(fix []int8, from *branchNode, as int8) bool {
		bound, ok := f.bounded(fix, w)
		if !ok {
			return false
		}
		if from != nil {
			bound = max(bound, from.bound)
			f.rise[as-slotOpen].note(from, min(bound, f.best*costScale)-from.bound)
		}
		if f.beaten(bound) {
			return true
		}
		nd := &branchNode{bound: bound, order: made, fix: fix}
		made++
		nd.on, nd.doubt = f.doubtful(fix)
		if nd.on >= 0 {
			heap.Push(open, nd)
		} // with no free slot left, judge has seen the best plan under fix
		return true
	}
	if !add(fix, nil, slotFree) {
		return
	}
	for open.Len() > 0 {
		nd := heap.Pop(open).(*branchNode)
		f.bound = max(f.bound, nd.bound)
		if f.beaten(nd.bound) {
			return
		}
		if f.nodes >= f.maxNodes {
			f.stopped = StoppedByNodes
			return
		}
		f.nodes++
		for _, as := range []int8{slotOpen, slotClosed} {
			child := slices.Clone(nd.fix)
			child[nd.on] = as
			if !add(child, nd, as) {
				return
			}
		}
	}
	f.bound = f.best * costScale
}

// bounded bounds the plans that agree with fix, fixes what follows, and leaves a
// solution at the node's prices behind.
func (f *visitSearch) bounded(fix []int8, w []int64) (int64, bool) {
	fees := f.price(fix, w)
	if !f.solve() {
		return 0, false
	}
	f.judge()
	bound := f.certified() + fees
	if f.beaten(bound) || f.settle(fix, bound) == 0 {
		return bound, true
	}
	fees = f.price(fix, w)
	if !f.solve() {
		return 0, false
	}
	f.judge()
	return max(bound, f.certified()+fees), true
}

// doubtful is the free slot to branch on, and how far its true cost exceeds its
// price; any free slot when there is no doubt; -1 when none is free. Among
// slots with a doubt it takes the one where both choices promise the largest rise
// of the bound, as far as branching on it has shown so far (pseudo-costs: Benichou
// and others, Mathematical Programming 1, 1971).
func (f *visitSearch) doubtful(fix []int8) (at int32, doubt int64) {
	at = -1
	best := -1.0
	for i := range f.n.slots {
		if fix[i] != slotFree || f.most[i] == 0 || f.fee[i] == 0 {
			continue
		}
		if at < 0 {
			at, doubt = int32(i), 1
		}
		if f.load[i] == 0 {
			continue
		}
		d := max(1, f.doubt(i))
		score := max(1, f.rise[0].of(i, d)) * max(1, f.rise[1].of(i, d))
		if score > best {
			at, doubt, best = int32(i), d, score
		}
	}
	return at, doubt
}

// doubt is how far a free slot's true cost exceeds its price.
func (f *visitSearch) doubt(i int) int64 {
	s := &f.n.slots[i]
	doubt := f.fee[i] + f.crowding(i, f.load[i])*costScale
	for rest, e := f.load[i], s.load; e < s.load+s.step && rest > 0; e++ {
		part := min(rest, f.n.room[e])
		doubt -= part * f.cost[e]
		rest -= part
	}
	for _, k := range f.ofSlot[i] {
		a := f.link[k].arc
		doubt -= (f.cost[a] - f.base[a]) * f.s.flow[a]
	}
	return doubt
}

// rises remembers what branching on slots did to the bound, per unit of doubt.
type rises struct {
	sum, times []float64
	all, count float64
}

func (r *rises) note(nd *branchNode, rise int64) {
	rate := float64(rise) / float64(nd.doubt)
	r.sum[nd.on] += rate
	r.times[nd.on]++
	r.all += rate
	r.count++
}

// of estimates the rise for a slot; one that was seldom tried leans on the mean.
func (r *rises) of(i int, doubt int64) float64 {
	mean := (r.all + 1) / (r.count + 1)
	return float64(doubt) * ((r.sum[i] + mean) / (r.times[i] + 1))
}
