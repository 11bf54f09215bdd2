package planner

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// linear is a problem as a list of inequalities, written down from the Problem
// alone: no network, sums over days where the network has chains. Outside
// solvers get this.
type linear struct {
	cost, upper []int64 // upper < 0 = none
	rows        []linearRow
	byName      map[string]int
}

type linearRow struct {
	terms map[int]int64
	equal bool // else at most
	rhs   int64
}

func (m *linear) variable(name string, cost, upper int64) int {
	if v, ok := m.byName[name]; ok {
		return v
	}
	m.byName[name] = len(m.cost)
	m.cost, m.upper = append(m.cost, cost), append(m.upper, upper)
	return len(m.cost) - 1
}

func (m *linear) row(terms map[int]int64, equal bool, rhs int64) {
	if len(terms) > 0 {
		m.rows = append(m.rows, linearRow{terms, equal, rhs})
	}
}

func formulate(p *Problem) *linear {
	m := &linear{byName: map[string]int{}}
	siteIx := map[string]int{}
	for s := range p.Sites {
		siteIx[p.Sites[s].ID] = s
	}
	siteOf := func(b int) int { return siteIx[p.Bins[b].Site] }
	shelf := map[string]int64{}
	for _, s := range p.Sites {
		for _, d := range s.Drawers {
			shelf[s.ID+"/"+d.Group] = d.Capacity
		}
	}
	into := map[string]map[int]int64{} // bin, day, group -> what is fed
	feeds := func(b, d int, g string) map[int]int64 {
		key := fmt.Sprint(b, "/", d, "/", g)
		if into[key] == nil {
			into[key] = map[int]int64{}
		}
		return into[key]
	}
	stock := map[string]map[int]int64{} // site, group, day -> drawer balance
	drawer := func(s, g string, d int) map[int]int64 {
		key := fmt.Sprint(s, "/", g, "/", d)
		if stock[key] == nil {
			stock[key] = map[int]int64{}
		}
		return stock[key]
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		price := p.Prices.Overflow
		if l.Kind != OnHand {
			price = p.Prices.Decline
		}
		balance := map[int]int64{m.variable(fmt.Sprint("left", i), price, -1): 1}
		if shelf[l.Site+"/"+l.Group] > 0 && (l.Frozen || l.Freezable && l.Latest >= l.Arrive) {
			cost := p.Prices.Freeze
			if l.Frozen {
				cost = 0
			}
			v := m.variable(fmt.Sprint("freeze", i), cost, -1)
			balance[v] = 1
			drawer(l.Site, l.Group, l.Arrive)[v] = 1
		}
		for b := range p.Bins {
			carry, ok := carryCostPlain(p, l, b, siteIx)
			for d := l.Arrive; ok && !l.Frozen && d <= l.Latest && d < p.Days; d++ {
				v := m.variable(fmt.Sprint("feed", i, "/", b, "/", d), carry, -1)
				balance[v] = 1
				feeds(b, d, l.Group)[v] = 1
			}
		}
		m.row(balance, true, l.Mass)
	}
	for s := range p.Sites {
		for _, g := range p.Groups {
			most := shelf[p.Sites[s].ID+"/"+g.ID]
			if most == 0 {
				continue
			}
			for d := range p.Days {
				row := drawer(p.Sites[s].ID, g.ID, d)
				cost, cap := p.Prices.Hold, most
				if d == p.Days-1 {
					cost, cap = p.Prices.StillFrozen, -1
				}
				keep := m.variable(fmt.Sprint("keep", s, "/", g.ID, "/", d), cost, cap)
				row[keep] = -1
				if d < p.Days-1 {
					drawer(p.Sites[s].ID, g.ID, d+1)[keep] = 1
				}
				fed := d + p.ThawDays
				for b := range p.Bins {
					if siteOf(b) == s && fed >= p.FirstThaw && fed < p.Days {
						v := m.variable(fmt.Sprint("thaw", d, "/", b, "/", g.ID), p.Prices.Thaw, -1)
						row[v] = -1
						feeds(b, fed, g.ID)[v] = 1
					}
				}
				m.row(row, true, 0)
			}
		}
	}
	m.bins(p, feeds)
	for s := range p.Sites {
		cumulated, ready := map[int]int64{}, int64(0)
		for w := range p.Weeks() {
			for b := range p.Bins {
				for d := w * 7; siteOf(b) == s && d < min(p.Days, w*7+7); d++ {
					for k := range p.Load {
						cumulated[m.byName[fmt.Sprint("load", b, "/", d, "/", k)]] = 1
					}
				}
			}
			ready += p.Sites[s].Bedding[w]
			if len(p.Sites[s].StandIn) > 0 {
				cumulated[m.variable(fmt.Sprint("standin", s, "/", w), p.Prices.StandIn, p.Sites[s].StandIn[w])] = -1
			}
			upToNow := map[int]int64{}
			for v, c := range cumulated {
				upToNow[v] = c
			}
			m.row(upToNow, false, ready)
		}
	}
	return m
}

func (m *linear) bins(p *Problem, feeds func(int, int, string) map[int]int64) {
	for b := range p.Bins {
		bin := &p.Bins[b]
		for w := range p.Weeks() {
			week := map[int]int64{}
			for d := w * 7; d < min(p.Days, w*7+7); d++ {
				day, below := map[int]int64{}, int64(0)
				for k, st := range p.Load {
					upTo := bin.Room[d] * st.UpToPct / 100
					v := m.variable(fmt.Sprint("load", b, "/", d, "/", k), st.Cost, upTo-below)
					below = upTo
					day[v], week[v] = -1, 1
				}
				for _, g := range p.Groups {
					most := bin.Room[d] * g.MaxPct / 100
					for _, l := range bin.Limits {
						if l.Group == g.ID && l.Units != nil {
							most = *l.Units
						} else if l.Group == g.ID {
							most = bin.Room[d] * *l.Pct / 100
						}
					}
					fed := feeds(b, d, g.ID)
					for v := range fed {
						day[v] = 1
					}
					m.row(fed, false, most)
				}
				m.row(day, true, 0)
			}
			m.row(week, false, bin.Weekly[w])
		}
	}
}

// carryCostPlain prices a carry by sorting all distances.
func carryCostPlain(p *Problem, l *Lot, b int, siteIx map[string]int) (int64, bool) {
	for _, c := range l.Carry {
		if c.Bin == p.Bins[b].ID {
			return c.Cost, true
		}
	}
	if len(l.Carry) > 0 {
		return 0, false
	}
	at := func(own *Place, site string) *Place {
		if own != nil {
			return own
		}
		return p.Sites[siteIx[site]].Place
	}
	home := at(l.Place, l.Site)
	far := make([]float64, len(p.Bins))
	for k := range p.Bins {
		to := at(p.Bins[k].Place, p.Bins[k].Site)
		far[k] = math.Hypot(float64(to.XM-home.XM), float64(to.YM-home.YM))
	}
	sorted := append([]float64(nil), far...)
	sort.Float64s(sorted)
	if k := p.Nearest; k > 0 && k < len(sorted) && far[b] > sorted[k-1] {
		return 0, false
	}
	return int64(math.Floor(far[b])) * p.Prices.Carry / 1000, true
}

// cplexLP writes the inequalities in the CPLEX LP text form.
func (m *linear) cplexLP() string {
	var b strings.Builder
	term := func(n *int, c int64, v int) {
		if *n++; *n%8 == 0 {
			b.WriteString("\n ")
		}
		if c < 0 {
			fmt.Fprintf(&b, " - %d x%d", -c, v)
		} else {
			fmt.Fprintf(&b, " + %d x%d", c, v)
		}
	}
	b.WriteString("Minimize\n cost:")
	n := 0
	for v, c := range m.cost {
		term(&n, c, v)
	}
	b.WriteString("\nSubject To\n")
	for i, r := range m.rows {
		fmt.Fprintf(&b, " r%d:", i)
		vars := make([]int, 0, len(r.terms))
		for v := range r.terms {
			vars = append(vars, v)
		}
		sort.Ints(vars)
		n := 0
		for _, v := range vars {
			term(&n, r.terms[v], v)
		}
		sense := "<="
		if r.equal {
			sense = "="
		}
		fmt.Fprintf(&b, " %s %d\n", sense, r.rhs)
	}
	b.WriteString("Bounds\n")
	for v, u := range m.upper {
		if u >= 0 {
			fmt.Fprintf(&b, " 0 <= x%d <= %d\n", v, u)
		}
	}
	b.WriteString("End\n")
	return b.String()
}
