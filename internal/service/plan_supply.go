package service

import (
	"cmp"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
)

// planIntake is the mass of a material that a site took in on a day.
type planIntake struct {
	Day      measure.Day
	Site     uuid.UUID
	Material string
	Mass     measure.Grams
}

const (
	formerYears  = 3  // looked at for the same weeks
	recentDays   = 28 // looked at when there is no former year
	weeksAround  = 1  // on either side of the same ISO week
	leastExpects = measure.Grams(500)
)

// historyDays are the days whose intake a forecast for a range of days wants.
func historyDays(asOf measure.Day, days measure.DayRange) []measure.DayRange {
	out := []measure.DayRange{{Start: asOf.Add(-recentDays), End: asOf.Add(1)}}
	for year := 1; year <= formerYears; year++ {
		first, last := sameWeek(days.Start, year), sameWeek(days.End.Add(-1), year)
		out = append(out, measure.DayRange{Start: first.Add(-7 * weeksAround), End: last.Add(7*weeksAround + 1)})
	}
	return out
}

// sameWeek is the day with the same weekday in the same ISO 8601 week so many
// years earlier; week 53 becomes the last week of a year that has none.
func sameWeek(d measure.Day, yearsBack int) measure.Day {
	year, week := d.ISOWeek()
	weekday := d.Sub(d.WeekStart())
	fourth, err := measure.NewDay(year-yearsBack, 1, 4) // always in week 1
	if err != nil {
		return measure.Day{}
	}
	at := fourth.WeekStart().Add(7*(week-1) + weekday)
	if y, _ := at.ISOWeek(); y != year-yearsBack {
		at = at.Add(-7)
	}
	return at
}

// supplyKey is what a forecast is made for.
type supplyKey struct {
	site  uuid.UUID
	group farm.Group
}

// forecast says what a site may expect, by go-easy group, on a day: the mean of
// the same weekday in the same ISO weeks, and those on either side, of former
// years; where the books do not reach back so far, of the last four weeks.
type forecast struct {
	asOf  measure.Day
	first measure.Day // the books begin
	on    map[measure.Day]map[supplyKey]measure.Grams
	chief map[supplyKey]string // the material that came most
}

func newForecast(asOf measure.Day, history []planIntake, group func(string) farm.Group) forecast {
	f := forecast{asOf: asOf, on: map[measure.Day]map[supplyKey]measure.Grams{}, chief: map[supplyKey]string{}}
	sums := map[supplyKey]map[string]measure.Grams{}
	for _, x := range history {
		k := supplyKey{x.Site, group(x.Material)}
		if f.on[x.Day] == nil {
			f.on[x.Day] = map[supplyKey]measure.Grams{}
		}
		f.on[x.Day][k] += x.Mass
		if f.first.IsZero() || x.Day.Before(f.first) {
			f.first = x.Day
		}
		if sums[k] == nil {
			sums[k] = map[string]measure.Grams{}
		}
		sums[k][x.Material] += x.Mass
	}
	for k, by := range sums {
		for material, g := range by {
			if best := by[f.chief[k]]; f.chief[k] == "" || g > best || g == best && material < f.chief[k] {
				f.chief[k] = material
			}
		}
	}
	return f
}

// like are the days that a day is judged by.
func (f forecast) like(day measure.Day) []measure.Day {
	var out []measure.Day
	keep := func(d measure.Day) {
		if !f.first.IsZero() && !d.Before(f.first) && d.Before(f.asOf) {
			out = append(out, d)
		}
	}
	for year := 1; year <= formerYears; year++ {
		same := sameWeek(day, year)
		for w := -weeksAround; w <= weeksAround; w++ {
			keep(same.Add(7 * w))
		}
	}
	if len(out) > 0 {
		return out
	}
	for back := 1; back <= recentDays; back++ {
		if d := f.asOf.Add(-back); d.Weekday() == day.Weekday() {
			keep(d)
		}
	}
	return out
}

// mean is what may be expected on a day, rounded down.
func (f forecast) mean(day measure.Day) map[supplyKey]measure.Grams {
	days := f.like(day)
	out := map[supplyKey]measure.Grams{}
	for _, d := range days {
		for k, g := range f.on[d] {
			out[k] += g
		}
	}
	for k := range out {
		out[k] /= measure.Grams(len(days))
	}
	return out
}

// addExpected adds what nobody has pledged but former weeks make likely, less
// what is pledged for the day and what has already come on it.
func (d *planDraft) addExpected() {
	f := newForecast(d.asOf, d.history, d.groupOf)
	for i, day := range d.days {
		mean := f.mean(day)
		for _, x := range d.pledges {
			if x.Day == day {
				mean[supplyKey{x.Site, d.groupOf(x.Material)}] -= x.Mass
			}
		}
		for k, g := range f.on[day] {
			if day == d.asOf {
				mean[k] -= g
			}
		}
		keys := make([]supplyKey, 0, len(mean))
		for k, g := range mean {
			if g >= leastExpects && d.knowsSite(k.site) {
				keys = append(keys, k)
			}
		}
		slices.SortFunc(keys, func(a, b supplyKey) int {
			return cmp.Or(cmp.Compare(a.site.String(), b.site.String()), cmp.Compare(a.group, b.group))
		})
		for _, k := range keys {
			m := d.materials[f.chief[k]]
			// The same site, group and day have the same id in every plan.
			id := uuid.NewSHA1(d.garden.ID, fmt.Appendf(nil, "expected %s %s %s", k.site, k.group, day))
			what := groupLabel[k.group]
			d.addLot(id, planner.Lot{Kind: planner.Expected, Mass: int64(mean[k]), Arrive: i, Freezable: m.Freezable,
				Latest: d.latest(farm.UseByFor(m, farm.Shelf, day)), Label: "expected " + what},
				draftLot{expected: fmt.Sprintf("%s, expected on %s", what, day), material: m, site: k.site})
		}
	}
}

func (d *planDraft) groupOf(material string) farm.Group {
	return cmp.Or(d.materials[material].Group, farm.Plain)
}

func (d *planDraft) knowsSite(id uuid.UUID) bool {
	return slices.ContainsFunc(d.sites, func(s farm.Site) bool { return s.ID == id })
}

// addFreezers turns each freezer's litres into drawers in grams. What is frozen
// already keeps its place; the litres left are shared among the groups that may
// be frozen at the site, in proportion to the litres that will come of each.
func (d *planDraft) addFreezers() {
	for i := range d.sites {
		frozen, coming := map[string]bulk{}, map[string]bulk{}
		var held, wanted float64
		for j := range d.lots {
			if d.lots[j].site != d.sites[i].ID {
				continue
			}
			l := &d.problem.Lots[j]
			litres := float64(l.Mass) / densityOf(d.lots[j].material)
			switch {
			case l.Frozen:
				frozen[l.Group] = frozen[l.Group].with(l.Mass, litres)
				held += litres
			case l.Freezable:
				coming[l.Group] = coming[l.Group].with(l.Mass, litres)
				wanted += litres
			}
		}
		free := max(0, float64(d.sites[i].FreezerL)-held)
		for _, g := range d.problem.Groups {
			room := frozen[g.ID].mass
			if c := coming[g.ID]; c.litres > 0 {
				share := min(1, free/wanted)
				room += int64(float64(c.mass) * share)
			}
			if room > 0 {
				d.problem.Sites[i].Drawers = append(d.problem.Sites[i].Drawers, planner.Drawer{Group: g.ID, Capacity: room})
			}
		}
	}
}

type bulk struct {
	mass   int64
	litres float64
}

func (b bulk) with(mass int64, litres float64) bulk { return bulk{b.mass + mass, b.litres + litres} }

// densityOf is the bulk density in g/L; 500, that of mixed kitchen scraps, when
// the material has none (common practice, no source).
func densityOf(m farm.Material) float64 {
	if m.DensityGPerL.Value > 0 {
		return m.DensityGPerL.Value
	}
	return 500
}
