package planner

import "fmt"

// Check judges any plan against its Problem without the network that made it:
// every day, week, drawer and gram is added up again, and the value with them.
// It returns what is wrong; nothing means the plan can be carried out and costs
// what it says. The Problem must be valid.
func Check(p *Problem, r *Result) []Fault {
	c := newChecker(p, r)
	c.feedings()
	c.freezings()
	c.leftOver()
	c.freezers()
	c.lotBalance()
	c.binLimits()
	c.bedding()
	c.visits()
	c.containers()
	c.totals()
	return c.faults
}

type binDay struct{ bin, day int }
type binDayGroup struct{ bin, day, group int }

type checker struct {
	p      *Problem
	r      *Result
	faults []Fault
	lotIx  map[string]int
	binIx  map[string]int
	siteIx map[string]int
	group  map[string]int

	fed, frozenIn, takenOut, gone, kept []int64 // per lot
	takenOn                             map[[2]int]int64
	load                                map[binDay]int64
	ofGroup                             map[binDayGroup]int64
	week                                map[binDay]int64 // day holds the week
	food                                map[[2]int]int64 // site, week
	value                               int64
}

func newChecker(p *Problem, r *Result) *checker {
	c := &checker{p: p, r: r,
		lotIx: make(map[string]int), binIx: make(map[string]int), siteIx: make(map[string]int), group: make(map[string]int),
		takenOn: make(map[[2]int]int64), load: make(map[binDay]int64), ofGroup: make(map[binDayGroup]int64),
		week: make(map[binDay]int64), food: make(map[[2]int]int64)}
	for i := range p.Lots {
		c.lotIx[p.Lots[i].ID] = i
	}
	for i := range p.Bins {
		c.binIx[p.Bins[i].ID] = i
	}
	for i := range p.Sites {
		c.siteIx[p.Sites[i].ID] = i
	}
	for i := range p.Groups {
		c.group[p.Groups[i].ID] = i
	}
	n := len(p.Lots)
	c.fed, c.frozenIn, c.takenOut, c.gone, c.kept = make([]int64, n), make([]int64, n), make([]int64, n), make([]int64, n), make([]int64, n)
	return c
}

func (c *checker) add(rule, path, format string, args ...any) {
	c.faults = append(c.faults, Fault{Path: path, Rule: rule, Message: fmt.Sprintf(format, args...)})
}

// lot finds a lot by its id and refuses masses that are not positive.
func (c *checker) lot(path, id string, mass int64) (int, bool) {
	i, ok := c.lotIx[id]
	if !ok {
		c.add("id.unknown", path+".lot", "no such lot: %q", id)
		return 0, false
	}
	if mass <= 0 || mass > MaxUnits {
		c.add("mass.range", path+".mass_units", "must be between 1 and %d; got %d", MaxUnits, mass)
		return 0, false
	}
	return i, true
}

func (c *checker) feedings() {
	for k := range c.r.Feedings {
		f := &c.r.Feedings[k]
		path := fmt.Sprintf("feedings[%d]", k)
		i, ok := c.lot(path, f.Lot, f.Mass)
		if !ok {
			continue
		}
		b, ok := c.binIx[f.Bin]
		if !ok {
			c.add("id.unknown", path+".bin", "no such bin: %q", f.Bin)
			continue
		}
		if f.Day < 0 || f.Day >= c.p.Days {
			c.add("day.outside", path+".day", "must lie inside the plan; got %d", f.Day)
			continue
		}
		c.fed[i] += f.Mass
		lot := &c.p.Lots[i]
		if f.TakenOut == nil {
			c.fresh(path, lot, b, f)
		} else {
			c.thawed(path, lot, i, b, f)
		}
		g := c.group[lot.Group]
		c.load[binDay{b, f.Day}] += f.Mass
		c.ofGroup[binDayGroup{b, f.Day, g}] += f.Mass
		c.week[binDay{b, f.Day / 7}] += f.Mass
		c.food[[2]int{c.siteIx[c.p.Bins[b].Site], f.Day / 7}] += f.Mass
	}
}

func (c *checker) fresh(path string, lot *Lot, b int, f *Feeding) {
	if lot.Frozen {
		c.add("feeding.frozen", path, "the lot is frozen and must be taken out first")
	}
	if f.Day < lot.Arrive || f.Day > lot.Latest {
		c.add("feeding.window", path+".day", "must be between day %d and day %d; got %d", lot.Arrive, lot.Latest, f.Day)
	}
	cost, ok := carryCost(c.p, lot, b, c.siteIx)
	if !ok {
		c.add("feeding.too_far", path+".bin", "is not among the bins this lot can reach")
	}
	c.value += cost * f.Mass
}

func (c *checker) thawed(path string, lot *Lot, i, b int, f *Feeding) {
	out := *f.TakenOut
	if c.p.Bins[b].Site != lot.Site {
		c.add("feeding.other_freezer", path+".bin", "thawed food stays at its site")
	}
	if out < lot.Arrive || out+c.p.ThawDays != f.Day || f.Day < c.p.FirstThaw {
		c.add("feeding.thaw", path+".taken_out_day", "must be %d days before the feeding, no sooner than it was frozen; got day %d for day %d", c.p.ThawDays, out, f.Day)
		return
	}
	c.takenOut[i] += f.Mass
	c.takenOn[[2]int{i, out}] += f.Mass
	c.value += c.p.Prices.Thaw * f.Mass
}

// carryCost prices a lot's way to a bin; false when the bin is out of its reach.
func carryCost(p *Problem, lot *Lot, b int, siteIx map[string]int) (int64, bool) {
	if len(lot.Carry) > 0 {
		for _, c := range lot.Carry {
			if c.Bin == p.Bins[b].ID {
				return c.Cost, true
			}
		}
		return 0, false
	}
	home := lot.Place
	if home == nil {
		home = p.Sites[siteIx[lot.Site]].Place
	}
	square := func(k int) int64 {
		at := p.Bins[k].Place
		if at == nil {
			at = p.Sites[siteIx[p.Bins[k].Site]].Place
		}
		return (at.XM-home.XM)*(at.XM-home.XM) + (at.YM-home.YM)*(at.YM-home.YM)
	}
	mine, nearer := square(b), 0
	for k := range p.Bins {
		if square(k) < mine {
			nearer++
		}
	}
	if p.Nearest > 0 && nearer >= p.Nearest {
		return 0, false
	}
	metres := int64(0) // the largest whole number whose square is no more
	for step := int64(1) << 31; step > 0; step /= 2 {
		if s := metres + step; s <= 3_037_000_499 && s*s <= mine {
			metres = s
		}
	}
	km, rest := metres/1000, metres%1000
	return km*p.Prices.Carry + rest*(p.Prices.Carry/1000) + rest*(p.Prices.Carry%1000)/1000, true
}

func (c *checker) freezings() {
	for k := range c.r.Freezes {
		f := &c.r.Freezes[k]
		path := fmt.Sprintf("freezings[%d]", k)
		i, ok := c.lot(path, f.Lot, f.Mass)
		if !ok {
			continue
		}
		lot := &c.p.Lots[i]
		if !lot.Freezable || lot.Frozen || lot.Latest < lot.Arrive {
			c.add("freezing.not_allowed", path+".lot", "this lot can't be frozen")
		}
		if f.Day != lot.Arrive || f.Site != lot.Site {
			c.add("freezing.where", path, "must be at site %q on day %d", lot.Site, lot.Arrive)
		}
		c.frozenIn[i] += f.Mass
		c.value += c.p.Prices.Freeze * f.Mass
	}
}

func (c *checker) leftOver() {
	for k := range c.r.LeftOver {
		f := &c.r.LeftOver[k]
		path := fmt.Sprintf("left_over[%d]", k)
		if i, ok := c.lot(path, f.Lot, f.Mass); ok {
			declined := c.p.Lots[i].Kind != OnHand
			if f.Declined != declined {
				c.add("left_over.kind", path+".declined", "must be %t for this lot", declined)
			}
			price := c.p.Prices.Overflow
			if declined {
				price = c.p.Prices.Decline
			}
			c.gone[i] += f.Mass
			c.value += price * f.Mass
		}
	}
	for k := range c.r.StillFrozen {
		f := &c.r.StillFrozen[k]
		if i, ok := c.lot(fmt.Sprintf("still_frozen[%d]", k), f.Lot, f.Mass); ok {
			c.kept[i] += f.Mass
			c.value += c.p.Prices.StillFrozen * f.Mass
		}
	}
}
