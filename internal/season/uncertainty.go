package season

import (
	"fmt"
	"math/big"
	"strings"

	"midden/internal/farm"
	"midden/internal/measure"
)

// PerMille is a relative uncertainty in thousandths: 400 is 40 %.
type PerMille int

// String prints percent: "40 %" or "2.5 %".
func (p PerMille) String() string {
	return strings.TrimSuffix(fmt.Sprintf("%d.%d", p/10, p%10), ".0") + " %"
}

// Uncertainty is the relative uncertainty of a mass by how it was got, as the
// half-width of the range that holds nine in ten.
type Uncertainty struct {
	Weighed   PerMille `json:"weighed_per_mille"`
	Container PerMille `json:"container_per_mille"`
	Estimated PerMille `json:"estimate_per_mille"`
}

// DefaultUncertainty is 1 % weighed, 40 % container × density, 50 % estimated.
// The container figure reflects how far published bulk densities of food
// scraps lie apart: 396 lb/yd³ (1.96 lb/gal), 3.8 lb/gal (both US EPA, 2016)
// and 7.49 lb/gal (an older US EPA table). The other two are common practice,
// no source. A garden sets its own.
func DefaultUncertainty() Uncertainty {
	return Uncertainty{Weighed: 10, Container: 400, Estimated: 500}
}

func (u Uncertainty) check(faults *farm.Faults) {
	for _, s := range []struct {
		field string
		p     PerMille
	}{{"weighed", u.Weighed}, {"container", u.Container}, {"estimate", u.Estimated}} {
		if s.p < 0 || s.p > 2000 {
			faults.Add(CodeReportSettings, "/uncertainty/"+s.field, "%s: must be between 0 %% and 200 %%; got %s", s.field, s.p)
		}
	}
}

// coverage90 times a standard deviation is the half-width that holds 90 % of a
// normal distribution, in thousandths (JCGM 100:2008, table G.2: 1.645).
const coverage90 = 1645

// of is the half-width for a movement in millionths.
func (u Uncertainty) of(m Movement) int64 {
	switch {
	case m.RelSD != 0:
		return int64(m.RelSD) * coverage90
	case m.Method == farm.ByScale:
		return int64(u.Weighed) * 1000
	case m.Method == farm.ByContainer:
		return int64(u.Container) * 1000
	}
	return int64(u.Estimated) * 1000
}

// Statement says in words how the interval was made.
func (u Uncertainty) Statement() string {
	return fmt.Sprintf("Masses are taken to be right within %s when weighed, %s when counted in containers at a stated "+
		"density and %s when estimated (nine times in ten), unless a record states its own. Errors of one method are taken "+
		"to be shared and add up; errors of different methods are taken to be independent and combine as the root of the "+
		"sum of their squares (JCGM 100:2008, 5.1.2 and 5.2.2).", u.Weighed, u.Container, u.Estimated)
}

// Interval is a mass with the range that holds it nine times in ten.
type Interval struct {
	Value measure.Grams `json:"value_g"`
	Low   measure.Grams `json:"low90_g"`
	High  measure.Grams `json:"high90_g"`
}

// spread gathers a sum and, for each method, its shared error in millionths of
// a gram; the square of that needs big numbers.
type spread struct {
	sum    measure.Grams
	shared map[farm.MassMethod]*big.Int
}

func (s *spread) add(sign int64, m Movement, rel int64) {
	if s.shared == nil {
		s.shared = map[farm.MassMethod]*big.Int{}
	}
	e := s.shared[m.Method]
	if e == nil {
		e = new(big.Int)
		s.shared[m.Method] = e
	}
	s.sum += measure.Grams(sign) * m.Mass
	e.Add(e, new(big.Int).Mul(big.NewInt(sign*int64(m.Mass)), big.NewInt(rel)))
}

// interval widens to whole grams outward. The low end of a positive mass is
// not below zero. Whole-number arithmetic gives the same bytes on any machine.
func (s *spread) interval() Interval {
	squares := new(big.Int)
	for _, e := range s.shared {
		squares.Add(squares, new(big.Int).Mul(e, e))
	}
	root := new(big.Int).Sqrt(squares)
	if new(big.Int).Mul(root, root).Cmp(squares) < 0 {
		root.Add(root, big.NewInt(1))
	}
	million := big.NewInt(1_000_000)
	root.Add(root, big.NewInt(999_999))
	half := measure.Grams(root.Div(root, million).Int64())
	iv := Interval{Value: s.sum, Low: s.sum - half, High: s.sum + half}
	if s.sum >= 0 {
		iv.Low = max(0, iv.Low)
	}
	return iv
}

// MethodShare is the part of what was received that was got in one way.
type MethodShare struct {
	Method   farm.MassMethod `json:"method"`
	Received measure.Grams   `json:"received_g"`
	PerMille PerMille        `json:"per_mille"` // of all received, rounded half up
	Records  int             `json:"records"`
}

// MethodMix splits what was received by how it was got. Measured is weighed
// and container counts together; Estimated is the rest.
type MethodMix struct {
	Measured  measure.Grams `json:"measured_g"`
	Estimated measure.Grams `json:"estimated_g"`
	Shares    []MethodShare `json:"shares"`
}

func mixOf(movements []Movement) MethodMix {
	var mix MethodMix
	var total measure.Grams
	for _, b := range methods {
		share := MethodShare{Method: b}
		for _, m := range movements {
			if m.Flow == Received && m.Method == b {
				share.Received += m.Mass
				share.Records += m.Records
			}
		}
		total += share.Received
		if b == farm.ByEstimate {
			mix.Estimated += share.Received
		} else {
			mix.Measured += share.Received
		}
		mix.Shares = append(mix.Shares, share)
	}
	for i := range mix.Shares {
		if s := &mix.Shares[i]; total > 0 && s.Received > 0 {
			s.PerMille = PerMille((2000*s.Received + total) / (2 * total))
		}
	}
	return mix
}
