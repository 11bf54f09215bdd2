package planner

import "context"

// Where an arc stands outside or inside the tree.
const (
	atZero int8 = 1
	inTree int8 = 0
	atRoom int8 = -1
)

// simplex is a primal network simplex. It holds a feasible flow at all times:
// stopping early leaves a valid plan. The tree is strongly feasible (every node
// could send one more unit along the tree to the sink), which rules out
// cycling. Costs may change between runs; tree and flow are kept.
type simplex struct {
	net    *network
	cost   []int64
	flow   []int64
	state  []int8
	pot    []int64 // cost of the tree path from the node to the sink
	tree   []treeNode
	next   int // where pricing goes on
	pivots int64
}

// treeNode links a node to its parent, first child and siblings.
type treeNode struct {
	parent, arc        int32 // arc: the one that joins node and parent
	child, right, left int32
	size               int32 // nodes in its subtree, itself included
	up                 bool  // the arc runs from node to parent
}

// newSimplex starts with every lot left over and nothing fed. The start arcs of
// the network form a tree in which every arc points to the sink and has room.
func newSimplex(n *network) *simplex {
	s := &simplex{
		net:   n,
		cost:  append([]int64(nil), n.cost...),
		flow:  make([]int64, n.arcs()),
		state: make([]int8, n.arcs()),
		pot:   make([]int64, n.nodes()),
		tree:  make([]treeNode, n.nodes()),
	}
	for e := range s.state {
		s.state[e] = atZero
	}
	for v := range s.tree {
		s.tree[v] = treeNode{parent: -1, arc: -1, child: -1, right: -1, left: -1, size: 1}
	}
	for v := int32(1); v < int32(n.nodes()); v++ {
		e := n.start[v]
		s.state[e] = inTree
		s.flow[e] = n.supply[v] // only lots have any, and theirs goes straight to the sink
		s.tree[v].arc, s.tree[v].up = e, true
		s.link(v, n.to[e])
		s.pot[v] = s.cost[e] + s.pot[n.to[e]]
	}
	for v := len(s.tree) - 1; v > 0; v-- {
		s.tree[s.tree[v].parent].size += s.tree[v].size
	}
	return s
}

func (s *simplex) link(v, parent int32) {
	t := s.tree
	t[v].parent, t[v].left, t[v].right = parent, -1, t[parent].child
	if c := t[parent].child; c >= 0 {
		t[c].left = v
	}
	t[parent].child = v
}

func (s *simplex) unlink(v int32) {
	t := s.tree
	if l := t[v].left; l >= 0 {
		t[l].right = t[v].right
	} else {
		t[t[v].parent].child = t[v].right
	}
	if r := t[v].right; r >= 0 {
		t[r].left = t[v].left
	}
}

// reprice sets new costs and keeps flow and tree, so that the next run starts
// from the last plan.
func (s *simplex) reprice(cost []int64) {
	copy(s.cost, cost)
	for v := s.tree[0].child; v >= 0; v = s.after(v, 0) {
		c := s.cost[s.tree[v].arc]
		if !s.tree[v].up {
			c = -c
		}
		s.pot[v] = s.pot[s.tree[v].parent] + c
	}
}

// after is the next node of top's subtree in depth-first order; -1 at the end.
func (s *simplex) after(v, top int32) int32 {
	t := s.tree
	if t[v].child >= 0 {
		return t[v].child
	}
	for v != top {
		if t[v].right >= 0 {
			return t[v].right
		}
		v = t[v].parent
	}
	return -1
}

// stop says why a run ended.
type stop uint8

const (
	proven    stop = iota // no arc can improve the plan
	pivotsOut             // the budget is spent
	cancelled             // the context ended
)

// A context is looked at once in this many pivots.
const pivotsPerLook = 512

// run improves the flow until no arc helps, the budget of pivots is spent, or
// the context ends. A negative budget is no limit.
func (s *simplex) run(ctx context.Context, budget int64) stop {
	block := max(20, int(isqrt(int64(len(s.flow))))/2) // by trial on large gardens
	for done := int64(0); ; done++ {
		in := s.entering(block)
		if in < 0 {
			return proven
		}
		if budget >= 0 && done >= budget {
			return pivotsOut
		}
		if done%pivotsPerLook == 0 && ctx.Err() != nil {
			return cancelled
		}
		s.pivots++
		s.pivot(in)
	}
}

// entering looks through blocks of arcs, from where it last stopped, and takes
// the best arc of the first block that has one; -1 when there is none at all.
func (s *simplex) entering(block int) int32 {
	m := len(s.flow)
	cost, from, to, state, pot := s.cost[:m], s.net.from[:m], s.net.to[:m], s.state[:m], s.pot
	best, in := int64(0), int32(-1)
	e, left := s.next, block
	for k := 0; k < m; k++ {
		if e >= m {
			e = 0
		}
		if r := int64(state[e]) * (cost[e] + pot[to[e]] - pot[from[e]]); r < best {
			best, in = r, int32(e)
		}
		e++
		if left--; left == 0 {
			if in >= 0 {
				break
			}
			left = block
		}
	}
	s.next = e
	return in
}

// pivot brings arc in into the tree: flow goes round the cycle it closes until
// some arc is empty or full, and the last such arc, seen along the flow from
// the top of the cycle, leaves. That choice keeps the tree strongly feasible.
func (s *simplex) pivot(in int32) {
	t := s.tree
	tail, head := s.net.from[in], s.net.to[in]
	if s.state[in] == atRoom {
		tail, head = head, tail
	}
	top, other := tail, head
	for top != other {
		if t[top].size < t[other].size {
			top = t[top].parent
		} else {
			other = t[other].parent
		}
	}
	step := s.net.room[in]
	out, onTail := int32(-1), false
	for v := tail; v != top; v = t[v].parent { // flow runs down this side
		if d := s.slack(v, !t[v].up); d < step {
			step, out, onTail = d, v, true
		}
	}
	for v := head; v != top; v = t[v].parent { // and up this one
		if d := s.slack(v, t[v].up); d <= step {
			step, out, onTail = d, v, false
		}
	}
	if step > 0 {
		s.flow[in] += int64(s.state[in]) * step
		for v := tail; v != top; v = t[v].parent {
			s.push(v, !t[v].up, step)
		}
		for v := head; v != top; v = t[v].parent {
			s.push(v, t[v].up, step)
		}
	}
	if out < 0 { // the arc itself filled up first
		s.state[in] = -s.state[in]
		return
	}
	if onTail {
		s.hang(in, tail, head, out, top)
	} else {
		s.hang(in, head, tail, out, top)
	}
}

// slack is how much more the tree arc of v can carry along its direction, or
// how much of its flow can be taken back.
func (s *simplex) slack(v int32, along bool) int64 {
	e := s.tree[v].arc
	if along {
		return s.net.room[e] - s.flow[e]
	}
	return s.flow[e]
}

func (s *simplex) push(v int32, along bool, step int64) {
	if along {
		s.flow[s.tree[v].arc] += step
	} else {
		s.flow[s.tree[v].arc] -= step
	}
}

// hang cuts the subtree of cut off the tree, turns it so that root becomes its
// top, and hangs it under parent by arc in.
func (s *simplex) hang(in, root, parent, cut, top int32) {
	t := s.tree
	out := t[cut].arc
	if s.flow[out] == 0 {
		s.state[out] = atZero
	} else {
		s.state[out] = atRoom
	}
	s.state[in] = inTree
	shift := s.cost[in] + s.pot[s.net.to[in]] - s.pot[s.net.from[in]]
	up := s.net.from[in] == root
	if !up {
		shift = -shift
	}
	moved := t[cut].size
	for v := t[cut].parent; v != top; v = t[v].parent {
		t[v].size -= moved
	}
	for v := parent; v != top; v = t[v].parent {
		t[v].size += moved
	}
	v, arc, below := root, in, int32(0)
	for {
		above, oldArc, oldUp, size := t[v].parent, t[v].arc, t[v].up, t[v].size
		s.unlink(v)
		t[v].arc, t[v].up, t[v].size = arc, up, moved-below
		s.link(v, parent)
		if v == cut {
			break
		}
		parent, arc, up, below, v = v, oldArc, !oldUp, size, above
	}
	for v := root; v >= 0; v = s.after(v, root) {
		s.pot[v] += shift
	}
}

// value is the cost of the flow.
func (s *simplex) value() int64 {
	var sum int64
	for e, f := range s.flow {
		sum += f * s.cost[e]
	}
	return sum
}
