package vermi

import (
	"math"

	"midden/internal/farm"
)

// AppetitePrior is what is believed of k, kg scraps per kg live worms per day,
// before a bin tells: log-normal with this median and log standard deviation.
type AppetitePrior struct {
	Median   float64
	LogSigma float64
}

// DefaultPrior puts two thirds of the belief between 0.25 and 0.5: half the
// worms' weight a day is the home rule (New York Botanical Garden's guide: 1
// lb of worms takes 3.5 lb a week), and new keepers are told to stay well
// under it. Figures measured on sludge or manure, 0.75 to 1.25 (Ndegwa et al.
// 2000), are not used for scraps.
func DefaultPrior() AppetitePrior {
	return AppetitePrior{Median: math.Sqrt(0.25 * 0.5), LogSigma: math.Log(0.5/0.25) / 2}
}

// AppetiteRate is k as learned by one bin.
//
// What is left in a bin tells of k times the worms, never of k alone. So the
// checks teach Effective, kg scraps per kg of worms believed to be there, and K
// is what that says of the worms' own appetite once the doubt about the stock
// has its share. Worth is the effective number of observations: how many times
// the prior's own information the checks added to Effective.
type AppetiteRate struct {
	K         Estimated // per kg of worms and day
	Effective Estimated // per kg of worms believed and day
	KLogMean  float64
	LogSigma  float64 // of Effective
	Worth     float64
	ChecksFor int // checks that said what was left of a feeding
}

// PoolPrior is the prior a garden's bins share: the published prior drawn
// toward the bins' own answers, each weighing as much as its checks are worth.
// The spread stays the published one, as bins differ.
func PoolPrior(base AppetitePrior, bins []AppetiteRate) AppetitePrior {
	sum, weight := math.Log(base.Median), 1.0
	for _, b := range bins {
		if b.Worth <= 0 {
			continue
		}
		w := b.Worth / (1 + b.Worth)
		sum += w * b.KLogMean
		weight += w
	}
	return AppetitePrior{Median: math.Exp(sum / weight), LogSigma: base.LogSigma}
}

const (
	gridPoints   = 61
	gridReach    = 4.0  // prior standard deviations to either side
	lookSigma    = 0.15 // error of an eye estimate of what is left
	outlierShare = 0.05 // looks that say nothing
	fadeDays     = 240  // half the say after so long, as bins change
)

// leftBounds are the shares between which a grade is given (eye estimates in
// quarters: common practice, no source).
func leftBounds(f farm.FoodLeft) (lo, hi float64, ok bool) {
	switch f {
	case farm.LeftNone:
		return math.Inf(-1), 0.05, true
	case farm.LeftLittle:
		return 0.05, 0.3, true
	case farm.LeftHalf:
		return 0.3, 0.7, true
	case farm.LeftMost:
		return 0.7, math.Inf(1), true
	}
	return 0, 0, false
}

// lookLikelihood is the chance of a grade when the model has a share left,
// with a floor for looks gone wrong.
func lookLikelihood(share float64, f farm.FoodLeft) float64 {
	lo, hi, ok := leftBounds(f)
	if !ok {
		return 1
	}
	p := normCDF((hi-share)/lookSigma) - normCDF((lo-share)/lookSigma)
	return (1-outlierShare)*p + outlierShare/4
}

// pull is what the worms would eat each day for k = 1: W·f·g·h·ramp.
type pull struct {
	first Day
	grams []float64
	rot   []rot
	last  []lastFed // per check: the feeding it speaks of
	found []found
}

func newPull(r *Record, d *drive, h *stockHistory) pull {
	p := pull{first: h.first, grams: make([]float64, len(h.days)), rot: make([]rot, len(h.days))}
	for i := range h.days {
		day := h.first + Day(i)
		f, g, s := d.factors(day)
		p.grams[i] = h.days[i].mean * f * g * s * d.ramp(day)
		c, _ := d.tempC(day)
		p.rot[i] = rotAt(c)
	}
	p.lookBacks(r)
	return p
}

// runLarder follows the food from the first record to AsOf at one k: each day
// a check first, then removals and feedings, then a day's eating up to the
// next. It returns the larder as it stands on AsOf and the log likelihood.
func (r *Record) runLarder(k float64, p *pull) (larder, float64) {
	var l larder
	var logL float64
	ic, ir, fi := 0, 0, 0
	for i := range p.grams {
		day := p.first + Day(i)
		for ; ic < len(r.Checks) && r.Checks[ic].On <= day; ic++ {
			c := r.Checks[ic]
			if c.Left == "" || fi == 0 {
				continue
			}
			last := &p.last[ic]
			if share, ok := l.shareLeft(last); ok && last.on < day {
				age := float64(r.AsOf - day)
				logL += math.Exp2(-age/fadeDays) * math.Log(lookLikelihood(share, c.Left))
				l.anchor(&p.found[ic], r.Settings.ReanchorWeight)
			}
		}
		for ; ir < len(r.Care) && r.Care[ir].On <= day; ir++ {
			if r.Care[ir].Kind == Removal {
				l.takeOut(float64(r.Care[ir].Grams))
			}
		}
		for ; fi < len(r.Feedings) && r.Feedings[fi].On <= day; fi++ {
			l.add(r, r.Feedings[fi])
		}
		if day < r.AsOf {
			l.eatOn(k*p.grams[i], p.rot[i])
		}
	}
	return l, logL
}

// lastFed is the food of the last feeding day before a check.
type lastFed struct {
	on    Day
	grams float64
}

// lookBacks follows the record once to find which feeding each check speaks of.
func (p *pull) lookBacks(r *Record) {
	p.last, p.found = make([]lastFed, len(r.Checks)), make([]found, len(r.Checks))
	ic, fi := 0, 0
	for i := range p.grams {
		day := p.first + Day(i)
		for ; ic < len(r.Checks) && r.Checks[ic].On <= day; ic++ {
			if r.Checks[ic].Left == "" || fi == 0 {
				continue
			}
			last := mergeDay(r.Feedings[:fi])
			p.last[ic].on = last.On
			for _, f := range last.Food {
				p.last[ic].grams += max(0, float64(f.Grams))
			}
			p.found[ic] = r.lookBack(last, r.Checks[ic])
		}
		for fi < len(r.Feedings) && r.Feedings[fi].On <= day {
			fi++
		}
	}
}

// mergeDay is all food of the last feeding day.
func mergeDay(past []Feeding) Feeding {
	last := Feeding{On: past[len(past)-1].On}
	for i := len(past) - 1; i >= 0 && past[i].On == last.On; i-- {
		last.Food = append(last.Food, past[i].Food...)
	}
	return last
}

func (l *larder) shareLeft(last *lastFed) (share float64, ok bool) {
	if last.grams <= 0 {
		return 0, false
	}
	var left float64
	for i := range l.pools {
		if l.pools[i].on == last.on {
			left += l.pools[i].left
		}
	}
	return clamp(left/last.grams, 0, 1), true
}

// learnAppetite weighs a grid of effective rates against what checks found
// left. wormSigma is the log standard deviation of the stock.
func (r *Record) learnAppetite(p *pull, wormSigma float64) AppetiteRate {
	mu, kVar := math.Log(r.Prior.Median), r.Prior.LogSigma*r.Prior.LogSigma
	priorVar := kVar + wormSigma*wormSigma
	logs, weights := make([]float64, gridPoints), make([]float64, gridPoints)
	for i := range logs {
		z := gridReach * (2*float64(i)/(gridPoints-1) - 1)
		logs[i] = mu + z*math.Sqrt(priorVar)
		_, logL := r.runLarder(math.Exp(logs[i]), p)
		weights[i] = logL - z*z/2
	}
	weights = softmax(weights)
	var out AppetiteRate
	var mean, second float64
	for i, w := range weights {
		mean += w * logs[i]
		second += w * logs[i] * logs[i]
		out.Effective.Mean += w * math.Exp(logs[i])
	}
	variance := max(1e-6, second-mean*mean)
	out.LogSigma = math.Sqrt(variance)
	q := func(at float64) float64 { return math.Exp(gridQuantile(logs, weights, at)) }
	out.Effective.P05, out.Effective.P25, out.Effective.P75, out.Effective.P95 = q(0.05), q(0.25), q(0.75), q(0.95)

	// Normal split of log Effective = log k + log (true worms / believed).
	share := kVar / priorVar
	out.KLogMean = mu + share*(mean-mu)
	kSigma := math.Sqrt(kVar*(1-share) + share*share*variance)
	out.K = lognormal(math.Exp(out.KLogMean+kSigma*kSigma/2), kSigma)

	for _, c := range r.Checks {
		if c.Left != "" && len(r.Feedings) > 0 && r.Feedings[0].On < c.On {
			out.ChecksFor++
		}
	}
	if out.ChecksFor > 0 {
		out.Worth = max(0, priorVar/variance-1)
	}
	return out
}

// gridQuantile reads a quantile off a grid, straight within a cell.
func gridQuantile(x, w []float64, q float64) float64 {
	step := x[1] - x[0]
	var sum float64
	for i := range x {
		if sum+w[i] >= q {
			return x[i] - step/2 + step*(q-sum)/w[i]
		}
		sum += w[i]
	}
	return x[len(x)-1]
}
