package planner

import "slices"

// sizes is the mass of one container of each group; 1 = any mass may be handed
// over.
func (p *Problem) sizes() []int64 {
	size := make([]int64, len(p.Groups))
	for g := range size {
		size[g] = max(1, p.ContainerUnits)
		if own := p.Groups[g].ContainerUnits; own > 0 {
			size[g] = own
		}
	}
	return size
}

// packing says how a network is recast so that food moves in whole containers.
//
// When all containers are alike this is exact: each capacity is rounded down to
// whole containers, the crowding cost is read off at whole containers, the supply
// is divided; and a flow in whole numbers of containers is a cheapest one. Ripe
// bedding is rounded down as it adds up from week to week, not batch by batch,
// since it keeps.
type packing struct {
	unit  int64   // mass of one unit of flow
	size  []int64 // per group: mass of a container, a multiple of unit
	moves []bool  // per group; lots of the others have no supply
	fixed []int64 // flow of the given network: what the others take of shared limits
	loose bool    // where rounding is not exact, allow too much rather than too little
}

// packed is a recast network. Its nodes are those of the given one.
type packed struct {
	*network
	packing
	origin []int32 // arc -> arc of the given network; -1 for crowding
	taken  []int64 // per slot: load of what is fixed
}

// repack recasts a network of build.
func repack(n *network, k packing) *packed {
	m := *n
	m.first, m.from, m.to, m.room, m.cost, m.kind, m.ref, m.supply, m.start = nil, nil, nil, nil, nil, nil, nil, nil, nil
	m.slots = slices.Clone(n.slots)
	m.per = k.unit
	r := &packed{network: &m, packing: k, taken: make([]int64, len(n.slots))}
	week := make([]int64, len(n.week))
	for e, x := range k.fixed {
		switch n.kind[e] {
		case arcGroup:
			r.taken[n.ref[e]] += x
		case arcWeekly:
			week[n.ref[e]] += x
		}
	}
	ready, standIn := r.bedding(n, week)
	dead := make([]bool, n.nodes())
	for v := range n.supply {
		m.node(r.whole(n, v))
		for e := n.first[v]; e < n.first[v+1]; e++ {
			room := n.room[e]
			switch ref := int(n.ref[e]); n.kind[e] {
			case arcLoad:
				if e == n.slots[ref].load {
					r.crowding(n, ref, dead[n.to[e]])
				}
				continue
			case arcGroup:
				room = r.down(room, n.groupOf(int32(v)))
			case arcHold:
				room = r.down(room, ref/n.p.Days%len(n.p.Groups))
			case arcWeekly:
				room = (room - week[ref]) / k.unit
			case arcReady:
				room = ready[ref]
			case arcStandIn:
				room = standIn[ref]
			}
			if room > 0 && !dead[n.to[e]] {
				m.add(n.to[e], room, n.cost[e]*k.unit, n.kind[e], int(n.ref[e]))
				r.origin = append(r.origin, e)
			}
		}
		if v > 0 && m.start[v] < 0 { // nothing can pass here, and nothing will come
			dead[v] = true
			ref := n.ref[n.first[v]]
			m.add(0, unlimited, 0, arcClosed, int(ref))
			r.origin = append(r.origin, -1)
		}
	}
	m.first = append(m.first, int32(len(m.from)))
	return r
}

// whole is a node's supply in units of flow: the whole containers of a lot.
func (r *packed) whole(n *network, v int) int64 {
	i := v - int(n.lots)
	if i < 0 {
		return 0
	}
	g := int(n.lotGroup[i])
	if !r.moves[g] {
		return 0
	}
	return r.down(n.supply[v], g)
}

// down rounds a mass down to whole containers of a group, in units of flow.
func (r *packed) down(mass int64, group int) int64 {
	return mass / r.size[group] * (r.size[group] / r.unit)
}

// crowding adds a slot's steps, read off at whole units of flow above what is
// fixed. A unit that straddles the end of a step has a price of its own.
func (r *packed) crowding(n *network, at int, dead bool) {
	given := &n.slots[at]
	s := &r.slots[at]
	s.load, s.step = int32(len(r.from)), 0
	if s.room = (given.room - r.taken[at]) / r.unit; dead {
		return
	}
	add := func(units, cost int64) {
		r.add(n.to[given.load], units, cost, arcLoad, at)
		r.origin = append(r.origin, -1)
		s.step++
	}
	mass, left := r.taken[at], s.room
	end, e := int64(0), given.load
	for left > 0 {
		for end <= mass {
			end += n.room[e]
			e++
		}
		if inside := min(left, (end-mass)/r.unit); inside > 0 {
			add(inside, n.cost[e-1]*r.unit)
			mass, left = mass+inside*r.unit, left-inside
			continue
		}
		cost, rest := (end-mass)*n.cost[e-1], r.unit-(end-mass)
		for rest > 0 {
			part := min(rest, n.room[e])
			cost += part * n.cost[e]
			rest -= part
			end += n.room[e]
			e++
		}
		add(1, cost)
		mass, left = mass+r.unit, left-1
	}
}

// bedding rounds the stocks of each site, ripe and stand-in, by week. Rounded
// down together they are safe; loose, a unit that is covered in part by ripe
// bedding counts as covered by it.
func (r *packed) bedding(n *network, week []int64) (ready, standIn []int64) {
	p := n.p
	ready, standIn = make([]int64, len(n.bed)), make([]int64, len(n.bed))
	fed := make([]int64, len(n.bed))
	for at, x := range week {
		fed[int(n.siteOf[at/n.weeks])*n.weeks+at%n.weeks] += x
	}
	for s := range p.Sites {
		ripe, both, soft := make([]int64, n.weeks), make([]int64, n.weeks), int64(0)
		var sum, gone int64
		for w := range n.weeks {
			sum += p.Sites[s].Bedding[w]
			if len(p.Sites[s].StandIn) > 0 {
				soft += p.Sites[s].StandIn[w]
			}
			gone += fed[s*n.weeks+w]
			if r.loose {
				ripe[w] = sum / r.unit
				if soft > 0 && sum%r.unit > 0 {
					ripe[w]++
				}
				both[w] = ripe[w] + soft/r.unit
				continue
			}
			ripe[w] = max(0, sum-gone) / r.unit
			both[w] = max(0, sum+soft-gone) / r.unit
		}
		least := func(x []int64) { // what later weeks need must be left by earlier ones
			for w := len(x) - 2; w >= 0; w-- {
				x[w] = min(x[w], x[w+1])
			}
		}
		least(ripe)
		least(both)
		for w := range both {
			both[w] -= ripe[w]
		}
		least(both)
		for w := range n.weeks {
			at := s*n.weeks + w
			ready[at], standIn[at] = ripe[w], both[w]
			if w > 0 {
				ready[at] -= ripe[w-1]
				standIn[at] -= both[w-1]
			}
		}
	}
	return ready, standIn
}

// spread adds a flow of the recast network to one of the given network: all but
// what is shared, which complete fills in. What is short of a container is left
// over.
func (r *packed) spread(n *network, flow, onto []int64) {
	for e, x := range flow {
		if at := r.origin[e]; at >= 0 {
			onto[at] += x * r.unit
		}
	}
	for i := range n.p.Lots {
		if g := int(n.lotGroup[i]); r.moves[g] {
			onto[n.first[int(n.lots)+i]] += n.p.Lots[i].Mass % r.size[g]
		}
	}
}

// complete derives what is shared from what each feeding gets: the steps of
// crowding, cheapest first, the weeks, and the bedding, ripe first and oldest
// first, which needs the least stand-in bedding.
func complete(n *network, flow []int64) {
	load := make([]int64, len(n.slots))
	food := make([]int64, len(n.bed))
	for e, k := range n.kind {
		switch k {
		case arcGroup:
			load[n.ref[e]] += flow[e]
		case arcLoad, arcWeekly, arcReady, arcStandIn, arcOlder:
			flow[e] = 0
		}
	}
	for i := range n.slots {
		s := &n.slots[i]
		week := n.first[n.to[s.load]]
		flow[week] += load[i]
		food[int(n.siteOf[s.bin])*n.weeks+int(s.day)/DaysPerWeek] += load[i]
		for e := s.load; e < s.load+s.step; e++ {
			flow[e] = min(load[i], n.room[e])
			load[i] -= flow[e]
		}
	}
	for s := range n.p.Sites {
		bed := n.bed[s*n.weeks : (s+1)*n.weeks]
		for w := range bed {
			rest := food[s*n.weeks+w]
			for _, kind := range []arcKind{arcReady, arcStandIn} {
				for u := 0; u <= w && rest > 0; u++ {
					if bed[u] < 0 {
						continue
					}
					for e := n.first[bed[u]]; e < n.first[bed[u]+1]; e++ {
						if n.kind[e] == kind {
							part := min(rest, n.room[e]-flow[e])
							flow[e] += part
							rest -= part
						}
					}
				}
			}
		}
		var older int64
		for w := n.weeks - 1; w >= 0; w-- {
			if bed[w] < 0 {
				continue
			}
			older += food[s*n.weeks+w]
			for e := n.first[bed[w]]; e < n.first[bed[w]+1]; e++ {
				if n.kind[e] == arcOlder {
					flow[e] = older
				} else {
					older -= flow[e]
				}
			}
		}
	}
}
