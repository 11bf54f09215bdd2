package measure

import (
	"fmt"
	"math"
	"math/big"
)

// In gives a mass in unit u as a float for display; ok is false when u does
// not measure mass.
func (g Grams) In(u Unit) (v float64, ok bool) { return in(int64(g), u, Mass) }

// In gives a volume in unit u as a float for display; ok is false when u does
// not measure volume.
func (m Millilitres) In(u Unit) (v float64, ok bool) { return in(int64(m), u, Volume) }

func in(n int64, u Unit, want Kind) (float64, bool) {
	d, found := units[u]
	if !found || d.kind != want {
		return 0, false
	}
	f, _ := new(big.Rat).Quo(big.NewRat(n, 1), d.scale).Float64()
	return f, true
}

// Fahrenheit converts for display.
func (c Celsius) Fahrenheit() float64 { return float64(c)*9/5 + 32 }

// FromFahrenheit converts a reading taken in °F.
func FromFahrenheit(f float64) Celsius { return Celsius((f - 32) * 5 / 9) }

// System is a garden's preference for what it reads and prints.
type System string

// The unit systems.
const (
	Metric System = "metric"
	US     System = "us"
)

// Valid tells whether s is one of the two.
func (s System) Valid() bool { return s == Metric || s == US }

// Format prints a mass for people: "850 g", "12.3 kg", "1.9 lb".
func (g Grams) Format(s System) string {
	if s == US {
		lb, _ := g.In(Pound)
		if lb < 1 && lb > -1 {
			oz, _ := g.In(Ounce)
			return decimals(oz, 1) + " oz"
		}
		return decimals(lb, 1) + " lb"
	}
	if g < 1000 && g > -1000 {
		return fmt.Sprintf("%d g", int64(g))
	}
	kg, _ := g.In(Kilogram)
	return decimals(kg, 1) + " kg"
}

// Format prints a volume for people: "850 mL", "18.9 L", "0.25 gal", "5.0 gal".
// Gallons are US gallons.
func (m Millilitres) Format(s System) string {
	if s == US {
		gal, _ := m.In(GallonUS)
		if gal < 1 && gal > -1 {
			return decimals(gal, 2) + " gal"
		}
		return decimals(gal, 1) + " gal"
	}
	if m < 1000 && m > -1000 {
		return fmt.Sprintf("%d mL", int64(m))
	}
	l, _ := m.In(Litre)
	return decimals(l, 1) + " L"
}

// Format prints a temperature for people: "21.5 °C" or "70.7 °F".
func (c Celsius) Format(s System) string {
	if s == US {
		return decimals(c.Fahrenheit(), 1) + " °F"
	}
	return decimals(float64(c), 1) + " °C"
}

// String prints a share with one decimal: "62.5 %".
func (p Percent) String() string { return decimals(float64(p), 1) + " %" }

// decimals prints f with n decimals and never as minus zero.
func decimals(f float64, n int) string {
	scale := math.Pow10(n)
	if math.Abs(f*scale) < 0.5 {
		f = 0
	}
	return fmt.Sprintf("%.*f", n, f)
}
