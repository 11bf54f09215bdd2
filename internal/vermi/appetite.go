package vermi

import (
	"fmt"
	"math"

	"midden/internal/farm"
)

// Bound is what holds an appetite down.
type Bound string

// Bounds, in the order they are asked.
const (
	BoundStatus      Bound = "status"      // resting, quarantine, closed, or not yet set up
	BoundHeat        Bound = "heat"        // too warm to feed
	BoundDepth       Bound = "depth"       // no free depth
	BoundSurface     Bound = "surface"     // the fed surface takes no more
	BoundTemperature Bound = "temperature" // worms slowed by cold or warmth
	BoundWorms       Bound = "worms"       // the worms eat no more
)

// AppetiteInput is what an appetite depends on.
type AppetiteInput struct {
	WormsG         float64
	K              float64 // kg scraps per kg live worms per day
	TempFactor     float64 // f, 0 to 1
	MoistureFactor float64 // g, 0 to 1
	StressFactor   float64 // h, 0 to 1
	Ramp           float64 // 0 to 1, a new bin's share
	FedSurfaceM2   float64
	FreeDepthMM    float64
}

// Limits are the three limits of an appetite, in grams per day.
type Limits struct{ WormsG, SurfaceG, DepthG float64 }

// foodGPerL is the density of food laid in a bed, 3.8 lb/gal (US EPA
// volume-to-weight factors 2016).
const foodGPerL = 455

// DailyAppetite is k·W·f(T)·g·h in grams per day, bounded by the fed surface
// and by the free depth above the cover spread over FeedDays, with the bound
// that binds. k: half the worms' weight a day (home rule of extension guides);
// surface load 0.7 kg/m² a day (common practice, no source).
func DailyAppetite(in AppetiteInput, s Settings) (gramsPerDay float64, b Bound, l Limits) {
	full := in.K * max(0, in.WormsG) * in.MoistureFactor * in.StressFactor * in.Ramp
	l.WormsG = full * in.TempFactor
	l.SurfaceG = s.SurfaceLoadGPerM2Day * max(0, in.FedSurfaceM2)
	room := max(0, in.FreeDepthMM-s.CoverMM) * max(0, in.FedSurfaceM2) * foodGPerL
	l.DepthG = room / float64(max(1, s.FeedDays))
	gramsPerDay, b = l.WormsG, BoundWorms
	if in.TempFactor < 0.5 {
		b = BoundTemperature
	}
	if l.SurfaceG < gramsPerDay {
		gramsPerDay, b = l.SurfaceG, BoundSurface
	}
	if l.DepthG < gramsPerDay {
		gramsPerDay, b = l.DepthG, BoundDepth
	}
	return gramsPerDay, b, l
}

// Appetite is what a bin would eat on a day, with what holds it and why.
type Appetite struct {
	PerDayG Estimated
	Bound   Bound
	Limits  Limits
	Input   AppetiteInput
	Rate    AppetiteRate
	Why     string // one sentence with the numbers
}

// appetiteOf joins the doubts of k, stock and temperature.
func appetiteOf(in AppetiteInput, s Settings, sigma float64) (Estimated, Bound, Limits) {
	mean, b, l := DailyAppetite(in, s)
	e := lognormal(l.WormsG, sigma).capAt(min(l.SurfaceG, l.DepthG))
	e.Mean = mean
	return e, b, l
}

// mayFeed tells whether a bin takes food at all, by its status and heat.
func mayFeed(st farm.BinStatus, hotC float64, rising bool, s Settings) (ok bool, b Bound) {
	switch st {
	case farm.BinResting, farm.BinQuarantine, farm.BinClosed:
		return false, BoundStatus
	}
	if hotC >= s.OpenC || (hotC >= s.WatchC && rising) {
		return false, BoundHeat
	}
	return true, ""
}

// explain puts an appetite into a sentence.
func (a *Appetite) explain() {
	kg := func(g float64) string { return fmt.Sprintf("%.2f kg", g/1000) }
	in := a.Input
	switch a.Bound {
	case BoundStatus:
		a.Why = "The bin is not in use, so it takes no food."
	case BoundHeat:
		a.Why = "The bed is too warm to feed; more food would heat it further."
	case BoundDepth:
		a.Why = fmt.Sprintf("Only %.0f mm are free above the bed; after the cover there is room for %s a day.", in.FreeDepthMM, kg(a.Limits.DepthG))
	case BoundSurface:
		a.Why = fmt.Sprintf("The fed surface of %.2f m² takes %s a day; the worms could eat %s.", in.FedSurfaceM2, kg(a.Limits.SurfaceG), kg(a.Limits.WormsG))
	case BoundTemperature:
		a.Why = fmt.Sprintf("The temperature holds the worms to %.0f %% of their pace: %s a day.", 100*in.TempFactor, kg(a.Limits.WormsG))
	default:
		a.Why = fmt.Sprintf("About %s of worms eat %.2f kg each kg a day, slowed to %.0f %%: %s a day.", kg(in.WormsG), in.K,
			100*in.TempFactor*in.MoistureFactor*in.StressFactor*in.Ramp, kg(a.Limits.WormsG))
	}
}

// joinSigma adds independent log standard deviations.
func joinSigma(s ...float64) float64 {
	var v float64
	for _, x := range s {
		v += x * x
	}
	return math.Sqrt(v)
}

// GroupCap is how much of a feeding may be of one go-easy group.
type GroupCap struct {
	Group  farm.Group
	Pct    float64
	Source string
}

// GroupCaps are the go-easy shares of a feeding in farm.Groups order. Plain
// food has none (100).
func GroupCaps() []GroupCap {
	const practice = "common practice, no source"
	return []GroupCap{
		{farm.Plain, 100, practice},
		{farm.Fruit, 50, practice},
		{farm.Coffee, 25, "at most a quarter of the mix was best for E. andrei (Gonzalez-Moreno et al. 2020)"},
		{farm.Citrus, 10, "limit citrus: Cornell Composting, USDA; the share is common practice"},
		{farm.OnionFamily, 10, "limit onions: Cornell Composting; the share is common practice"},
		{farm.BreadGrain, 15, practice},
		{farm.SaltyOily, 5, "keep salt below 0.2 % (IJERPH 2019, 16:4737); the share is common practice"},
		{farm.VeryWet, 40, practice},
	}
}
