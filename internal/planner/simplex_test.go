package planner

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func run(n *network) *simplex {
	s := newSimplex(n)
	s.run(context.Background(), -1)
	return s
}

func TestTheNetworkRunsDownhillAndStartsAsATree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := build(drawGarden(t))
		for e := range n.from {
			if n.to[e] >= n.from[e] || n.room[e] <= 0 || n.cost[e] < 0 {
				t.Fatalf("arc %d: %d to %d, room %d, cost %d", e, n.from[e], n.to[e], n.room[e], n.cost[e])
			}
		}
		for v := 1; v < n.nodes(); v++ {
			if e := n.start[v]; e < n.first[v] || e >= n.first[v+1] {
				t.Fatalf("node %d starts on arc %d, not its own", v, e)
			}
		}
	})
}

// Every node can send one more unit along the tree to the sink; sizes and
// potentials agree with the links (Cunningham 1976).
func TestTheTreeStaysStronglyFeasible(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := build(drawGarden(t))
		s := newSimplex(n)
		for range 200 {
			why := s.run(context.Background(), 1)
			size := make([]int32, n.nodes())
			for v := range size {
				for u := int32(v); u >= 0; u = s.tree[u].parent {
					size[u]++
				}
			}
			for v := int32(1); v < int32(n.nodes()); v++ {
				e, parent := s.tree[v].arc, s.tree[v].parent
				if s.tree[v].size != size[v] {
					t.Fatalf("node %d: size %d, has %d", v, s.tree[v].size, size[v])
				}
				if s.tree[v].up != (n.from[e] == v) || n.from[e]+n.to[e] != v+parent {
					t.Fatalf("node %d hangs wrongly on arc %d", v, e)
				}
				if s.slack(v, s.tree[v].up) <= 0 {
					t.Fatalf("node %d can send nothing up arc %d", v, e)
				}
				if s.reduced(e) != 0 {
					t.Fatalf("tree arc %d: reduced cost %d", e, s.reduced(e))
				}
			}
			if why == proven {
				return
			}
		}
	})
}

func TestNewCostsOnTheOldTreeGiveTheSameValueAsAFreshStart(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := build(drawGarden(t))
		s := run(n)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "costs"), 2))
		for range 3 {
			cost := append([]int64(nil), n.cost...)
			for e := range cost {
				if n.kind[e] == arcLoad || r.IntN(5) == 0 {
					cost[e] += r.Int64N(60)
				}
			}
			s.reprice(cost)
			s.run(context.Background(), -1)
			warm, err := certify(n, cost, s.flow, s.pot)
			if err != nil {
				t.Fatal(err)
			}
			again := *n
			again.cost = cost
			if cold := run(&again).value(); warm != cold {
				t.Fatalf("value %d on the old tree, %d from the start", warm, cold)
			}
		}
	})
}

func TestRepricingIsMuchLessWorkThanStartingOver(t *testing.T) {
	t.Parallel()
	n := build(readInstance(t, "medium").problem())
	s := run(n)
	cold := s.pivots
	cost := append([]int64(nil), n.cost...)
	for e := n.slots[7].load; e < n.slots[7].load+n.slots[7].step; e++ {
		cost[e] += 500 // one bin on one day becomes unwelcome
	}
	s.reprice(cost)
	s.run(context.Background(), -1)
	if warm := s.pivots - cold; warm*10 > cold {
		t.Errorf("%d pivots after one change, %d from the start", warm, cold)
	}
}

func TestTheCertificateRefusesWhatIsNotBest(t *testing.T) {
	t.Parallel()
	n := build(readInstance(t, "small1").problem())
	s := run(n)
	if _, err := certify(n, s.cost, s.flow, s.pot); err != nil {
		t.Fatal(err)
	}
	used, full := -1, -1
	for e := range s.flow {
		if n.kind[e] == arcFeed && s.flow[e] > 0 {
			used = e
		}
		if s.reduced(int32(e)) < 0 {
			full = e
		}
	}
	cases := []struct {
		name, says string
		change     func(flow, pot []int64)
	}{
		{"food from nowhere", "out of balance", func(flow, _ []int64) { flow[used]++ }},
		{"more than fits", "outside", func(flow, _ []int64) { flow[full]++ }},
		{"less than nothing", "outside", func(flow, _ []int64) { flow[used] = -1 }},
		{"potentials too high", "could flow", func(_, pot []int64) { pot[n.from[used]] += 1_000_000 }},
		{"potentials too low", "carries", func(_, pot []int64) { pot[n.from[used]] -= 1_000_000 }},
		{"the start, where all is left over", "could flow", func(flow, pot []int64) {
			start := newSimplex(n)
			copy(flow, start.flow)
			copy(pot, start.pot)
		}},
	}
	for _, c := range cases {
		flow, pot := append([]int64(nil), s.flow...), append([]int64(nil), s.pot...)
		c.change(flow, pot)
		if _, err := certify(n, s.cost, flow, pot); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func TestAnyPotentialsGiveABound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := build(drawGarden(t))
		s := run(n)
		best := s.value()
		if at := lowerBound(n, s.cost, s.pot); at != best {
			t.Fatalf("the best potentials give %d, not %d", at, best)
		}
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "potentials"), 4))
		for range 5 {
			pot := append([]int64(nil), s.pot...)
			for v := 1; v < len(pot); v++ {
				pot[v] += r.Int64N(401) - 200
			}
			if bound := lowerBound(n, s.cost, pot); bound > best {
				t.Fatalf("bound %d above the best value %d", bound, best)
			}
		}
	})
}
