package planner

import (
	"fmt"
	"math/rand/v2"
)

// bigGarden makes a problem like a large programme's: sites scattered over a
// town, keepers with weekly habits, six groups, mostly whole 2 kg pails.
func bigGarden(seed uint64, bins, lots, days, sites, nearest int, meanPails float64) *Problem {
	r := rand.New(rand.NewPCG(seed, 1))
	id := func(kind string, i int) string { return fmt.Sprintf("%s-%d", kind, i) }
	p := &Problem{Days: days, UnitG: 100, Nearest: nearest, FirstThaw: 1}
	p.Prices = Prices{Overflow: 1000, Decline: 1000, StillFrozen: 1000, Freeze: 2, Hold: 1, Thaw: 10, Carry: 20, StandIn: 15}
	p.Load = []Step{{60, 0}, {80, 5}, {90, 40}, {100, 120}}
	for g, pct := range []int64{100, 70, 40, 15, 10, 10} {
		p.Groups = append(p.Groups, Group{ID: id("group", g), MaxPct: pct})
	}
	side := 15 * isqrt(int64(sites)*10_000) // the town grows with its sites
	weeks := p.Weeks()
	eats := make([][]int64, sites)
	for s := range sites {
		at := Place{r.Int64N(side), r.Int64N(side)}
		site := Site{ID: id("site", s), Place: &at, Bedding: make([]int64, weeks)}
		for g := range p.Groups {
			site.Drawers = append(site.Drawers, Drawer{id("group", g), 100 + 50*r.Int64N(4)})
		}
		p.Sites = append(p.Sites, site)
		eats[s] = make([]int64, weeks)
	}
	near := func(s int, spread float64) *Place {
		at := p.Sites[s].Place
		return &Place{at.XM + int64(r.NormFloat64()*spread), at.YM + int64(r.NormFloat64()*spread)}
	}
	habits := [][]int{{0, 2, 4}, {1, 3, 5}, {0, 3}, {1, 4}, {2, 5, 6}, {0, 2, 4, 6}}
	for b := range bins {
		s := b % sites
		bin := Bin{ID: id("bin", b), Site: id("site", s), Place: near(s, 150), Room: make([]int64, days), Weekly: make([]int64, weeks)}
		rate := 20 + r.Int64N(60)
		there := make([]bool, days)
		for _, q := range habits[r.IntN(len(habits))] {
			for d := q; d < days; d += 7 {
				there[d] = r.IntN(20) > 0
			}
		}
		for d := range days {
			bin.Weekly[d/7] += rate * 9 / 10
			if there[d] {
				gap := int64(1)
				for d+int(gap) < days && !there[d+int(gap)] && gap < 4 {
					gap++
				}
				bin.Room[d] = rate * 95 / 100 * gap
			}
		}
		for w, m := range bin.Weekly {
			eats[s][w] += m
		}
		never := int64(0)
		for g := 3; g < 6; g++ {
			if r.IntN(4) == 0 {
				bin.Limits = append(bin.Limits, GroupMax{Group: id("group", g), Pct: &never})
			}
		}
		p.Bins = append(p.Bins, bin)
	}
	for s := range p.Sites {
		for w := range weeks {
			p.Sites[s].Bedding[w] = eats[s][w] * (80 + r.Int64N(30)) / 100
		}
	}
	keeps := []int{5, 4, 9, 4, 8, 9}
	for i := range lots {
		s, g := r.IntN(sites), 0
		for u, share := r.IntN(100), []int{42, 66, 82, 90, 95, 100}; share[g] <= u; g++ {
		}
		pails := min(60, 1+int64(r.ExpFloat64()*(meanPails-1)+0.5))
		arrive := r.IntN(days)
		p.Lots = append(p.Lots, Lot{ID: id("lot", i), Site: id("site", s), Group: id("group", g), Kind: OnHand, Mass: pails * 20,
			Arrive: arrive, Latest: min(days-1, arrive+1+r.IntN(keeps[g])), Freezable: g != 2 && r.IntN(5) < 3, Place: near(s, 400)})
	}
	return p
}

// smallGarden makes a small problem with every feature, awkward on purpose:
// short weeks, closed bins, banned groups, tiny capacities, frozen stock, past
// use lots, ties.
func smallGarden(r *rand.Rand, maxBins, maxLots, maxDays int) *Problem {
	pick := func(xs ...int64) int64 { return xs[r.IntN(len(xs))] }
	days := 1 + r.IntN(maxDays)
	p := &Problem{Days: days, UnitG: pick(1, 100, 500), Nearest: r.IntN(4), ThawDays: r.IntN(2), FirstThaw: r.IntN(3)}
	p.Prices = Prices{Overflow: pick(50, 1000, 100_000), Decline: pick(20, 1000), StillFrozen: pick(0, 30, 1000), Freeze: pick(0, 2),
		Hold: pick(0, 1, 3), Thaw: pick(0, 10), Carry: pick(0, 20, 500), StandIn: pick(0, 15, 200)}
	p.Load = []Step{{60, 0}, {80, pick(0, 5)}, {90, 40}, {100, pick(40, 120, 2000)}}
	if r.IntN(4) == 0 {
		p.Load = []Step{{100, pick(0, 7)}}
	}
	weeks := p.Weeks()
	groups, sites := 1+r.IntN(3), 1+r.IntN(2)
	some := func() *Place { return &Place{r.Int64N(3000), r.Int64N(3000)} }
	for g := range groups {
		p.Groups = append(p.Groups, Group{ID: fmt.Sprintf("g%d", g), MaxPct: pick(100, 60, 25, 0)})
	}
	for s := range sites {
		site := Site{ID: fmt.Sprintf("s%d", s), Place: some()}
		for g := range groups {
			if r.IntN(3) > 0 {
				site.Drawers = append(site.Drawers, Drawer{p.Groups[g].ID, pick(0, 3, 20, 100)})
			}
		}
		for range weeks {
			site.Bedding = append(site.Bedding, pick(0, 10, 60, 200))
		}
		if r.IntN(2) == 0 {
			for range weeks {
				site.StandIn = append(site.StandIn, pick(0, 5, 100))
			}
		}
		p.Sites = append(p.Sites, site)
	}
	for b := range r.IntN(maxBins + 1) {
		bin := Bin{ID: fmt.Sprintf("b%d", b), Site: p.Sites[r.IntN(sites)].ID}
		if r.IntN(3) > 0 {
			bin.Place = some()
		}
		for range days {
			bin.Room = append(bin.Room, pick(0, 0, 1, 17, 40, 90))
		}
		for range weeks {
			bin.Weekly = append(bin.Weekly, pick(0, 25, 80, 150))
		}
		for g := range groups {
			switch x := pick(0, 1, 10, 50, 100); r.IntN(4) {
			case 0:
				bin.Limits = append(bin.Limits, GroupMax{Group: p.Groups[g].ID, Pct: &x})
			case 1:
				bin.Limits = append(bin.Limits, GroupMax{Group: p.Groups[g].ID, Units: &x})
			}
		}
		p.Bins = append(p.Bins, bin)
	}
	for i := range r.IntN(maxLots + 1) {
		l := Lot{ID: fmt.Sprintf("l%d", i), Site: p.Sites[r.IntN(sites)].ID, Group: p.Groups[r.IntN(groups)].ID,
			Kind: []Kind{OnHand, Pledge, Expected}[r.IntN(3)], Mass: pick(0, 1, 13, 40, 90, 300), Arrive: r.IntN(days), Freezable: r.IntN(2) == 0}
		l.Latest = l.Arrive - 1 + r.IntN(6)
		if r.IntN(8) == 0 {
			l.Frozen, l.Arrive, l.Kind = true, 0, OnHand
		}
		if r.IntN(3) > 0 {
			l.Place = some()
		}
		if r.IntN(4) == 0 {
			for b := range p.Bins {
				if r.IntN(2) == 0 {
					l.Carry = append(l.Carry, BinCost{p.Bins[b].ID, pick(0, 3, 40)})
				}
			}
		}
		p.Lots = append(p.Lots, l)
	}
	return p
}

// refineGarden gives a garden a price on visits, whole containers, or both, and
// says which.
func refineGarden(r *rand.Rand, p *Problem) string {
	pick := func(xs ...int64) int64 { return xs[r.IntN(len(xs))] }
	kind := []string{"visits", "containers", "both", "mixed"}[r.IntN(4)]
	if kind != "containers" {
		p.Prices.Visit = pick(1, 40, 600, 9000, 200_000)
	}
	if kind != "visits" {
		p.ContainerUnits = pick(2, 5, 10, 30)
	}
	if kind == "mixed" {
		for g := range p.Groups {
			p.Groups[g].ContainerUnits = pick(0, 1, 3, 5)
		}
	}
	return kind
}
