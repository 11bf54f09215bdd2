package planner

// arcKind says what a unit of food does when it takes an arc.
type arcKind uint8

const (
	arcFeed     arcKind = iota // lot to a bin's group on a day
	arcFreeze                  // lot into a drawer on its arrival day
	arcLeftOver                // lot left over or declined
	arcThaw                    // drawer to a bin's group on a day
	arcHold                    // drawer overnight
	arcUnfed                   // still frozen after the last day
	arcGroup                   // within the go-easy limit of one feeding
	arcLoad                    // one step of a bin's crowding cost on a day
	arcWeekly                  // within the bin's week
	arcReady                   // on bedding that turned ripe in this week
	arcStandIn                 // on fresh-wetted bedding
	arcOlder                   // on bedding from the week before or earlier
	arcClosed                  // out of a node that whole containers can't pass
)

// unlimited stands for no capacity of its own.
const unlimited = int64(1) << 60

// network is the problem as a flow spread over the days. Node 0 is the sink.
// Every arc runs from a higher node to a lower one, so the numbering is a
// topological order; arcs are sorted by tail, those of v being
// first[v]..first[v+1]. Nodes without an open way to the sink are left out.
type network struct {
	first    []int32
	from, to []int32
	room     []int64 // capacity
	cost     []int64
	kind     []arcKind
	ref      []int32 // what the arc is about: see add
	supply   []int64
	start    []int32 // per node: an open arc towards the sink; together a tree

	p       *Problem
	per     int64  // mass of one unit of flow
	shut    []bool // per slot: no visit, for its price; nil when visits are free
	weeks   int
	slots   []slot
	bed     []int32 // site, week
	week    []int32 // bin, week
	slotOf  []int32 // bin, day -> slot or -1
	feeding []int32 // slot, group -> node or -1
	drawer  []int32 // site, group, day -> node or -1
	lots    int32   // node of lot 0; lot i is lots+i

	groupIx, siteIx, binIx map[string]int // for building only
	siteOf                 []int32        // bin -> site
	ofSite                 [][]int32      // site -> bins
	shelf                  []int64        // site, group -> drawer capacity
	lotSite, lotGroup      []int32
}

// slot is a bin on a day when it can be fed. Its crowding steps are the arcs
// load..load+step.
type slot struct {
	bin, day   int32
	room       int64
	node       int32
	load, step int32
}

func (n *network) nodes() int { return len(n.supply) }
func (n *network) arcs() int  { return len(n.from) }

// node opens a new node; the arcs added next are its own.
func (n *network) node(supply int64) int32 {
	n.supply = append(n.supply, supply)
	n.first = append(n.first, int32(len(n.from)))
	n.start = append(n.start, -1)
	return int32(len(n.supply) - 1)
}

// add gives the newest node an arc. ref is the slot for arcGroup and arcLoad,
// bin*weeks+week for arcWeekly, site*weeks+week for bedding, the index into
// drawer for arcHold and arcUnfed, the lot for arcs that leave it.
func (n *network) add(to int32, room, cost int64, kind arcKind, ref int) {
	v := int32(len(n.supply) - 1)
	if n.start[v] < 0 {
		n.start[v] = int32(len(n.from))
	}
	n.from = append(n.from, v)
	n.to = append(n.to, to)
	n.room = append(n.room, room)
	n.cost = append(n.cost, cost)
	n.kind = append(n.kind, kind)
	n.ref = append(n.ref, int32(ref))
}

// build lays out the network of a valid Problem.
func build(p *Problem) *network {
	n := &network{p: p, per: 1, weeks: p.Weeks()}
	n.index()
	n.node(0) // the sink
	n.addBedding()
	for b := range p.Bins {
		n.addBin(b)
	}
	n.addDrawers()
	n.addLots()
	n.first = append(n.first, int32(len(n.from)))
	n.groupIx, n.siteIx, n.binIx = nil, nil, nil
	return n
}

func fill(n int) []int32 {
	s := make([]int32, n)
	for i := range s {
		s[i] = -1
	}
	return s
}

func (n *network) index() {
	p := n.p
	n.groupIx = make(map[string]int, len(p.Groups))
	for i := range p.Groups {
		n.groupIx[p.Groups[i].ID] = i
	}
	n.siteIx = make(map[string]int, len(p.Sites))
	n.shelf = make([]int64, len(p.Sites)*len(p.Groups))
	for i := range p.Sites {
		n.siteIx[p.Sites[i].ID] = i
		for _, d := range p.Sites[i].Drawers {
			n.shelf[i*len(p.Groups)+n.groupIx[d.Group]] = d.Capacity
		}
	}
	n.binIx = make(map[string]int, len(p.Bins))
	n.siteOf = make([]int32, len(p.Bins))
	n.ofSite = make([][]int32, len(p.Sites))
	open := 0
	for i := range p.Bins {
		s := n.siteIx[p.Bins[i].Site]
		n.binIx[p.Bins[i].ID] = i
		n.siteOf[i] = int32(s)
		n.ofSite[s] = append(n.ofSite[s], int32(i))
		for _, r := range p.Bins[i].Room {
			if r > 0 {
				open++
			}
		}
	}
	n.lotSite = make([]int32, len(p.Lots))
	n.lotGroup = make([]int32, len(p.Lots))
	for i := range p.Lots {
		n.lotSite[i] = int32(n.siteIx[p.Lots[i].Site])
		n.lotGroup[i] = int32(n.groupIx[p.Lots[i].Group])
	}
	n.bed = fill(len(p.Sites) * n.weeks)
	n.week = fill(len(p.Bins) * n.weeks)
	n.slotOf = fill(len(p.Bins) * p.Days)
	n.feeding = fill(open * len(p.Groups))
	n.drawer = fill(len(p.Sites) * len(p.Groups) * p.Days)
}

// addBedding: food of a week may use bedding that turned ripe in it or before,
// so the chain runs backward in time.
func (n *network) addBedding() {
	p := n.p
	for s := range p.Sites {
		older := int32(-1)
		for w := 0; w < n.weeks; w++ {
			at := s*n.weeks + w
			ready, standIn := p.Sites[s].Bedding[w], int64(0)
			if len(p.Sites[s].StandIn) > 0 {
				standIn = p.Sites[s].StandIn[w]
			}
			if ready == 0 && standIn == 0 && older < 0 {
				continue
			}
			n.bed[at] = n.node(0)
			if ready > 0 {
				n.add(0, ready, 0, arcReady, at)
			}
			if standIn > 0 {
				n.add(0, standIn, p.Prices.StandIn, arcStandIn, at)
			}
			if older >= 0 {
				n.add(older, unlimited, 0, arcOlder, at)
			}
			older = n.bed[at]
		}
	}
}

func (n *network) addBin(b int) {
	p := n.p
	bin := &p.Bins[b]
	limit := make([]GroupMax, len(p.Groups))
	for g := range limit {
		limit[g].Pct = &p.Groups[g].MaxPct
	}
	for _, l := range bin.Limits {
		limit[n.groupIx[l.Group]] = l
	}
	for w := 0; w < n.weeks; w++ {
		bed := n.bed[int(n.siteOf[b])*n.weeks+w]
		if bin.Weekly[w] == 0 || bed < 0 {
			continue
		}
		at := b*n.weeks + w
		n.week[at] = n.node(0)
		n.add(bed, bin.Weekly[w], 0, arcWeekly, at)
	}
	for d := 0; d < p.Days; d++ {
		week := n.week[b*n.weeks+d/DaysPerWeek]
		room := bin.Room[d]
		if room == 0 || week < 0 {
			continue
		}
		at := len(n.slots)
		s := slot{bin: int32(b), day: int32(d), room: room, node: n.node(0), load: int32(len(n.from))}
		var below int64
		for _, st := range p.Load {
			upTo := room * st.UpToPct / 100
			if upTo > below {
				n.add(week, upTo-below, st.Cost, arcLoad, at)
				s.step++
			}
			below = upTo
		}
		n.slots = append(n.slots, s)
		n.slotOf[b*p.Days+d] = int32(at)
		for g := range limit {
			if most := limit[g].on(room); most > 0 {
				n.feeding[at*len(p.Groups)+g] = n.node(0)
				n.add(s.node, most, 0, arcGroup, at)
			}
		}
	}
}

// on is the most of the group that one feeding may hold when the bin has this
// much room.
func (m GroupMax) on(room int64) int64 {
	if m.Units != nil {
		return min(*m.Units, room)
	}
	return room * *m.Pct / 100
}

// addDrawers: freezer space per site and group, the last day first.
func (n *network) addDrawers() {
	p := n.p
	for s := range p.Sites {
		for g := range p.Groups {
			shelf := n.shelf[s*len(p.Groups)+g]
			if shelf == 0 {
				continue
			}
			for d := p.Days - 1; d >= 0; d-- {
				at := (s*len(p.Groups)+g)*p.Days + d
				n.drawer[at] = n.node(0)
				if d == p.Days-1 {
					n.add(0, unlimited, p.Prices.StillFrozen, arcUnfed, at)
				} else {
					n.add(n.drawer[at+1], shelf, p.Prices.Hold, arcHold, at)
				}
				fed := d + p.ThawDays
				if fed < p.FirstThaw || fed >= p.Days {
					continue
				}
				for _, b := range n.ofSite[s] {
					if v := n.feedingAt(int(b), fed, g); v >= 0 {
						n.add(v, unlimited, p.Prices.Thaw, arcThaw, at)
					}
				}
			}
		}
	}
}

// feedingAt is the node for feeding a group to a bin on a day; -1 when closed.
func (n *network) feedingAt(bin, day, group int) int32 {
	s := n.slotOf[bin*n.p.Days+day]
	if s < 0 {
		return -1
	}
	return n.feeding[int(s)*len(n.p.Groups)+group]
}

// slotAt is the slot of a feeding node.
func (n *network) slotAt(feeding int32) *slot { return &n.slots[n.ref[n.first[feeding]]] }

func (n *network) addLots() {
	p := n.p
	n.lots = int32(n.nodes())
	near := newNearby(n)
	for i := range p.Lots {
		l := &p.Lots[i]
		n.node(l.Mass)
		n.add(0, unlimited, p.leftOverPrice(l), arcLeftOver, i)
		g, s, last := int(n.lotGroup[i]), int(n.lotSite[i]), p.lastDay(l)
		if fridge := n.drawer[(s*len(p.Groups)+g)*p.Days+l.Arrive]; fridge >= 0 {
			switch {
			case l.Frozen:
				n.add(fridge, unlimited, 0, arcFreeze, i)
			case l.Freezable && last >= l.Arrive:
				n.add(fridge, unlimited, p.Prices.Freeze, arcFreeze, i)
			}
		}
		if last < l.Arrive {
			continue
		}
		for _, c := range near.of(i) {
			for d := l.Arrive; d <= last; d++ {
				if v := n.feedingAt(int(c.bin), d, g); v >= 0 {
					n.add(v, unlimited, c.cost, arcFeed, i)
				}
			}
		}
	}
}
