package service

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
	"midden/internal/store"
	"midden/internal/vermi"
)

// planRecords is what a plan is worked out from: the garden's records as they
// stand at one instant. Lists come in a fixed order.
type planRecords struct {
	garden    farm.Garden
	asOf      measure.Day      // the garden's day on which the plan is worked out
	request   farm.PlanRequest // From is set
	sites     []farm.Site
	bins      []planBin
	people    map[uuid.UUID]planKeeper // active members who may care for bins
	covers    []farm.Cover
	lots      []store.LotOnHand
	pledges   []planPledge
	history   []planIntake
	bedding   []planBedding
	dry       []planDry
	materials map[string]farm.Material
}

// planBin is a bin that is not closed, with all that is known of it.
type planBin struct {
	farm.Bin
	Sections []farm.Section
	Record   vermi.Record
}

// planKeeper is somebody who visits bins. Known is false for one who never
// noted when.
type planKeeper struct {
	Name  string
	Known bool
	Comes func(measure.Day) bool
}

// planPledge is scraps promised for a day.
type planPledge struct {
	ID       uuid.UUID
	Day      measure.Day
	Site     uuid.UUID
	Material string
	Mass     measure.Grams
}

// planDraft is a problem with what is needed to read its answer.
type planDraft struct {
	*planRecords
	problem *planner.Problem
	days    []measure.Day
	bins    []draftBin            // as in the problem
	lots    []draftLot            // as in the problem
	kinds   map[uuid.UUID]bedding // by site
	stock   []siteStock           // as the sites
	lotIx   map[string]int
	binIx   map[string]int
	notes   []string
}

// draftBin is a bin of the problem.
type draftBin struct {
	*planBin
	section uuid.UUID
	there   [][]uuid.UUID // per day, who is there
	targets vermi.Targets
}

// draftLot is a lot of the problem: exactly one of lot, pledge and expected.
type draftLot struct {
	lot, pledge uuid.UUID
	expected    string
	material    farm.Material
	site        uuid.UUID
}

const (
	// A kilogram's points are a gram's thousandths: no price is rounded.
	planUnitG = 1
	// Thawing takes a night, and the keeper must hear of it before.
	thawDays = 1
	// Up to this many bins a lot considers all of them.
	allBinsUpTo   = 60
	nearestBeyond = 24
)

// draftPlan turns the records into a planning problem. It is pure: the same
// records give the same problem, byte for byte.
func draftPlan(r *planRecords) *planDraft {
	d := &planDraft{planRecords: r, problem: &planner.Problem{Days: r.request.Days, UnitG: planUnitG, ThawDays: thawDays, FirstThaw: thawDays},
		lotIx: map[string]int{}, binIx: map[string]int{}, kinds: map[uuid.UUID]bedding{}}
	p := d.problem
	for i := range p.Days {
		day := r.request.From.Add(i)
		d.days = append(d.days, day)
		p.DayLabels = append(p.DayLabels, dayLabel(day))
	}
	p.Nearest = r.request.Nearest
	if p.Nearest == 0 && len(r.bins) > allBinsUpTo {
		p.Nearest = nearestBeyond
	}
	d.prices()
	d.addGroups()
	d.addSites()
	d.addBins()
	d.addLots()
	d.addFreezers()
	d.addBedding()
	return d
}

// prices puts the garden's points per kilogram into thousandths of a point per
// gram. What no setting says stands in a fixed share of a kilogram's worth:
// turning a pledge away costs nine tenths of leaving received food uneaten,
// food still frozen at the end half, covering food with stand-in bedding a
// five-hundredth.
func (d *planDraft) prices() {
	g := d.garden.Settings.Prices
	d.problem.Prices = planner.Prices{
		Overflow: g.PerKgEaten, Decline: max(1, g.PerKgEaten*9/10), StillFrozen: g.PerKgEaten / 2, Hold: g.HoldPerKgDay,
		Thaw: g.ThawPerKg, Carry: 10 * g.Per100mKg, StandIn: max(1, g.PerKgEaten/500),
	}
	least := int64(0)
	for i, upTo := range []int64{60, 80, 90, 100} {
		least = max(least, g.LoadSlopes[i])
		d.problem.Load = append(d.problem.Load, planner.Step{UpToPct: upTo, Cost: least})
	}
	if g.PerVisit > 0 {
		d.note("This engine does not weigh the price of a visit (%d points).", g.PerVisit)
	}
}

func (d *planDraft) note(format string, args ...any) {
	d.notes = append(d.notes, fmt.Sprintf(format, args...))
}

func (d *planDraft) addGroups() {
	for _, c := range vermi.GroupCaps() {
		d.problem.Groups = append(d.problem.Groups, planner.Group{ID: string(c.Group), Label: groupLabel[c.Group], MaxPct: int64(c.Pct)})
	}
}

var groupLabel = map[farm.Group]string{
	farm.Plain: "plain food", farm.Fruit: "fruit", farm.Coffee: "coffee grounds", farm.Citrus: "citrus",
	farm.OnionFamily: "onions and their kin", farm.BreadGrain: "bread and grain", farm.SaltyOily: "salty or oily food",
	farm.VeryWet: "very wet food",
}

// earthRadiusM is the mean radius of the Earth, R1 (Moritz, Geodetic Reference
// System 1980, Journal of Geodesy 74, 2000).
const earthRadiusM = 6_371_008.8

// addSites lays the sites on a flat grid in metres around the first one with
// coordinates. A garden is small against the Earth's curve.
func (d *planDraft) addSites() {
	var origin *farm.Coordinates
	var lost []string
	for i := range d.sites {
		if at := d.sites[i].At; at != nil && origin == nil {
			origin = at
		} else if at == nil {
			lost = append(lost, d.sites[i].Name)
		}
	}
	for i := range d.sites {
		s := &d.sites[i]
		d.problem.Sites = append(d.problem.Sites, planner.Site{ID: s.ID.String(), Label: s.Name, Place: gridPlace(s.At, origin),
			Bedding: make([]int64, d.problem.Weeks())})
	}
	if origin != nil && len(lost) > 0 {
		d.note("No coordinates are noted for %s: the plan takes them to be at %s.", strings.Join(lost, ", "), d.siteAt(origin))
	}
}

func (d *planDraft) siteAt(c *farm.Coordinates) string {
	for i := range d.sites {
		if d.sites[i].At == c {
			return d.sites[i].Name
		}
	}
	return ""
}

func gridPlace(at, origin *farm.Coordinates) *planner.Place {
	if at == nil || origin == nil {
		return &planner.Place{}
	}
	rad := math.Pi / 180
	east := math.Remainder(at.Longitude-origin.Longitude, 360)
	return &planner.Place{
		XM: int64(math.Round(east * rad * math.Cos(origin.Latitude*rad) * earthRadiusM)),
		YM: int64(math.Round((at.Latitude - origin.Latitude) * rad * earthRadiusM)),
	}
}

func (d *planDraft) addBins() {
	var unasked []string
	n := len(d.planRecords.bins)
	drafts, visits := make([]draftBin, n), make([][]int, n)
	for i := range drafts {
		b := &d.planRecords.bins[i]
		drafts[i] = draftBin{planBin: b, section: feedingSection(b.Sections), there: make([][]uuid.UUID, len(d.days))}
		visits[i] = d.visits(&drafts[i], &unasked)
	}
	lead := d.request.From.Sub(d.asOf)
	type room struct {
		state vermi.State
		slots []vermi.Slot
	}
	// Working a bin through is most of the work of a plan, and bins do not know of each other.
	rooms := each(n, func(i int) room {
		model := vermi.Work(drafts[i].Record)
		return room{model.State(), bestVisits(model, lead+len(d.days), visits[i])}
	})
	weeks := d.problem.Weeks()
	for i, x := range drafts {
		x.targets = d.targets(x.planBin, rooms[i].state)
		out := planner.Bin{ID: x.ID.String(), Label: x.Name, Site: x.SiteID.String(), Room: make([]int64, len(d.days)), Weekly: make([]int64, weeks)}
		for _, slot := range rooms[i].slots {
			day := slot.Offset - lead
			out.Room[day] = int64(slot.Grams)
			out.Weekly[day/planner.DaysPerWeek] += int64(slot.Grams)
			if out.Limits == nil {
				out.Limits = d.limits(slot.Caps)
			}
		}
		d.binIx[out.ID] = len(d.bins)
		d.bins = append(d.bins, x)
		d.problem.Bins = append(d.problem.Bins, out)
	}
	slices.Sort(unasked)
	for _, name := range slices.Compact(unasked) {
		d.note("%s has not noted when they can come; the plan reckons with every day.", name)
	}
}

// feedingSection is the section that is fed: the one furthest along that is
// feeding; zero when there is none.
func feedingSection(list []farm.Section) uuid.UUID {
	id, at := uuid.Nil, -1
	for _, s := range list {
		if s.Stage == farm.Feeding && s.Position > at {
			id, at = s.ID, s.Position
		}
	}
	return id
}

// visits lists the days, counted from asOf, on which the bin can be fed, and
// notes who is there. It says why when there are none.
func (d *planDraft) visits(x *draftBin, unasked *[]string) []int {
	switch {
	case x.Status == farm.BinResting || x.Status == farm.BinQuarantine:
		d.note("%s is %s: it gets nothing.", x.Name, map[farm.BinStatus]string{farm.BinResting: "resting", farm.BinQuarantine: "in quarantine"}[x.Status])
		return nil
	case len(x.Keepers) == 0:
		d.note("%s has no keeper: it gets nothing.", x.Name)
		return nil
	case x.section == uuid.Nil:
		d.note("%s has no feeding section: it gets nothing.", x.Name)
		return nil
	}
	var offsets []int
	for i, day := range d.days {
		for _, keeper := range x.Keepers {
			if in := d.standIn(keeper, day); in != uuid.Nil {
				keeper = in
			}
			who, ok := d.people[keeper]
			if ok && !who.Known {
				*unasked = append(*unasked, who.Name)
			}
			if ok && (!who.Known || who.Comes(day)) && !slices.Contains(x.there[i], keeper) {
				x.there[i] = append(x.there[i], keeper)
			}
		}
		if len(x.there[i]) > 0 {
			offsets = append(offsets, day.Sub(d.asOf))
		}
	}
	if len(offsets) == 0 {
		d.note("No keeper of %s can come from %s to %s.", x.Name, dayLabel(d.days[0]), dayLabel(d.days[len(d.days)-1]))
	} else if first := offsets[0] - d.days[0].Sub(d.asOf); first >= 3 {
		d.note("No keeper of %s can come before %s.", x.Name, dayLabel(d.days[first]))
	}
	return offsets
}

// bestVisits chooses among the days on which a bin can be visited. Every visit
// lays a cover that takes depth, so a bin that is fed each day is soon full:
// the days are thinned to the closest spacing, up to a week, that gives up next
// to nothing of the most the bin can be fed.
func bestVisits(m *vermi.Model, horizon int, offsets []int) []vermi.Slot {
	var tries [planner.DaysPerWeek][]vermi.Slot
	var sums [planner.DaysPerWeek]int64
	for i := range tries {
		tries[i] = m.Capacity(horizon, spaced(offsets, i+1))
		for _, s := range tries[i] {
			sums[i] += int64(s.Grams)
		}
	}
	most := slices.Max(sums[:])
	for i := range tries {
		if sums[i]*100 >= most*97 {
			return tries[i]
		}
	}
	return tries[0] // never reached: the most is one of them
}

// spaced drops days that come sooner after the one before than so many days.
func spaced(offsets []int, gap int) []int {
	var out []int
	for _, o := range offsets {
		if len(out) == 0 || o-out[len(out)-1] >= gap {
			out = append(out, o)
		}
	}
	return out
}

// standIn is who stands in for a keeper on a day; zero when nobody does.
func (d *planDraft) standIn(keeper uuid.UUID, day measure.Day) uuid.UUID {
	for _, c := range d.covers {
		if c.KeeperID == keeper && c.Days.Contains(day) {
			return c.StandInID
		}
	}
	return uuid.Nil
}

// limits are the bin's go-easy shares where they differ from the common ones.
func (d *planDraft) limits(caps []vermi.GroupCap) []planner.GroupMax {
	out := []planner.GroupMax{}
	for i, g := range d.problem.Groups {
		if pct := int64(caps[i].Pct); pct != g.MaxPct {
			out = append(out, planner.GroupMax{Group: g.ID, Pct: &pct})
		}
	}
	return out
}

func (d *planDraft) addLots() {
	for _, l := range d.planRecords.lots {
		m := d.materials[l.Material]
		frozen := l.Place == farm.Freezer
		out := planner.Lot{Kind: planner.OnHand, Mass: int64(l.OnHand), Frozen: frozen, Freezable: m.Freezable && !frozen,
			Latest: d.latest(l.UseBy), Label: materialLabel(m, l.Material)}
		d.addLot(l.ID, out, draftLot{lot: l.ID, material: m, site: l.SiteID})
	}
	for _, x := range d.pledges {
		day := x.Day.Sub(d.request.From)
		if day < 0 || day >= len(d.days) || x.Mass <= 0 {
			continue
		}
		m := d.materials[x.Material]
		out := planner.Lot{Kind: planner.Pledge, Mass: int64(x.Mass), Arrive: day, Freezable: m.Freezable,
			Latest: d.latest(farm.UseByFor(m, farm.Shelf, x.Day)), Label: "pledged " + materialLabel(m, x.Material)}
		d.addLot(x.ID, out, draftLot{pledge: x.ID, material: m, site: x.Site})
	}
	if d.request.Expected {
		d.addExpected()
	}
}

func (d *planDraft) addLot(id uuid.UUID, l planner.Lot, x draftLot) {
	l.ID, l.Site, l.Group = id.String(), x.site.String(), string(cmp.Or(x.material.Group, farm.Plain))
	d.lotIx[l.ID] = len(d.lots)
	d.lots = append(d.lots, x)
	d.problem.Lots = append(d.problem.Lots, l)
}

// latest is the last day of the plan on which something may be fed. Scraps
// without a use-by day keep as long as the plan; -1 is past use.
func (d *planDraft) latest(useBy measure.Day) int {
	if useBy.IsZero() {
		return len(d.days) - 1
	}
	return max(-1, min(useBy.Sub(d.request.From), len(d.days)-1))
}

// materialLabel is the material's name inside a sentence.
func materialLabel(m farm.Material, key string) string {
	if m.Name == "" {
		return strings.ReplaceAll(key, "_", " ")
	}
	return strings.ToLower(m.Name[:1]) + m.Name[1:]
}

func dayLabel(d measure.Day) string {
	_, month, day := d.Date()
	return fmt.Sprintf("%s %d %s", d.Weekday(), day, month)
}

// vermiDay is a garden's day as the science of the bin counts it.
func vermiDay(d measure.Day) vermi.Day {
	return vermi.DayOf(d.Date())
}
