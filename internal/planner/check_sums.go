package planner

import (
	"fmt"
	"slices"
)

// freezers follows each lot through its drawer: nothing leaves that is not in,
// and no drawer holds more overnight than it can.
func (c *checker) freezers() {
	p := c.p
	shelf := make(map[[2]int]int64)
	for s := range p.Sites {
		for _, d := range p.Sites[s].Drawers {
			shelf[[2]int{s, c.group[d.Group]}] = d.Capacity
		}
	}
	night := make(map[[2]int][]int64)
	for i := range p.Lots {
		lot := &p.Lots[i]
		in := c.frozenIn[i]
		if lot.Frozen {
			in = lot.Mass - c.gone[i]
		}
		if in != c.takenOut[i]+c.kept[i] {
			c.add("freezer.balance", "lots", "lot %q: %d went into the freezer, %d came out and %d stayed", lot.ID, in, c.takenOut[i], c.kept[i])
		}
		if in <= 0 {
			continue
		}
		at := [2]int{c.siteIx[lot.Site], c.group[lot.Group]}
		if shelf[at] == 0 {
			c.add("freezer.none", "lots", "lot %q: its site has no drawer for its group", lot.ID)
		}
		if night[at] == nil {
			night[at] = make([]int64, p.Days)
		}
		left := in
		for d := lot.Arrive; d < p.Days; d++ {
			left -= c.takenOn[[2]int{i, d}]
			if d < p.Days-1 {
				night[at][d] += left
				c.value += left * p.Prices.Hold
			}
			if left < 0 {
				c.add("freezer.early", "feedings", "lot %q: more is taken out by day %d than was put in", lot.ID, d)
				break
			}
		}
	}
	for s := range p.Sites {
		for g := range p.Groups {
			at := [2]int{s, g}
			for d, held := range night[at] {
				if held > shelf[at] {
					c.add("freezer.full", fmt.Sprintf("sites[%d].drawers", s), "group %q: %d in the drawer after day %d; it holds %d", p.Groups[g].ID, held, d, shelf[at])
				}
			}
		}
	}
}

func (c *checker) lotBalance() {
	for i := range c.p.Lots {
		if sum := c.fed[i] + c.gone[i] + c.kept[i]; sum != c.p.Lots[i].Mass {
			c.add("lot.balance", fmt.Sprintf("lots[%d]", i), "fed %d + left over %d + frozen %d must make %d", c.fed[i], c.gone[i], c.kept[i], c.p.Lots[i].Mass)
		}
	}
}

// binLimits checks each bin's days, go-easy groups and weeks, and prices its
// crowding: the first units of a day are the cheap ones.
func (c *checker) binLimits() {
	p := c.p
	for b := range p.Bins {
		bin := &p.Bins[b]
		path := fmt.Sprintf("bins[%d]", b)
		for d := 0; d < p.Days; d++ {
			room, load := bin.Room[d], c.load[binDay{b, d}]
			if load > room {
				c.add("bin.room", path, "day %d: fed %d where there is room for %d", d, load, room)
			}
			for k, below := 0, int64(0); k < len(p.Load) && below < load; k++ {
				top := min(load, room*p.Load[k].UpToPct/100)
				c.value += max(0, top-below) * p.Load[k].Cost
				below = max(below, top)
			}
			for g := range p.Groups {
				got := c.ofGroup[binDayGroup{b, d, g}]
				if got == 0 {
					continue
				}
				if most := c.groupMost(bin, g, room); got > most {
					c.add("bin.go_easy", path, "day %d: %d of group %q; at most %d", d, got, p.Groups[g].ID, most)
				}
			}
		}
		for w, most := range bin.Weekly {
			if got := c.week[binDay{b, w}]; got > most {
				c.add("bin.week", path, "week %d: fed %d; at most %d", w, got, most)
			}
		}
	}
}

func (c *checker) groupMost(bin *Bin, g int, room int64) int64 {
	i := slices.IndexFunc(bin.Limits, func(m GroupMax) bool { return m.Group == c.p.Groups[g].ID })
	switch {
	case i < 0:
		return c.p.Groups[g].MaxPct * room / 100
	case bin.Limits[i].Units != nil:
		return *bin.Limits[i].Units
	default:
		return *bin.Limits[i].Pct * room / 100
	}
}

// bedding: by the end of each week no more food may have been fed than the
// bedding drawn up to then covers.
func (c *checker) bedding() {
	p := c.p
	use := make(map[[2]int]BeddingUse)
	for k, u := range c.r.Bedding {
		path := fmt.Sprintf("bedding[%d]", k)
		s, ok := c.siteIx[u.Site]
		if !ok || u.Week < 0 || u.Week >= p.Weeks() {
			c.add("id.unknown", path, "no such site and week: %q, %d", u.Site, u.Week)
			continue
		}
		at := [2]int{s, u.Week}
		if _, twice := use[at]; twice {
			c.add("bedding.twice", path, "site %q has week %d twice", u.Site, u.Week)
		}
		use[at] = u
		var standIn int64
		if len(p.Sites[s].StandIn) > 0 {
			standIn = p.Sites[s].StandIn[u.Week]
		}
		if u.Ready < 0 || u.Ready > p.Sites[s].Bedding[u.Week] || u.StandIn < 0 || u.StandIn > standIn {
			c.add("bedding.stock", path, "draws %d ripe and %d stand-in; there is %d and %d", u.Ready, u.StandIn, p.Sites[s].Bedding[u.Week], standIn)
		}
		c.value += u.StandIn * p.Prices.StandIn
	}
	for s := range p.Sites {
		var food, drawn int64
		for w := range p.Weeks() {
			u := use[[2]int{s, w}]
			if fed := c.food[[2]int{s, w}]; u.Food != fed {
				c.add("bedding.food", fmt.Sprintf("sites[%d]", s), "week %d: bedding for %d, fed %d", w, u.Food, fed)
			}
			food += c.food[[2]int{s, w}]
			drawn += u.Ready + u.StandIn
			if food > drawn {
				c.add("bedding.short", fmt.Sprintf("sites[%d]", s), "by the end of week %d: fed %d on bedding for %d", w, food, drawn)
			}
		}
		if food != drawn {
			c.add("bedding.balance", fmt.Sprintf("sites[%d]", s), "bedding drawn for %d, fed %d", drawn, food)
		}
	}
}

func (c *checker) totals() {
	var want Totals
	for i := range c.p.Lots {
		want.Supply += c.p.Lots[i].Mass
		want.Fed += c.fed[i]
		want.StillFrozen += c.kept[i]
		if c.p.Lots[i].Kind == OnHand {
			want.Overflow += c.gone[i]
		} else {
			want.Declined += c.gone[i]
		}
	}
	for _, u := range c.r.Bedding {
		want.StandIn += u.StandIn
	}
	if c.r.Totals != want {
		c.add("totals", "totals", "must be %+v; got %+v", want, c.r.Totals)
	}
	if c.r.Value != c.value {
		c.add("value", "value", "the plan costs %d; it says %d", c.value, c.r.Value)
	}
	if c.r.Bound > c.r.Value || c.r.Gap != c.r.Value-c.r.Bound {
		c.add("bound", "lower_bound", "must not exceed the value, and the gap is their difference; got bound %d, value %d, gap %d", c.r.Bound, c.r.Value, c.r.Gap)
	}
}

// visits counts the days on which each bin is fed, and prices them.
func (c *checker) visits() {
	if c.p.Prices.Visit == 0 {
		return
	}
	count := 0
	for _, load := range c.load {
		if load > 0 {
			count++
		}
	}
	c.value += int64(count) * c.p.Prices.Visit
	if c.r.Visits != count {
		c.add("visits", "visits", "must be %d, the bin-days with a feeding; got %d", count, c.r.Visits)
	}
}

// containers: what is fed, frozen or stays frozen is whole containers.
func (c *checker) containers() {
	whole := func(path, lot string, mass int64) {
		i, ok := c.lotIx[lot]
		if !ok {
			return // said elsewhere
		}
		g := &c.p.Groups[c.group[c.p.Lots[i].Group]]
		size := g.ContainerUnits
		if size == 0 {
			size = c.p.ContainerUnits
		}
		if size > 1 && mass%size != 0 {
			c.add("container.part", path, "must be whole containers of %d; got %d", size, mass)
		}
	}
	for k, f := range c.r.Feedings {
		whole(fmt.Sprintf("feedings[%d].mass_units", k), f.Lot, f.Mass)
	}
	for k, f := range c.r.Freezes {
		whole(fmt.Sprintf("freezings[%d].mass_units", k), f.Lot, f.Mass)
	}
	for k, f := range c.r.StillFrozen {
		whole(fmt.Sprintf("still_frozen[%d].mass_units", k), f.Lot, f.Mass)
	}
}
