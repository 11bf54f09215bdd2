package planner

import (
	"fmt"
	"math/bits"
)

// certify proves from first principles that a flow is a cheapest one; it shares
// nothing with the simplex but the network. The flow must fit and balance, and
// the potentials must make every arc's reduced cost agree with its flow: none
// below zero where more could flow, none above zero where something flows. Then
// the dual value equals the cost (linear programming duality), which is checked
// too. It returns that cost.
func certify(n *network, cost, flow, pot []int64) (int64, error) {
	value, err := feasible(n, cost, flow)
	if err != nil {
		return 0, err
	}
	var dual int64
	for v, m := range n.supply {
		dual += m * pot[v]
	}
	for e, f := range flow {
		r := cost[e] + pot[n.to[e]] - pot[n.from[e]]
		switch {
		case f < n.room[e] && r < 0:
			return 0, fmt.Errorf("arc %d: more could flow at reduced cost %d", e, r)
		case f > 0 && r > 0:
			return 0, fmt.Errorf("arc %d: carries %d at reduced cost %d", e, f, r)
		case r < 0:
			dual += r * n.room[e]
		}
	}
	if dual != value {
		return 0, fmt.Errorf("dual value %d differs from cost %d", dual, value)
	}
	return value, nil
}

// feasible checks capacities and balances and returns the cost of the flow.
func feasible(n *network, cost, flow []int64) (int64, error) {
	if len(flow) != n.arcs() {
		return 0, fmt.Errorf("flow on %d arcs of %d", len(flow), n.arcs())
	}
	net := append([]int64(nil), n.supply...)
	var value int64
	for e, f := range flow {
		if f < 0 || f > n.room[e] {
			return 0, fmt.Errorf("arc %d: flow %d outside 0 to %d", e, f, n.room[e])
		}
		net[n.from[e]] -= f
		net[n.to[e]] += f
		value += f * cost[e]
	}
	var all int64
	for _, m := range n.supply {
		all += m
	}
	for v, m := range net {
		if v == 0 && m != all {
			return 0, fmt.Errorf("%d of %d reach the sink", m, all)
		}
		if v > 0 && m != 0 {
			return 0, fmt.Errorf("node %d: out of balance by %d", v, m)
		}
	}
	return value, nil
}

// lowerBound turns any potentials into a value no plan can beat. For any
// potentials the cost of a flow is at least the supplies at their potentials
// plus what full arcs of negative reduced cost could save (Lagrangian duality).
// It takes the better of two: prices for limits as the search left them, and no
// prices at all, each unit going its cheapest way.
func lowerBound(n *network, cost, pot []int64) int64 {
	free := make([]int64, n.nodes())
	for v := range free {
		free[v] = int64(maxTotal)
	}
	free[0] = 0
	return max(0, boundFrom(n, cost, pot, unlimited), boundFrom(n, cost, free, 0))
}

// boundFrom first lowers each node's potential, sink upward, to the cheapest of
// its ways with at least so much room: these then have no negative reduced cost.
func boundFrom(n *network, cost, pot []int64, least int64) int64 {
	fit := append([]int64(nil), pot...)
	var all int64
	for _, m := range n.supply {
		all += m
	}
	var bound, saving int64
	for v := 0; v < n.nodes(); v++ {
		arcs := n.first[v:]
		for e := arcs[0]; e < arcs[1]; e++ {
			if n.room[e] >= least {
				fit[v] = min(fit[v], cost[e]+fit[n.to[e]])
			}
		}
		if n.supply[v] > 0 && fit[v] < 0 {
			return 0 // so far from an answer that the sums might not fit; zero is always a bound
		}
		bound += n.supply[v] * fit[v]
		for e := arcs[0]; e < arcs[1]; e++ {
			if r := cost[e] + fit[n.to[e]] - fit[v]; r < 0 {
				hi, lo := bits.Mul64(uint64(-r), uint64(min(n.room[e], all)))
				if saving += int64(lo); hi != 0 || lo >= maxTotal || saving >= int64(maxTotal) {
					return 0
				}
			}
		}
	}
	return bound - saving
}
