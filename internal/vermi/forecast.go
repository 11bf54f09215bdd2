package vermi

import "math"

// ForecastDay is a bin as expected at the start of a day, before that day's
// feeding.
type ForecastDay struct {
	Day       Day
	TempC     float64
	TempFrom  TempSource
	WormsG    Estimated
	AppetiteG Estimated // that day
	BacklogG  Estimated
	RoomG     Estimated // what a feeding that day could bring to be eaten within FeedDays
	Bound     Bound
}

// Forecast runs a bin forward for a number of days after AsOf. Planned
// feedings are those of the record after AsOf. The doubt widens with the
// stock's; the 50 and 90 % ends of backlog and room come from running slower
// and faster worms beside the likely ones.
func Forecast(r Record, days int) []ForecastDay {
	return Work(r).Forecast(days)
}

// Forecast is as the function of that name. Worms ahead grow as worms that are
// fed.
func (m *Model) Forecast(days int) []ForecastDay {
	rec := m.rec
	// Faster and slower eaters beside the likely one, each from the larder it
	// would have left; the doubt about the temperature ahead comes on top.
	e, doubt := m.rate.Effective, m.state.TempFrom.doubt()
	pace := [5]float64{1, e.P05 / e.Mean * math.Exp(-z95*doubt), e.P25 / e.Mean * math.Exp(-z75*doubt),
		e.P75 / e.Mean * math.Exp(z75*doubt), e.P95 / e.Mean * math.Exp(z95*doubt)}
	var runs [5]larder
	for i := range runs {
		runs[i] = m.larders[i].clone()
	}
	stock := m.stock.now.clone()
	var out []ForecastDay
	next := 0
	for day := rec.AsOf; ; day++ {
		for ; next < len(m.planned) && m.planned[next].On <= day; next++ {
			for i := range runs {
				runs[i].add(rec, m.planned[next])
			}
		}
		if int(day-rec.AsOf) >= days {
			return out
		}
		in := m.inputOn(day, stock.mix().mean)
		_, _, lim := DailyAppetite(in, *rec.Settings)
		t, _ := m.drive.tempC(day)
		for i := range runs {
			runs[i].eat(lim.WormsG*pace[i], t)
		}
		_, g, _ := m.drive.factors(day)
		stock.grow(GrowthRate(rec.Bin.Species, t, g))
		out = append(out, m.dayAhead(day+1, stock.mix(), runs))
	}
}

// inputOn is the appetite input of a day ahead at a given stock.
func (m *Model) inputOn(day Day, wormsG float64) AppetiteInput {
	in := m.state.Appetite.Input
	in.TempFactor, in.MoistureFactor, in.StressFactor = m.drive.factors(day)
	in.Ramp = m.drive.ramp(day)
	in.WormsG = wormsG
	return in
}

func (m *Model) dayAhead(day Day, stock belief, runs [5]larder) ForecastDay {
	rec, s := m.rec, *m.rec.Settings
	out := ForecastDay{Day: day}
	out.TempC, out.TempFrom = m.drive.tempC(day)
	sigma := sigmaOf(stock.mean, stock.variance)
	out.WormsG = lognormal(stock.mean, sigma)
	in := m.inputOn(day, stock.mean)
	out.AppetiteG, out.Bound, _ = appetiteOf(in, s, m.sigma(sigma, out.TempFrom))
	ok, why := mayFeed(rec.Bin.Status, m.hotOn(day), m.risingOn(day), s)
	// A faster eater leaves less: the low end of the backlog is the fastest run.
	out.BacklogG = Estimated{Mean: runs[0].total(), P05: runs[4].total(), P25: runs[3].total(), P75: runs[2].total(), P95: runs[1].total()}
	if !ok {
		out.AppetiteG, out.Bound = Estimated{}, why
		return out
	}
	span := float64(max(1, s.FeedDays))
	room := func(appetite, backlog float64) float64 { return max(0, appetite*span-backlog) }
	a, b := out.AppetiteG, out.BacklogG
	out.RoomG = Estimated{Mean: room(a.Mean, b.Mean), P05: room(a.P05, b.P95), P25: room(a.P25, b.P75),
		P75: room(a.P75, b.P25), P95: room(a.P95, b.P05)}
	return out
}

// hotOn is the hottest spot to reckon with on a day: a hot spot found counts
// for three days.
func (m *Model) hotOn(day Day) float64 {
	t, _ := m.drive.tempC(day)
	if day-m.rec.AsOf <= 3 && m.state.HotC > m.state.TempC {
		t = max(t, m.state.HotC)
	}
	return t
}

func (m *Model) risingOn(day Day) bool {
	if day <= m.rec.AsOf+1 {
		return m.drive.rising()
	}
	before, _ := m.drive.tempC(day - 1)
	at, _ := m.drive.tempC(day)
	return at > before
}
