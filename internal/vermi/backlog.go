package vermi

import (
	"math"
	"sort"

	"midden/internal/farm"
)

// pool is one material of one feeding that is not yet eaten, in grams as fed.
type pool struct {
	on       Day
	material string
	group    farm.Group
	fed      float64
	left     float64
}

// decayPerDay is the first-order decay of uneaten food by microbes at 20 °C,
// 1/day: soft food loses half in about three weeks, peel and onion in five
// (chosen here, no source); it doubles every 10 °C (common rule of thumb, Q10
// = 2) and stops at freezing.
func decayPerDay(g farm.Group, tempC float64) float64 {
	if tempC <= 0 {
		return 0
	}
	k := 0.03
	switch g {
	case farm.Citrus, farm.OnionFamily, farm.SaltyOily:
		k = 0.02
	case farm.VeryWet:
		k = 0.04
	}
	return k * math.Pow(2, (min(tempC, 40)-20)/10)
}

// taste is how readily worms take to a group beside plain food (chosen here,
// no source; that citrus and onion are left longest is common practice).
func taste(g farm.Group) float64 {
	switch g {
	case farm.Citrus, farm.SaltyOily:
		return 0.3
	case farm.OnionFamily:
		return 0.4
	case farm.Coffee, farm.BreadGrain:
		return 0.8
	}
	return 1
}

// larder is all uneaten food of a bin.
type larder struct{ pools []pool }

const crumb = 0.5 // grams below which a pool counts as gone

// eat takes a day's uptake in grams out, shared by mass and taste, then lets
// the rest decay. It returns what was eaten and what decayed.
func (l *larder) eat(appetiteG, tempC float64) (eaten, decayed float64) {
	// Two rounds share out what a finished pool could not give.
	for round := 0; round < 3 && eaten < appetiteG-1e-9; round++ {
		var sum float64
		for _, p := range l.pools {
			sum += p.left * taste(p.group)
		}
		if sum <= 0 {
			break
		}
		want := appetiteG - eaten
		for i := range l.pools {
			p := &l.pools[i]
			bite := min(p.left, want*p.left*taste(p.group)/sum)
			p.left -= bite
			eaten += bite
		}
	}
	kept := l.pools[:0]
	for _, p := range l.pools {
		lost := p.left * (1 - math.Exp(-decayPerDay(p.group, tempC)))
		p.left -= lost
		decayed += lost
		if p.left >= crumb {
			kept = append(kept, p)
		} else {
			decayed += p.left
		}
	}
	l.pools = kept
	return eaten, decayed
}

func (l *larder) total() float64 {
	var g float64
	for _, p := range l.pools {
		g += p.left
	}
	return g
}

func (l *larder) clone() larder { return larder{append([]pool(nil), l.pools...)} }

func (l *larder) add(r *Record, f Feeding) {
	for _, food := range f.Food {
		if food.Grams <= 0 {
			continue
		}
		l.pools = append(l.pools, pool{on: f.On, material: food.Material, group: r.material(food.Material).Group,
			fed: float64(food.Grams), left: float64(food.Grams)})
	}
}

func (l *larder) takeOut(grams float64) {
	total := l.total()
	if total <= 0 {
		return
	}
	keep := clamp(1-grams/total, 0, 1)
	for i := range l.pools {
		l.pools[i].left *= keep
	}
}

// anchor moves the last feeding's pools toward what a check found left of it;
// ticked materials alone carry it when any were ticked. Older pools move by
// the same share when less was found than believed, as nobody digs them out
// apart.
func (l *larder) anchor(r *Record, last Feeding, c Check, weight float64) {
	seen := c.Left.Fraction()
	ticked := map[string]bool{}
	for _, k := range c.LeftOf {
		ticked[k] = true
	}
	var fed, of float64
	var foods []Food
	for _, f := range last.Food {
		fed += float64(f.Grams)
		if len(ticked) == 0 || ticked[f.Material] {
			of += float64(f.Grams)
			foods = append(foods, f)
		}
	}
	if fed <= 0 || of <= 0 {
		return
	}
	var before, after float64
	kept := l.pools[:0:0]
	for _, p := range l.pools {
		if p.on != last.On {
			kept = append(kept, p)
			continue
		}
		before += p.left
	}
	believed := map[string]float64{}
	for _, p := range l.pools {
		if p.on == last.On {
			believed[p.material] += p.left
		}
	}
	found := map[string]float64{}
	for _, f := range foods {
		found[f.Material] += seen * fed * float64(f.Grams) / of
	}
	totals := map[string]float64{}
	for _, f := range last.Food {
		totals[f.Material] += float64(f.Grams)
	}
	for _, key := range sortedKeys(totals) {
		left := min(totals[key], (1-weight)*believed[key]+weight*found[key])
		after += left
		if left >= crumb {
			kept = append(kept, pool{on: last.On, material: key, group: r.material(key).Group, fed: totals[key], left: left})
		}
	}
	if before > 0 && after < before {
		for i := range kept {
			if kept[i].on != last.On {
				kept[i].left *= after / before
			}
		}
	}
	l.pools = kept
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// Backlog is what lies uneaten in a bin.
type Backlog struct {
	TotalG      float64           // likely
	Total       Estimated         // with its interval
	ByGroup     []GroupBacklog    // groups with food left, in farm.Groups order
	ByMaterial  []MaterialBacklog // by key
	DaysToClear int               // until a twentieth is left, nothing added
	Clears      bool              // false when it does not within clearLimit days
}

// GroupBacklog is uneaten food of one go-easy group.
type GroupBacklog struct {
	Group farm.Group
	Grams float64
}

// MaterialBacklog is uneaten food of one material.
type MaterialBacklog struct {
	Material string
	Grams    float64
}

const clearLimit = 120

// summary sums a larder up and runs it down with nothing added.
func (l *larder) summary(dailyG, tempC float64) Backlog {
	b := Backlog{TotalG: l.total(), Clears: true}
	groups, mats := map[farm.Group]float64{}, map[string]float64{}
	for _, p := range l.pools {
		groups[p.group] += p.left
		mats[p.material] += p.left
	}
	for _, g := range farm.Groups {
		if groups[g] > 0 {
			b.ByGroup = append(b.ByGroup, GroupBacklog{g, groups[g]})
		}
	}
	for _, k := range sortedKeys(mats) {
		b.ByMaterial = append(b.ByMaterial, MaterialBacklog{k, mats[k]})
	}
	run := l.clone()
	for run.total() > b.TotalG/20 {
		if b.DaysToClear == clearLimit {
			b.Clears = false
			break
		}
		run.eat(dailyG, tempC)
		b.DaysToClear++
	}
	return b
}
