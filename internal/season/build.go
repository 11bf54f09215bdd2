package season

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Dimension is a way to split a season.
type Dimension string

// Dimensions whose keys can be given labels.
const (
	BySite       Dimension = "site"
	ByMaterial   Dimension = "material"
	ByDonorClass Dimension = "donor_class"
	ByBin        Dimension = "bin"
)

// NotStated is the key of what was not said.
const NotStated = "not_stated"

// Input is everything a report is made from.
type Input struct {
	Garden     string
	Boundary   string // empty: DefaultBoundary
	PreparedBy string
	PreparedAt time.Time
	Revision   int // 1 for the first

	Calendar *Calendar
	Season   Season

	InScope     []string // empty: DefaultInScope
	OutOfScope  []string // empty: DefaultOutOfScope
	Destination string   // empty: DefaultDestination

	Movements  []Movement // all within the season
	StockStart []Stock    // on hand at the first midnight
	StockEnd   []Stock    // on hand at the last

	// Around is what was received on the days that make the first and last
	// week whole (see WholeWeeks). Nil says that it was not looked up.
	Around []DayMass

	Labels      map[Dimension]map[string]string
	Groups      map[string]farm.Group // of each material, for factors by group
	Uncertainty *Uncertainty          // nil: DefaultUncertainty
	Watch       Watch
	OnSite      OnSite
	Emissions   *EmissionChoice // nil: claim none

	Castings Castings
	Worms    Worms
	Effort   Effort
	Visit    *Visit // nil: not looked up
}

// What a report says about its scope unless the garden says otherwise. The
// destination is the Food Loss and Waste Standard's name for worm bins and
// hot heaps alike.
const (
	DefaultBoundary    = "Food scraps brought to the garden by its contributors."
	DefaultDestination = "compost/aerobic"
)

// DefaultInScope is what counts as food scraps.
func DefaultInScope() []string { return []string{"food", "inedible parts of food"} }

// DefaultOutOfScope is what is never counted as food waste.
func DefaultOutOfScope() []string {
	return []string{"bedding and other browns", "garden trimmings and unharvested crops", "packaging and containers", "rejected loads"}
}

// Build works out the report. It refuses with report.day (a movement outside
// the season), report.flow (an unknown flow or method), report.negative (a
// total below zero), report.settings, factor.unknown, factor.inventory, or
// with *Imbalance when a material or the whole does not balance to the gram.
func Build(in Input) (Report, error) {
	u := DefaultUncertainty()
	if in.Uncertainty != nil {
		u = *in.Uncertainty
	}
	if err := checkInput(in, u); err != nil {
		return Report{}, err
	}
	r := Report{Format: 1, OnSite: in.OnSite, Watch: in.Watch,
		Castings: in.Castings, Worms: in.Worms, Effort: in.Effort}
	if v := in.Visit; v != nil {
		// Empty lists are written as lists, not as null.
		r.Visit = &Visit{PestChecks: v.PestChecks, PestsFound: v.PestsFound, BinChecks: v.BinChecks,
			Rejections: append([]Rejection{}, v.Rejections...), Complaints: append([]Concern{}, v.Complaints...),
			AcceptanceLists: append([]string{}, v.AcceptanceLists...)}
	}
	var err error
	if r.Balance, err = balance(in); err != nil {
		return Report{}, err
	}
	r.Received, r.Accepted, r.Diverted = intervals(in.Movements, u)

	r.ByMonth = split(in, "", func(m Movement) string { return monthKey(m.Day) })
	r.BySite = split(in, BySite, func(m Movement) string { return m.Site })
	r.ByMaterial = split(in, ByMaterial, func(m Movement) string { return m.Material })
	r.ByDonorClass = split(in, ByDonorClass, func(m Movement) string { return m.DonorClass })
	r.ByBin = splitBins(in)

	r.Weeks = WeeksOf(daily(in), in.Season.DayRange, in.Around != nil)
	r.Months = MonthMeans(r.Weeks, in.Season.DayRange)
	r.Findings = in.Watch.Findings(r.Weeks, r.Months, in.OnSite)
	if in.Emissions != nil {
		if r.Emissions, err = estimate(*in.Emissions, in.Groups, r); err != nil {
			return Report{}, err
		}
	}
	r.Header = header(in, u, r)
	return r, nil
}

func checkInput(in Input, u Uncertainty) error {
	var faults farm.Faults
	if in.Calendar == nil || in.Season.Days() == 0 {
		faults.Add(CodeReportSettings, "/season", "season: must have a calendar and at least one day")
		return faults.Err()
	}
	u.check(&faults)
	in.Watch.check(&faults)
	if in.Revision < 1 {
		faults.Add(CodeReportSettings, "/revision", "revision: must be 1 or more; got %d", in.Revision)
	}
	if in.PreparedAt.IsZero() {
		faults.Add(CodeReportSettings, "/prepared_at", "prepared at: must be a time")
	}
	for i, m := range in.Movements {
		if !in.Season.Contains(m.Day) {
			faults.Add(CodeReportDay, "", "movement %d: %s is not in %s (%s)", i, m.Day, in.Season.Label, in.Season.DayRange)
		}
		if !slices.Contains(methods, m.Method) || m.RelSD < 0 || m.RelSD > 2000 {
			faults.Add(CodeReportFlow, "", "movement %d: method %q with relative standard deviation %s is not known", i, m.Method, m.RelSD)
		}
		if new(Flows).sum(m.Flow) == nil {
			faults.Add(CodeReportFlow, "", "movement %d: flow %q is not known", i, m.Flow)
		}
	}
	return faults.Err()
}

// balance checks every material and then the whole: scraps of one material
// never turn into another on hand.
func balance(in Input) (Balance, error) {
	of := map[string]*Balance{}
	at := func(material string) *Balance {
		if of[material] == nil {
			of[material] = &Balance{}
		}
		return of[material]
	}
	for _, m := range in.Movements {
		at(m.Material).add(m.Flow, m.Mass)
	}
	for _, s := range in.StockStart {
		at(s.Material).OnHandStart += s.Mass
	}
	for _, s := range in.StockEnd {
		at(s.Material).OnHandEnd += s.Mass
	}
	var total Balance
	for _, material := range slices.Sorted(maps.Keys(of)) {
		b := of[material]
		if err := b.Check(cmp.Or(material, NotStated)); err != nil {
			return Balance{}, err
		}
		total.OnHandStart += b.OnHandStart
		total.OnHandEnd += b.OnHandEnd
		total.Flows = total.plus(b.Flows)
	}
	return total, total.checkSigns()
}

// checkSigns refuses sums that no garden can have. Accepted and diverted may be
// below zero: what was rejected, or went to a landfill, may have come in the
// season before.
func (b Balance) checkSigns() error {
	sums := map[string]measure.Grams{"on hand at the start": b.OnHandStart, "on hand at the end": b.OnHandEnd}
	for _, f := range flows {
		sums[string(f)] = *b.sum(f)
	}
	for _, what := range slices.Sorted(maps.Keys(sums)) {
		if sums[what] < 0 {
			return farm.Refuse(CodeReportNegative, "", "%s: must not be below zero; got %d g", what, sums[what])
		}
	}
	return nil
}

func intervals(movements []Movement, u Uncertainty) (received, accepted, diverted Interval) {
	var rec, acc, div spread
	for _, m := range movements {
		rel := u.of(m)
		switch m.Flow {
		case Received:
			rec.add(1, m, rel)
			acc.add(1, m, rel)
			div.add(1, m, rel)
		case Rejected:
			acc.add(-1, m, rel)
			div.add(-1, m, rel)
		case SpoiledLandfill, BinToLandfill:
			div.add(-1, m, rel)
		}
	}
	return rec.interval(), acc.interval(), div.interval()
}

func split(in Input, dim Dimension, key func(Movement) string) []Part {
	of := map[string]*Part{}
	for _, m := range in.Movements {
		k := cmp.Or(key(m), NotStated)
		p := of[k]
		if p == nil {
			p = &Part{Key: k, Label: labelOf(in, dim, k)}
			of[k] = p
		}
		p.add(m.Flow, m.Mass)
	}
	out := make([]Part, 0, len(of))
	for _, k := range slices.Sorted(maps.Keys(of)) {
		out = append(out, *of[k])
	}
	return out
}

func splitBins(in Input) []BinPart {
	of := map[string]*BinPart{}
	for _, m := range in.Movements {
		if m.Flow != Fed && m.Flow != BinToLandfill && m.Flow != BinToElsewhere {
			continue
		}
		k := cmp.Or(m.Bin, NotStated)
		p := of[k]
		if p == nil {
			p = &BinPart{Key: k, Label: labelOf(in, ByBin, k)}
			of[k] = p
		}
		switch m.Flow {
		case Fed:
			p.Fed += m.Mass
		case BinToLandfill:
			p.ToLandfill += m.Mass
		default:
			p.ToElsewhere += m.Mass
		}
	}
	out := make([]BinPart, 0, len(of))
	for _, k := range slices.Sorted(maps.Keys(of)) {
		out = append(out, *of[k])
	}
	return out
}

func labelOf(in Input, dim Dimension, key string) string {
	if l := in.Labels[dim][key]; l != "" {
		return l
	}
	return strings.ReplaceAll(key, "_", " ")
}

// daily is what was received by day, with the days around the season.
func daily(in Input) []DayMass {
	out := make([]DayMass, 0, len(in.Movements))
	for _, m := range in.Movements {
		if m.Flow == Received {
			out = append(out, DayMass{m.Day, m.Mass})
		}
	}
	for _, d := range in.Around {
		if !in.Season.Contains(d.Day) {
			out = append(out, d)
		}
	}
	return out
}

func header(in Input, u Uncertainty, r Report) Header {
	today := in.Calendar.DayOf(in.PreparedAt)
	h := Header{
		Garden: in.Garden, Boundary: cmp.Or(in.Boundary, DefaultBoundary),
		SeasonKey: in.Season.Key, SeasonLabel: in.Season.Label,
		Timeframe: in.Season.DayRange.String(), Zone: in.Calendar.Zone().String(), Instants: in.Calendar.Interval(in.Season),
		Closed:  !today.Before(in.Season.End),
		InScope: in.InScope, OutOfScope: in.OutOfScope, Destination: cmp.Or(in.Destination, DefaultDestination),
		Methods: mixOf(in.Movements), Uncertainty: u, UncertaintyText: u.Statement(),
		RejectsExcluded: r.Balance.Rejected,
		PreparedAt:      in.PreparedAt.UTC().Truncate(time.Second), PreparedBy: in.PreparedBy, Revision: in.Revision,
	}
	if len(h.InScope) == 0 {
		h.InScope = DefaultInScope()
	}
	if len(h.OutOfScope) == 0 {
		h.OutOfScope = DefaultOutOfScope()
	}
	noted := map[measure.Day]bool{}
	for _, m := range in.Movements {
		h.Records += m.Records
		if m.Records > 0 {
			noted[m.Day] = true
		}
	}
	for d := in.Season.Start; d.Before(in.Season.End) && !d.After(today); d = d.Add(1) {
		if !noted[d] {
			h.DaysWithoutRecords++
		}
	}
	return h
}
