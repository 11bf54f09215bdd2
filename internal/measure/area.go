package measure

import "math/big"

// SquareCentimetres is an area in whole square centimetres.
type SquareCentimetres int64

// One foot is 0.3048 m exactly (NIST Handbook 44, Appendix C).
var cm2PerSquareFoot = rat("929.0304")

// SquareFeet converts an area once, half to even. It fails with ErrNumber or
// ErrRange.
func SquareFeet(value string) (SquareCentimetres, error) { return area(value, cm2PerSquareFoot) }

// SquareMetres converts an area once, half to even. It fails like SquareFeet.
func SquareMetres(value string) (SquareCentimetres, error) { return area(value, rat("10000")) }

func area(value string, scale *big.Rat) (SquareCentimetres, error) {
	v, err := ParseDecimal(value)
	if err != nil {
		return 0, err
	}
	n, err := RoundHalfEven(v.Mul(v, scale))
	return SquareCentimetres(n), err
}

// Format prints an area for people: "2.8 m²" or "30.0 ft²".
func (a SquareCentimetres) Format(s System) string {
	if s == US {
		ft2, _ := new(big.Rat).Quo(big.NewRat(int64(a), 1), cm2PerSquareFoot).Float64()
		return decimals(ft2, 1) + " ft²"
	}
	return decimals(float64(a)/10000, 1) + " m²"
}
