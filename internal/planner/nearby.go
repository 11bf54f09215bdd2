package planner

import "math/bits"

// reach is a bin a lot can be carried to and the cost of a unit of it.
type reach struct {
	bin  int32
	cost int64
	sq   int64 // squared distance in square metres
}

// nearby finds the bins a lot considers. Bins as near as the last one taken are
// taken too: a tie is never broken by the order of the list.
type nearby struct {
	n    *network
	at   []Place
	list []reach
}

func newNearby(n *network) *nearby {
	p := n.p
	f := &nearby{n: n, at: make([]Place, len(p.Bins))}
	for b := range p.Bins {
		if at := p.placeOf(p.Bins[b].Place, int(n.siteOf[b])); at != nil {
			f.at[b] = *at
		}
	}
	return f
}

func (p *Problem) placeOf(own *Place, site int) *Place {
	if own != nil {
		return own
	}
	return p.Sites[site].Place
}

// of lists the bins lot i may go to. The list is good until the next call.
func (f *nearby) of(i int) []reach {
	p := f.n.p
	l := &p.Lots[i]
	f.list = f.list[:0]
	if len(l.Carry) > 0 {
		for _, c := range l.Carry {
			f.list = append(f.list, reach{bin: int32(f.n.binIx[c.Bin]), cost: c.Cost})
		}
		return f.list
	}
	from := p.placeOf(l.Place, int(f.n.lotSite[i]))
	if from == nil {
		return nil // no bins at all, or Validate would have refused
	}
	k := p.Nearest
	if k == 0 {
		k = len(f.at)
	}
	for b := range f.at {
		dx, dy := f.at[b].XM-from.XM, f.at[b].YM-from.YM
		r := reach{bin: int32(b), sq: dx*dx + dy*dy}
		if len(f.list) >= k && r.sq > f.list[k-1].sq {
			continue
		}
		f.list = append(f.list, r)
		j := len(f.list) - 1
		for ; j > 0 && f.list[j-1].sq > r.sq; j-- {
			f.list[j] = f.list[j-1]
		}
		f.list[j] = r
		for m := len(f.list); m > k && f.list[m-1].sq > f.list[k-1].sq; m = len(f.list) {
			f.list = f.list[:m-1]
		}
	}
	for j := range f.list {
		f.list[j].cost = perKm(isqrt(f.list[j].sq), p.Prices.Carry)
	}
	return f.list
}

// perKm is the cost of carrying one unit so many metres, rounded down.
func perKm(metres, costPerKm int64) int64 {
	return mulDiv(metres, costPerKm, 1000)
}

// mulDiv is a*b/c rounded down, for a, b >= 0 and a quotient that fits.
func mulDiv(a, b, c int64) int64 {
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	q, _ := bits.Div64(hi, lo, uint64(c))
	return int64(q)
}

// isqrt is the whole part of the square root of x >= 0, by Newton's method.
func isqrt(x int64) int64 {
	if x < 2 {
		return x
	}
	r := int64(1) << ((bits.Len64(uint64(x)) + 1) / 2)
	for {
		next := (r + x/r) / 2
		if next >= r {
			return r
		}
		r = next
	}
}
