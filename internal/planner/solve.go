package planner

import (
	"context"
	"fmt"
	"math/bits"
)

// Options bound the work and choose what is written into the Result.
type Options struct {
	MaxPivots int64 // 0 = until proven; below 0 = none, everything is left over
	MaxNodes  int   // choices of visits looked into; 0 = 2,000, fewer on large networks; below 0 = none
	Explain   bool  // write reasons for every lot
}

// defaultNodes is how many choices of visits are looked into unless told
// otherwise: what a small computer does in seconds rather than minutes.
func defaultNodes(arcs int) int { return max(100, min(2000, 100_000_000/(arcs+1))) }

// Solve finds a plan of least cost and proves it. It returns *InvalidError for
// a Problem that Validate refuses. When the budget is spent or ctx ends first,
// the plan found so far is returned with a lower bound that still holds, and
// says that it was stopped; a plan always exists, since anything can be left
// over.
func Solve(ctx context.Context, p *Problem, opt Options) (*Result, error) {
	bad, notes := refusals(p.Validate())
	if len(bad) > 0 {
		return nil, &InvalidError{Faults: bad}
	}
	n := build(p)
	r := &Result{UnitG: p.UnitG, Status: Proven, Notes: notes}
	if p.refined() {
		if err := refine(ctx, p, n, opt, r); err != nil {
			return nil, err
		}
		r.gaps()
		return r, nil
	}
	s := newSimplex(n)
	budget := opt.MaxPivots
	switch {
	case budget == 0:
		budget = -1
	case budget < 0:
		budget = 0
	}
	why := s.run(ctx, budget)

	r.Work = Work{Pivots: s.pivots, Nodes: n.nodes(), Arcs: n.arcs()}
	extract(n, s.flow, r)
	switch why {
	case proven:
		value, err := certify(n, s.cost, s.flow, s.pot)
		if err == nil && value != r.Value {
			err = fmt.Errorf("the plan costs %d, its flow %d", r.Value, value)
		}
		if err != nil {
			return nil, fmt.Errorf("planner: certificate refused: %w", err)
		}
		r.Bound = value
	case pivotsOut:
		r.Status, r.StoppedBy = Stopped, StoppedByPivots
	case cancelled:
		r.Status, r.StoppedBy = Stopped, StoppedByCancel
	}
	if why != proven {
		if _, err := feasible(n, s.cost, s.flow); err != nil {
			return nil, fmt.Errorf("planner: certificate refused: %w", err)
		}
		r.Bound = lowerBound(n, s.cost, s.pot)
	}
	if why == proven {
		r.Worth = worth(n, s)
	}
	if opt.Explain {
		r.Reasons = explain(n, s, r)
	}
	r.Unavoidable = unavoidable(ctx, s, why, budget, r)
	r.gaps()
	return r, nil
}

func (r *Result) gaps() {
	r.Gap = r.Value - r.Bound
	r.GapPPM = partsPerMillion(r.Gap, r.Value)
	r.ControllablePPM = partsPerMillion(r.Gap, r.Value-r.Unavoidable)
}

// unavoidable is the least price of leaving food uneaten that any plan pays. It
// reprices the finished tree, so it must come last. When it can't be proven the
// plan's own price stands in, which makes the gap look larger, never smaller.
func unavoidable(ctx context.Context, s *simplex, why stop, budget int64, r *Result) int64 {
	own := r.leftOverCost
	if why != proven || own == 0 {
		return own
	}
	n := s.net
	only := make([]int64, n.arcs())
	for e, k := range n.kind {
		if k == arcLeftOver || k == arcUnfed {
			only[e] = n.cost[e]
		}
	}
	s.reprice(only)
	if s.run(ctx, budget) != proven {
		return own
	}
	return s.value()
}

// partsPerMillion is part/whole in millionths, rounded up. No part of nothing is
// 0; a part of nothing counts as the whole.
func partsPerMillion(part, whole int64) int64 {
	const million = 1_000_000
	switch {
	case part <= 0:
		return 0
	case part >= whole:
		return million
	}
	hi, lo := bits.Mul64(uint64(part), million)
	q, rest := bits.Div64(hi, lo, uint64(whole))
	if rest > 0 {
		q++
	}
	return int64(q)
}
