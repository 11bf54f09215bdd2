package measure

import (
	"errors"
	"fmt"
	"math/big"
	"sort"
	"strings"
)

// Grams is a mass in whole grams. The ledger knows no other unit.
type Grams int64

// Millilitres is a volume in whole millilitres.
type Millilitres int64

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Percent is a share in percent: 62.5 means 62.5 %.
type Percent float64

// Kind tells whether a unit measures mass or volume.
type Kind uint8

// The two kinds of unit.
const (
	Mass Kind = iota + 1
	Volume
)

// Unit is the wire code of a unit.
type Unit string

// Units that may be entered. Gallons are US liquid gallons.
const (
	Gram       Unit = "g"
	Kilogram   Unit = "kg"
	Pound      Unit = "lb"
	Ounce      Unit = "oz"
	ShortTon   Unit = "short_ton"
	Millilitre Unit = "mL"
	Litre      Unit = "L"
	GallonUS   Unit = "gal_us"
	CubicYard  Unit = "yd3"
	CubicMetre Unit = "m3"
)

type unitDef struct {
	kind  Kind
	scale *big.Rat // grams or millilitres in one unit
}

func rat(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		panic("measure: bad constant " + s)
	}
	return r
}

// Exact definitions: NIST Handbook 44, Appendix C (pound, ounce, short ton,
// US gallon of 231 cubic inches); cubic yard = 0.9144^3 m3.
var units = map[Unit]unitDef{
	Gram:       {Mass, rat("1")},
	Kilogram:   {Mass, rat("1000")},
	Pound:      {Mass, rat("453.59237")},
	Ounce:      {Mass, rat("28.349523125")},
	ShortTon:   {Mass, rat("907184.74")},
	Millilitre: {Volume, rat("1")},
	Litre:      {Volume, rat("1000")},
	GallonUS:   {Volume, rat("3785.411784")},
	CubicYard:  {Volume, rat("764554.857984")},
	CubicMetre: {Volume, rat("1000000")},
}

// Errors returned by the conversions; test with errors.Is.
var (
	ErrUnit   = errors.New("unknown unit")
	ErrKind   = errors.New("unit measures the wrong thing")
	ErrNumber = errors.New("not a decimal number")
	ErrRange  = errors.New("number out of range")
)

// Units lists the known unit codes in alphabetical order.
func Units() []Unit {
	out := make([]Unit, 0, len(units))
	for u := range units {
		out = append(out, u)
	}
	sort.Slice(out, func(i, j int) bool { return out[i] < out[j] })
	return out
}

// Kind says what u measures; ok is false for an unknown unit.
func (u Unit) Kind() (kind Kind, ok bool) {
	d, ok := units[u]
	return d.kind, ok
}

// ParseDecimal reads a plain decimal string such as "12.50" exactly. Signs,
// exponents, separators and more than 18 digits are refused.
func ParseDecimal(s string) (*big.Rat, error) {
	digits, dots := 0, 0
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			digits++
		case r == '.':
			dots++
		default:
			return nil, fmt.Errorf("%w: %q", ErrNumber, s)
		}
	}
	if digits == 0 || dots > 1 || strings.HasPrefix(s, ".") || strings.HasSuffix(s, ".") {
		return nil, fmt.Errorf("%w: %q", ErrNumber, s)
	}
	if digits > 18 {
		return nil, fmt.Errorf("%w: %q has more than 18 digits", ErrRange, s)
	}
	return rat(s), nil
}

// Quantity is what a person entered: a decimal string and a unit.
type Quantity struct {
	Value string
	Unit  Unit
}

// Exact is the quantity in grams or millilitres before any rounding. It fails
// with ErrUnit, ErrNumber or ErrRange.
func (q Quantity) Exact() (*big.Rat, Kind, error) {
	d, ok := units[q.Unit]
	if !ok {
		return nil, 0, fmt.Errorf("%w: %q", ErrUnit, string(q.Unit))
	}
	v, err := ParseDecimal(q.Value)
	if err != nil {
		return nil, 0, err
	}
	return v.Mul(v, d.scale), d.kind, nil
}

func (q Quantity) convert(want Kind) (int64, error) {
	v, kind, err := q.Exact()
	if err != nil {
		return 0, err
	}
	if kind != want {
		return 0, fmt.Errorf("%w: %q", ErrKind, string(q.Unit))
	}
	return RoundHalfEven(v)
}

// Grams converts a mass once, half to even. It fails with ErrUnit, ErrKind,
// ErrNumber or ErrRange.
func (q Quantity) Grams() (Grams, error) {
	n, err := q.convert(Mass)
	return Grams(n), err
}

// Millilitres converts a volume once, half to even. It fails like Grams.
func (q Quantity) Millilitres() (Millilitres, error) {
	n, err := q.convert(Volume)
	return Millilitres(n), err
}

// maxWhole bounds every converted number: a million tonnes, or a million cubic metres.
const maxWhole = int64(1_000_000_000_000)

// RoundHalfEven rounds r to a whole number, ties to the even one. It fails
// with ErrRange above a million tonnes (or cubic metres).
func RoundHalfEven(r *big.Rat) (int64, error) {
	num, den := r.Num(), r.Denom()
	q, rem := new(big.Int).QuoRem(num, den, new(big.Int))
	twice := new(big.Int).Lsh(rem.Abs(rem), 1)
	switch c := twice.Cmp(den); {
	case c > 0, c == 0 && q.Bit(0) == 1:
		q.Add(q, big.NewInt(int64(num.Sign())))
	}
	if !q.IsInt64() || q.Int64() > maxWhole || q.Int64() < -maxWhole {
		return 0, ErrRange
	}
	return q.Int64(), nil
}
