package planner

import (
	"context"
	"fmt"
	"slices"
)

// refined reports whether a plan is more than a flow: visits have a price, or
// food moves in whole containers.
func (p *Problem) refined() bool {
	return p.Prices.Visit > 0 || p.contained()
}

// contained reports whether some group moves in whole containers.
func (p *Problem) contained() bool {
	return len(p.Groups) > 0 && slices.Max(p.sizes()) > 1
}

// refinement plans with visits that cost and containers that are whole. Groups
// with containers of one size are planned together; where sizes differ, each in
// turn around the others, and the bound comes from a looser network that holds
// them all.
type refinement struct {
	ctx  context.Context
	p    *Problem
	n    *network
	opt  Options
	size []int64
	flow []int64 // the best plan, on n
	work Work

	value, bound int64
	stopped      string
	parts        []*part
	proof        *visitSearch // whose bound counts
}

// part is a group of containers of one size and its last search.
type part struct {
	size   int64
	moves  []bool
	net    *packed
	search *visitSearch
}

func refine(ctx context.Context, p *Problem, n *network, opt Options, r *Result) error {
	f := &refinement{ctx: ctx, p: p, n: n, opt: opt, size: p.sizes()}
	f.divide()
	f.flow = make([]int64, n.arcs())
	for i := range p.Lots {
		f.flow[n.first[int(n.lots)+i]] = p.Lots[i].Mass
	}
	value, err := f.judge(f.flow)
	if err != nil {
		return err
	}
	f.value = value
	if err := f.plan(); err != nil {
		return err
	}
	if err := f.prove(); err != nil {
		return err
	}
	f.write(r)
	return nil
}

// divide sorts the groups by the size of their containers, largest first.
func (f *refinement) divide() {
	list := slices.Clone(f.size)
	slices.Sort(list)
	list = slices.Compact(list)
	slices.Reverse(list)
	if len(list) == 0 {
		list = []int64{1} // no groups, no lots
	}
	for _, size := range list {
		moves := make([]bool, len(f.size))
		for g, s := range f.size {
			moves[g] = s == size
		}
		f.parts = append(f.parts, &part{size: size, moves: moves})
	}
}

// judge is the true cost of a complete flow on n, visits included; the flow must
// be one that can be carried out.
func (f *refinement) judge(flow []int64) (int64, error) {
	value, err := feasible(f.n, f.n.cost, flow)
	if err != nil {
		return 0, fmt.Errorf("planner: certificate refused: %w", err)
	}
	return value + int64(visits(f.n, flow))*f.p.Prices.Visit, nil
}

// visits counts the slots with a load.
func visits(n *network, flow []int64) int {
	count := 0
	for i := range n.slots {
		s := &n.slots[i]
		for e := s.load; e < s.load+s.step; e++ {
			if flow[e] > 0 {
				count++
				break
			}
		}
	}
	return count
}

// turns is how often each size of container is planned anew around the others.
const turns = 3

func (f *refinement) plan() error {
	for turn := range turns {
		better := false
		for _, pt := range f.parts {
			was := f.value
			if err := f.planPart(pt); err != nil {
				return err
			}
			better = better || f.value < was
		}
		if len(f.parts) == 1 || turn > 0 && !better || f.stopped != "" {
			break
		}
	}
	return nil
}

// around is the present plan without a part's lots.
func (f *refinement) around(pt *part) []int64 {
	n := f.n
	flow := make([]int64, n.arcs())
	for e, x := range f.flow {
		g := -1
		switch n.kind[e] {
		case arcFeed, arcFreeze, arcLeftOver:
			g = int(n.lotGroup[n.ref[e]])
		case arcHold, arcUnfed, arcThaw:
			g = int(n.ref[e]) / f.p.Days % len(f.p.Groups)
		case arcGroup:
			g = n.groupOf(n.from[e])
		}
		if g >= 0 && !pt.moves[g] {
			flow[e] = x
		}
	}
	complete(n, flow)
	return flow
}

func (f *refinement) planPart(pt *part) error {
	others := f.around(pt)
	pt.net, pt.search = f.searchFor(packing{unit: pt.size, size: f.size, moves: pt.moves, fixed: others})
	s := pt.search
	if !f.exact() { // keep as much for other parts and for the proof
		s.maxNodes /= 2
	}
	s.run()
	s.polish()
	f.count(s)
	if s.err != nil {
		return s.err
	}
	flow := slices.Clone(others)
	pt.net.spread(f.n, s.plan, flow)
	complete(f.n, flow)
	value, err := f.judge(flow)
	if err == nil && value < f.value {
		f.value, f.flow = value, flow
	}
	return err
}

// searchFor recasts the network and readies a search on it, with what is left of
// the budget. A slot that is visited anyhow has no fee.
func (f *refinement) searchFor(k packing) (*packed, *visitSearch) {
	net := repack(f.n, k)
	fee := make([]int64, len(f.n.slots))
	for i := range fee {
		if net.taken[i] == 0 {
			fee[i] = f.p.Prices.Visit
		}
	}
	opt := f.opt
	switch {
	case opt.MaxPivots > 0 && f.work.Pivots >= opt.MaxPivots:
		opt.MaxPivots = -1
	case opt.MaxPivots > 0:
		opt.MaxPivots -= f.work.Pivots
	}
	if opt.MaxNodes == 0 {
		opt.MaxNodes = defaultNodes(net.arcs())
	}
	opt.MaxNodes = max(0, opt.MaxNodes-f.work.Branches)
	return net, newVisitSearch(f.ctx, net.network, fee, opt)
}

func (f *refinement) count(s *visitSearch) {
	f.work.Pivots += s.s.pivots
	f.work.Branches += s.nodes
	if f.stopped == "" || s.stopped == StoppedByCancel {
		f.stopped = s.stopped
	}
}

// prove takes the bound from the search when its network was exact, else from a
// looser one.
func (f *refinement) prove() error {
	f.proof = f.parts[0].search
	if !f.exact() {
		unit := int64(0)
		all := make([]bool, len(f.size))
		for g, s := range f.size {
			unit, all[g] = gcd(unit, s), true
		}
		_, s := f.searchFor(packing{unit: unit, size: f.size, moves: all, loose: true})
		s.run()
		f.count(s)
		f.proof = s
	}
	f.bound = min(f.value, unscaled(f.proof.bound)+f.rest())
	switch {
	case f.bound == f.value:
		f.stopped = ""
	case f.stopped == "":
		f.stopped = StoppedByContainers
	}
	return f.proof.err
}

// exact reports whether the recast network holds all plans there are and no
// others.
func (f *refinement) exact() bool {
	return len(f.parts) == 1 && (f.parts[0].size == 1 || !slices.Contains(f.n.kind, arcStandIn))
}

func gcd(a, b int64) int64 {
	for b > 0 {
		a, b = b, a%b
	}
	return a
}

// rest is the price of what lots hold beyond whole containers.
func (f *refinement) rest() int64 {
	var sum int64
	for i := range f.p.Lots {
		l := &f.p.Lots[i]
		sum += l.Mass % f.size[f.n.lotGroup[i]] * f.p.leftOverPrice(l)
	}
	return sum
}

func (f *refinement) write(r *Result) {
	n := f.n
	extract(n, f.flow, r)
	if f.p.Prices.Visit > 0 {
		r.Visits = visits(n, f.flow)
		r.Value += int64(r.Visits) * f.p.Prices.Visit
	}
	r.Bound = f.bound
	if f.stopped != "" {
		r.Status, r.StoppedBy = Stopped, f.stopped
	}
	f.explain(r)
	f.unavoidable(r)
	r.Work = Work{Pivots: f.work.Pivots, Branches: f.work.Branches, Nodes: n.nodes(), Arcs: n.arcs()}
}

// explain prices every part at the visits made, around the others as planned.
func (f *refinement) explain(r *Result) {
	n := f.n
	reasons := make([][]Reason, len(f.p.Lots))
	for _, pt := range f.parts {
		if len(f.parts) > 1 {
			pt.net, pt.search = f.searchFor(packing{unit: pt.size, size: f.size, moves: pt.moves, fixed: f.around(pt)})
		}
		before := pt.search.s.pivots
		best := pt.search.finish(f.flow, n)
		f.work.Pivots += pt.search.s.pivots - before
		if best && !f.p.contained() {
			r.Worth = worth(pt.net.network, pt.search.s)
		}
		if f.opt.Explain {
			explainLots(pt.net.network, pt.search.s, r, best, pt.moves, reasons)
		}
	}
	if f.opt.Explain {
		r.Reasons = slices.Concat([]Reason{}, slices.Concat(reasons...))
	}
}

// unavoidable reprices the network of the proof to find the least price of
// uneaten food; see the function of that name.
func (f *refinement) unavoidable(r *Result) {
	r.Unavoidable = r.leftOverCost
	s := f.proof
	if r.leftOverCost == 0 || f.stopped == StoppedByCancel {
		return
	}
	for e, k := range s.n.kind {
		s.cost[e] = 0
		if k == arcLeftOver || k == arcUnfed {
			s.cost[e] = s.n.cost[e]
		}
	}
	before := s.s.pivots
	if s.solve() {
		r.Unavoidable = s.s.value() + f.rest()
	}
	f.work.Pivots += s.s.pivots - before
}
