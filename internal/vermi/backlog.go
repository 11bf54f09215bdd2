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
	taste    float64
	spoils   pace
}

func newPool(on Day, material string, group farm.Group, fed, left float64) pool {
	return pool{on: on, material: material, group: group, fed: fed, left: left, taste: taste(group), spoils: paceOf(group)}
}

// pace is how fast food spoils beside other food.
type pace uint8

const (
	spoilsSlowly pace = iota
	spoilsUsually
	spoilsFast
	paces
)

func paceOf(g farm.Group) pace {
	switch g {
	case farm.Citrus, farm.OnionFamily, farm.SaltyOily:
		return spoilsSlowly
	case farm.VeryWet:
		return spoilsFast
	}
	return spoilsUsually
}

// rot is the share of each pace of food that a day's decay takes. It is the
// same for every bin and every rate that is tried, so it is worked out once a day.
type rot [paces]float64

func rotAt(tempC float64) rot {
	var r rot
	for i := range r {
		r[i] = 1 - math.Exp(-paceDecay(pace(i), tempC))
	}
	return r
}

// decayPerDay is the first-order decay of uneaten food by microbes at 20 °C,
// 1/day: soft food loses half in about three weeks, peel and onion in five
// (chosen here, no source); it doubles every 10 °C (common rule of thumb, Q10
// = 2) and stops at freezing.
func decayPerDay(g farm.Group, tempC float64) float64 { return paceDecay(paceOf(g), tempC) }

func paceDecay(p pace, tempC float64) float64 {
	if tempC <= 0 {
		return 0
	}
	k := [paces]float64{0.02, 0.03, 0.04}[p]
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
	return l.eatOn(appetiteG, rotAt(tempC))
}

// eatOn is eat on a day whose decay is known.
func (l *larder) eatOn(appetiteG float64, rot rot) (eaten, decayed float64) {
	// Two rounds share out what a finished pool could not give.
	for round := 0; round < 3 && eaten < appetiteG-1e-9; round++ {
		var sum float64
		for i := range l.pools {
			sum += l.pools[i].left * l.pools[i].taste
		}
		if sum <= 0 {
			break
		}
		want := appetiteG - eaten
		for i := range l.pools {
			p := &l.pools[i]
			bite := min(p.left, want*p.left*p.taste/sum)
			p.left -= bite
			eaten += bite
		}
	}
	kept := 0
	for i := range l.pools {
		p := &l.pools[i]
		lost := p.left * rot[p.spoils]
		p.left -= lost
		decayed += lost
		if p.left < crumb {
			decayed += p.left
			continue
		}
		if kept != i {
			l.pools[kept] = *p
		}
		kept++
	}
	l.pools = l.pools[:kept]
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
		l.pools = append(l.pools, newPool(f.On, food.Material, r.groupOf(food.Material), float64(food.Grams), float64(food.Grams)))
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

// found is what a check said of the last feeding before it, by material. It
// is the same for every rate that is tried.
type found struct {
	on     Day
	pools  []pool // one a material, by key: fed is all of it, left what the look says
	spoken bool   // false: the check said nothing of any feeding
}

// lookBack works out what a check says of the last feeding. Ticked materials
// alone carry what was left when any were ticked.
func (r *Record) lookBack(last Feeding, c Check) found {
	share := c.Left.Fraction()
	ticked := map[string]bool{}
	for _, k := range c.LeftOf {
		ticked[k] = true
	}
	var fed, of float64
	totals, left := map[string]float64{}, map[string]float64{}
	for _, f := range last.Food {
		fed += float64(f.Grams)
		totals[f.Material] += float64(f.Grams)
		if len(ticked) == 0 || ticked[f.Material] {
			of += float64(f.Grams)
		}
	}
	if fed <= 0 || of <= 0 {
		return found{}
	}
	for _, f := range last.Food {
		if len(ticked) == 0 || ticked[f.Material] {
			left[f.Material] += share * fed * float64(f.Grams) / of
		}
	}
	out := found{on: last.On, spoken: true}
	for _, key := range sortedKeys(totals) {
		out.pools = append(out.pools, newPool(last.On, key, r.groupOf(key), totals[key], left[key]))
	}
	return out
}

// anchor moves the last feeding's pools toward what a check found left of it.
// Older pools move by the same share when less was found than believed, as
// nobody digs them out apart.
func (l *larder) anchor(f *found, weight float64) {
	if !f.spoken {
		return
	}
	var few [8]float64
	believed := few[:0]
	for range f.pools {
		believed = append(believed, 0)
	}
	var before, after float64
	kept := l.pools[:0]
	for _, p := range l.pools {
		if p.on != f.on {
			kept = append(kept, p)
			continue
		}
		before += p.left
		for i := range f.pools {
			if f.pools[i].material == p.material {
				believed[i] += p.left
				break
			}
		}
	}
	older := len(kept)
	for i, p := range f.pools {
		p.left = min(p.fed, (1-weight)*believed[i]+weight*p.left)
		after += p.left
		if p.left >= crumb {
			kept = append(kept, p)
		}
	}
	if before > 0 && after < before {
		for i := range kept[:older] {
			kept[i].left *= after / before
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
