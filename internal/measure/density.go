package measure

import (
	"fmt"
	"math/big"
)

// Density is a bulk density in grams per litre.
type Density float64

// DensityOf is the density of a mass that fills a volume: 3.8 lb per gallon is
// DensityOf({"3.8", Pound}, {"1", GallonUS}). It fails with ErrUnit, ErrKind,
// ErrNumber or ErrRange.
func DensityOf(mass, volume Quantity) (Density, error) {
	g, kind, err := mass.Exact()
	if err != nil {
		return 0, err
	}
	if kind != Mass {
		return 0, fmt.Errorf("%w: %q", ErrKind, string(mass.Unit))
	}
	ml, kind, err := volume.Exact()
	if err != nil {
		return 0, err
	}
	if kind != Volume {
		return 0, fmt.Errorf("%w: %q", ErrKind, string(volume.Unit))
	}
	if ml.Sign() == 0 {
		return 0, fmt.Errorf("%w: no volume to fill", ErrRange)
	}
	f, _ := g.Mul(g, big.NewRat(1000, 1)).Quo(g, ml).Float64()
	return Density(f), nil
}

// Mass is the mass of so many millilitres, which need not be whole, rounded
// half to even. It fails with ErrRange, also for a density that is no number.
func (d Density) Mass(ml *big.Rat) (Grams, error) {
	r := new(big.Rat).SetFloat64(float64(d))
	if r == nil {
		return 0, fmt.Errorf("%w: density", ErrRange)
	}
	r.Mul(r, ml).Mul(r, big.NewRat(1, 1000))
	n, err := RoundHalfEven(r)
	return Grams(n), err
}

// MassOf is the mass of a volume at this bulk density, rounded half to even;
// zero when the density or the result is out of range.
func (d Density) MassOf(v Millilitres) Grams {
	g, err := d.Mass(big.NewRat(int64(v), 1))
	if err != nil {
		return 0
	}
	return g
}
