package farm

import (
	"math/big"

	"midden/internal/measure"
)

// WormMethod is how a mass of live worms was got.
type WormMethod string

// Ways of getting a mass of live worms.
const (
	WormsWeighed WormMethod = "weighed" // clean, on a scale
	WormsSampled WormMethod = "sampled" // mass of worm-rich bedding × the worm fraction of a sample
	WormsShare   WormMethod = "share"   // part of the section's bed
	WormsCounted WormMethod = "counted" // heads × mean mass
)

// Mean masses of one worm, in milligrams. A mature Eisenia fetida weighs
// 0.55 g on average (a table believed to follow Edwards 1988). A mixed lot,
// young and old, has about 1000 worms to the pound (extension guidance; range
// 600 to 1200, from memory).
const (
	MatureWormMG = 550.0
	MixedWormMG  = 453.59237
)

// WormAmount is an amount of live worms as a person gave it. Weighed: LiveMass.
// Sampled: Material and FractionPct of worms in it. Share: SharePct of the
// section's worms. Counted: Count heads of MeanMG each; 0 stands for a mixed lot.
type WormAmount struct {
	Method      WormMethod
	LiveMass    measure.Quantity
	Material    measure.Quantity
	FractionPct float64
	SharePct    float64
	Count       int
	MeanMG      float64
}

// RelSDPermille is the relative standard deviation of an amount got this way:
// worms on a scale carry some wet bedding, a count rests on a mean, a sample on
// one handful, a share on the eye (common practice, no source).
func (m WormMethod) RelSDPermille() int {
	switch m {
	case WormsWeighed:
		return 50
	case WormsCounted:
		return 150
	case WormsSampled:
		return 300
	}
	return 400
}

// Measured tells whether the amount stands on its own, so that it may show
// more worms than the books hold. A share is a part of the books, and a sample
// speaks of one handful.
func (m WormMethod) Measured() bool { return m == WormsWeighed || m == WormsCounted }

// WormWeight is an amount of worms in grams.
type WormWeight struct {
	Net           measure.Grams
	RelSDPermille int
}

// Work turns what was given into grams. books is what the section's books
// hold: a share is a part of them. It refuses with worms.invalid, naming each
// field at fault under at ("/worms").
func (a WormAmount) Work(at string, books measure.Grams) (WormWeight, error) {
	var f Faults
	var net *big.Rat
	switch a.Method {
	case WormsWeighed:
		net = a.mass(&f, at+"/live_mass", a.LiveMass)
	case WormsSampled:
		net = a.part(&f, at+"/worm_fraction_percent", a.FractionPct)
		net.Mul(net, a.mass(&f, at+"/material_mass", a.Material))
	case WormsShare:
		net = a.part(&f, at+"/share_percent", a.SharePct)
		net.Mul(net, new(big.Rat).SetInt64(int64(books)))
	case WormsCounted:
		net = a.heads(&f, at)
	default:
		f.Add("worms.invalid", at+"/method", "method: must be weighed, sampled, share or counted; got %q", string(a.Method))
	}
	a.strays(&f, at)
	if err := f.Err(); err != nil {
		return WormWeight{}, err
	}
	g, err := measure.RoundHalfEven(net)
	if err != nil || g < int64(MinLot) || g > int64(MaxLot) {
		return WormWeight{}, Refuse("worms.invalid", at+"/method", "worms: must come to between 1 g and 2,000 kg of live worms; got %s g", net.FloatString(1))
	}
	return WormWeight{measure.Grams(g), a.Method.RelSDPermille()}, nil
}

func (a WormAmount) mass(f *Faults, field string, q measure.Quantity) *big.Rat {
	g, err := q.Grams()
	switch {
	case err != nil:
		f.Add("worms.invalid", field, "%s: must be a mass such as 600 g; got %q %q: %s", last(field), q.Value, q.Unit, plain(err))
	case g < MinLot || g > MaxLot:
		f.Add("worms.invalid", field, "%s: must be between 1 g and 2,000 kg; got %d g", last(field), g)
	}
	return new(big.Rat).SetInt64(int64(g))
}

func (a WormAmount) part(f *Faults, field string, pct float64) *big.Rat {
	if !(pct > 0 && pct <= 100) {
		f.Add("worms.invalid", field, "%s: must be above 0 and at most 100 %%; got %g", last(field), pct)
		return new(big.Rat)
	}
	r := new(big.Rat).SetFloat64(pct)
	return r.Quo(r, big.NewRat(100, 1))
}

func (a WormAmount) heads(f *Faults, at string) *big.Rat {
	mean := a.MeanMG
	if mean == 0 {
		mean = MixedWormMG
	}
	if a.Count < 1 || a.Count > 10_000_000 {
		f.Add("worms.invalid", at+"/count", "count: must be between 1 and 10,000,000; got %d", a.Count)
	}
	if !(mean >= 10 && mean <= 5000) {
		f.Add("worms.invalid", at+"/mean_worm_mg", "mean_worm_mg: must be between 10 and 5000 mg; got %g", mean)
		return new(big.Rat)
	}
	r := new(big.Rat).SetFloat64(mean)
	return r.Mul(r, big.NewRat(int64(a.Count), 1000))
}

// strays refuses what belongs to another method: the person meant something
// that would be lost.
func (a WormAmount) strays(f *Faults, at string) {
	for _, x := range []struct {
		field string
		given bool
		of    WormMethod
	}{
		{"live_mass", a.LiveMass.Value != "", WormsWeighed},
		{"material_mass", a.Material.Value != "", WormsSampled},
		{"worm_fraction_percent", a.FractionPct != 0, WormsSampled},
		{"share_percent", a.SharePct != 0, WormsShare},
		{"count", a.Count != 0, WormsCounted},
		{"mean_worm_mg", a.MeanMG != 0, WormsCounted},
	} {
		if x.given && x.of != a.Method {
			f.Add("worms.invalid", at+"/"+x.field, "%s: belongs to the method %s; got %s", x.field, x.of, a.Method)
		}
	}
}

// last is the name at the end of a pointer.
func last(field string) string {
	for i := len(field) - 1; i >= 0; i-- {
		if field[i] == '/' {
			return field[i+1:]
		}
	}
	return field
}
