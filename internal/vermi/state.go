package vermi

import "math"

// State is a bin as believed on a day.
type State struct {
	AsOf            Day
	Worms           Estimated // live grams
	WormsRecorded   bool      // false: no worm record at all, the figure is a guess
	CapacityG       float64   // carrying capacity learned, live grams
	DensityKgPerM2  Estimated
	Backlog         Backlog
	Appetite        Appetite
	FillMM          float64
	FillMeasured    bool
	FreeMM          float64
	SurfaceM2       float64
	FedSurfaceM2    float64
	MoisturePct     float64
	MoistureAssumed bool
	TempC           float64
	TempFrom        TempSource
	HotC            float64
	Castings        []CastingsEstimate // in the order of Record.Sections
	Ready           []ReadyOn          // in the order of Record.Sections
	Needs           []Need             // every rule that holds, most urgent first; a page shows the first three
}

// Model is a record worked through once, for a caller that wants the state, a
// forecast and capacities of one bin without paying three times.
type Model struct {
	rec     *Record
	planned []Feeding
	drive   drive
	stock   stockHistory
	pull    pull
	rate    AppetiteRate
	larders [5]larder // at the likely rate, then at P05, P25, P75, P95
	state   State
}

// Estimate works out a bin's state on Record.AsOf from all its records. It is
// pure: the same record gives the same state, whatever the order of entries.
// The bin's shape must pass CheckShape.
func Estimate(r Record) State { return Work(r).State() }

// State is the bin as believed on the day of the record.
func (m *Model) State() State { return m.state }

// Work works a record through.
func Work(in Record) *Model {
	rec, planned := in.prepared()
	m := &Model{rec: &rec, planned: planned}
	r, s := m.rec, m.rec.Settings
	st := &m.state
	st.AsOf = r.AsOf
	st.FillMM, st.FillMeasured = r.fillDepth()
	st.FreeMM = FreeDepthMM(r.Bin.Shape, st.FillMM)
	st.SurfaceM2 = SurfaceM2(r.Bin.Shape, st.FillMM)
	st.FedSurfaceM2 = FedSurfaceM2(r.Bin.Shape, st.FillMM, s.MarginMM)
	st.MoisturePct, st.MoistureAssumed = r.bedMoisture(st.FillMM)

	m.drive = newDrive(r)
	st.TempC, st.TempFrom = m.drive.tempC(r.AsOf)
	st.HotC = m.drive.hotC()

	m.stock = traceStock(r, &m.drive, st.SurfaceM2)
	now := m.stock.on(r.AsOf)
	wormSigma := sigmaOf(now.mean, now.variance)
	st.Worms, st.WormsRecorded, st.CapacityG = lognormal(now.mean, wormSigma), m.stock.recorded, m.stock.capacity
	if st.SurfaceM2 > 0 {
		st.DensityKgPerM2 = st.Worms.Scale(1 / (1000 * st.SurfaceM2))
	}

	m.pull = newPull(r, &m.drive, &m.stock)
	m.rate = r.learnAppetite(&m.pull, wormSigma)
	e := m.rate.Effective
	for i, rate := range [...]float64{e.Mean, e.P05, e.P25, e.P75, e.P95} {
		m.larders[i], _ = r.runLarder(rate, &m.pull)
	}
	likely := &m.larders[0]

	f, g, h := m.drive.factors(r.AsOf)
	in1 := AppetiteInput{WormsG: now.mean, K: e.Mean, TempFactor: f, MoistureFactor: g, StressFactor: h,
		Ramp: m.drive.ramp(r.AsOf), FedSurfaceM2: st.FedSurfaceM2, FreeDepthMM: st.FreeMM}
	st.Appetite = Appetite{Input: in1, Rate: m.rate}
	st.Appetite.PerDayG, st.Appetite.Bound, st.Appetite.Limits = appetiteOf(in1, *s, m.sigma(wormSigma, st.TempFrom))
	if ok, why := mayFeed(r.Bin.Status, st.HotC, m.drive.rising(), *s); !ok {
		st.Appetite.PerDayG, st.Appetite.Bound = Estimated{}, why
	}
	st.Appetite.explain()

	// The worms still eat what lies there when nothing may be added.
	st.Backlog = likely.summary(st.Appetite.Limits.WormsG, st.TempC)
	// The hungrier the worms, the less is left: the low end is the fastest rate.
	st.Backlog.Total = Estimated{Mean: likely.total(), P05: m.larders[4].total(), P25: m.larders[3].total(),
		P75: m.larders[2].total(), P95: m.larders[1].total()}
	for _, sec := range r.Sections {
		st.Castings = append(st.Castings, r.castingsOf(sec, likely, &m.drive))
		st.Ready = append(st.Ready, r.readyOn(sec, &m.drive))
	}
	st.Needs = needs(r, st, &m.drive)
	return m
}

// sigma is the log standard deviation of an appetite when the stock is known to
// wormSigma. What the stock's doubt of today adds is in the learned rate
// already; only what comes on top of it counts.
func (m *Model) sigma(wormSigma float64, from TempSource) float64 {
	now := m.stock.on(m.rec.AsOf)
	today := sigmaOf(now.mean, now.variance)
	return joinSigma(m.rate.LogSigma, math.Sqrt(max(0, wormSigma*wormSigma-today*today)), from.doubt())
}
