package vermi

import "math"

// Estimated is a number with how sure we are of it: the mean, and the ends of
// the central 50 % (P25 to P75) and 90 % (P05 to P95).
type Estimated struct {
	Mean, P05, P25, P75, P95 float64
}

// Standard normal quantiles at 0.75 and 0.95.
const (
	z75 = 0.6744897501960817
	z95 = 1.6448536269514722
)

// lognormal is an estimate of a positive quantity with a given mean whose
// logarithm has standard deviation sigma.
func lognormal(mean, sigma float64) Estimated {
	if mean <= 0 {
		return Estimated{}
	}
	sigma = min(sigma, 1.5)
	median := mean * math.Exp(-sigma*sigma/2)
	at := func(z float64) float64 { return median * math.Exp(z*sigma) }
	return Estimated{Mean: mean, P05: at(-z95), P25: at(-z75), P75: at(z75), P95: at(z95)}
}

// sigmaOf is the log standard deviation of a positive quantity with this mean
// and variance.
func sigmaOf(mean, variance float64) float64 {
	if mean <= 0 {
		return 0
	}
	return math.Sqrt(math.Log1p(max(0, variance) / (mean * mean)))
}

// Scale multiplies every part by f, which must not be negative.
func (e Estimated) Scale(f float64) Estimated {
	return Estimated{e.Mean * f, e.P05 * f, e.P25 * f, e.P75 * f, e.P95 * f}
}

// capAt cuts every part off at hi.
func (e Estimated) capAt(hi float64) Estimated {
	return Estimated{min(e.Mean, hi), min(e.P05, hi), min(e.P25, hi), min(e.P75, hi), min(e.P95, hi)}
}

// normCDF is the standard normal distribution function.
func normCDF(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }

// clamp keeps v between lo and hi.
func clamp(v, lo, hi float64) float64 { return max(lo, min(hi, v)) }
