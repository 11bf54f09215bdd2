package service

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
)

const (
	mostBindings = 20
	mostNotes    = 200
)

// tasks turns an answer into things to do, day by day. Their ids are left to
// the caller; all else is the same for the same records.
func (d *planDraft) tasks(r *planner.Result) []farm.PlanTask {
	why := newReasons(r)
	var out []farm.PlanTask
	for _, f := range r.Feedings {
		t := d.task(farm.TaskFeed, f.Lot, f.Day, f.Mass)
		b := d.bins[d.binIx[f.Bin]]
		t.BinID, t.SectionID, t.SiteID, t.KeeperIDs = b.ID, b.section, b.SiteID, b.there[f.Day]
		t.Why = why.fed(f)
		if f.TakenOut != nil {
			t.Kind = farm.TaskThawAndFeed
			t.Why = clip(t.Why+" Take it out of the freezer on "+dayLabel(d.days[*f.TakenOut])+".", 1000)
		}
		out = append(out, t)
	}
	d.layBedding(out)
	for _, f := range r.Freezes {
		t := d.task(farm.TaskFreeze, f.Lot, f.Day, f.Mass)
		t.Why = d.whyFreeze(r, f)
		out = append(out, t)
	}
	for _, l := range r.LeftOver {
		kind := farm.TaskOverflow
		if l.Declined {
			kind = farm.TaskTurnAway
		}
		t := d.task(kind, l.Lot, d.problem.Lots[d.lotIx[l.Lot]].Arrive, l.Mass)
		t.Why = why.left(l.Lot)
		out = append(out, t)
	}
	d.inOrder(out)
	d.chooseBatches(out)
	return out
}

func (d *planDraft) task(kind farm.TaskKind, lot string, day int, mass int64) farm.PlanTask {
	l := d.lots[d.lotIx[lot]]
	return farm.PlanTask{Kind: kind, Day: d.days[day], LotID: l.lot, PledgeID: l.pledge, Expected: l.expected,
		Material: l.material.Key, SiteID: l.site, Mass: measure.Grams(mass)}
}

// layBedding gives every feeding its part of the least bedding for all that the
// bin gets on that day, by mass. The parts sum to the whole, rounded up.
func (d *planDraft) layBedding(tasks []farm.PlanTask) {
	type visit struct {
		bin uuid.UUID
		day measure.Day
	}
	of := map[visit][]int{}
	for i, t := range tasks {
		v := visit{t.BinID, t.Day}
		of[v] = append(of[v], i)
	}
	for v, list := range of {
		bin := d.bins[d.binIx[v.bin.String()]]
		var food []planFood
		masses := make([]measure.Grams, len(list))
		for j, i := range list {
			food = append(food, planFood{d.materials[tasks[i].Material], int64(tasks[i].Mass)})
			masses[j] = tasks[i].Mass
		}
		need := math.Ceil(leastBedding(d.kinds[bin.SiteID].kind, bin.targets, food))
		for j, g := range spread(measure.Grams(need), masses) {
			tasks[list[j]].Bedding = g
		}
	}
}

var taskRank = map[farm.TaskKind]int{farm.TaskStartBedding: 0, farm.TaskFeed: 1, farm.TaskThawAndFeed: 2, farm.TaskFreeze: 3,
	farm.TaskOverflow: 4, farm.TaskTurnAway: 5}

// inOrder sorts by day, what to do, and the bins in the order of their names;
// what is still equal keeps the order of the lots.
func (d *planDraft) inOrder(tasks []farm.PlanTask) {
	slices.SortStableFunc(tasks, func(a, b farm.PlanTask) int {
		return cmp.Or(a.Day.Compare(b.Day), cmp.Compare(taskRank[a.Kind], taskRank[b.Kind]),
			cmp.Compare(d.binIx[a.BinID.String()], d.binIx[b.BinID.String()]))
	})
}

func (d *planDraft) chooseBatches(tasks []farm.PlanTask) {
	s := d.newRipeStock()
	for i := range tasks {
		if t := &tasks[i]; t.Bedding > 0 {
			t.BatchID = s.take(t.SiteID, t.Day, t.Bedding)
		}
	}
}

// reasons finds the planner's sentence for a part of a lot.
type reasons struct {
	placed map[[2]string]string // lot, bin
	thawed map[[2]string]string
	rest   map[string]string
}

func newReasons(r *planner.Result) reasons {
	x := reasons{map[[2]string]string{}, map[[2]string]string{}, map[string]string{}}
	for _, one := range r.Reasons {
		switch key := [2]string{one.Lot, one.Bin}; {
		case one.Bin == "" && one.Code != planner.KeptFrozen:
			x.rest[one.Lot] = one.Text
		case one.Code == planner.PlacedThawed:
			x.thawed[key] = one.Text
		case one.Bin != "":
			x.placed[key] = one.Text
		}
	}
	return x
}

func (x reasons) fed(f planner.Feeding) string {
	key := [2]string{f.Lot, f.Bin}
	text := x.placed[key]
	if f.TakenOut != nil {
		text = cmp.Or(x.thawed[key], text)
	}
	return clip(cmp.Or(text, "It is part of the plan of least cost."), 900)
}

func (x reasons) left(lot string) string {
	return clip(cmp.Or(x.rest[lot], "No bin has room for it in time."), 1000)
}

// whyFreeze says when frozen food is fed.
func (d *planDraft) whyFreeze(r *planner.Result, f planner.Freezing) string {
	text := fmt.Sprintf("%s of %s goes into the freezer at %s: ", kilograms(f.Mass), d.problem.Lots[d.lotIx[f.Lot]].Label, d.siteName(f.Site))
	first := -1
	for _, x := range r.Feedings {
		if x.Lot == f.Lot && x.TakenOut != nil && (first < 0 || x.Day < first) {
			first = x.Day
		}
	}
	if first >= 0 {
		return clip(text+"there is better room for it on "+dayLabel(d.days[first])+".", 1000)
	}
	return clip(text+"no bin has room for it in time, and it keeps there until after the plan.", 1000)
}

func (d *planDraft) siteName(id string) string {
	for _, s := range d.problem.Sites {
		if s.ID == id {
			return s.Label
		}
	}
	return id
}

// bindings are the limits that bind most, in the garden's points.
func (d *planDraft) bindings(r *planner.Result) []farm.PlanBinding {
	list := slices.Clone(r.Worth)
	slices.SortStableFunc(list, func(a, b planner.Worth) int { return cmp.Compare(b.CostPerUnit, a.CostPerUnit) })
	out := []farm.PlanBinding{}
	for _, w := range list[:min(len(list), mostBindings)] {
		what, more := d.limit(w)
		text := fmt.Sprintf("One more kilogram of %s would spare up to %s of food.", more, kilograms(w.SparedG))
		if w.SparedG == 0 {
			text = fmt.Sprintf("One more kilogram of %s would be worth up to %d points.", more, w.CostPerUnit)
		}
		out = append(out, farm.PlanBinding{What: clip(what, 300), Rule: string(w.Cause), WorthPerKg: w.CostPerUnit, Sentence: clip(text, 600)})
	}
	return out
}

// limit names a limit, and what one kilogram more of it is.
func (d *planDraft) limit(w planner.Worth) (what, more string) {
	bin, site, group := "", "", groupLabel[farm.Group(w.Group)]
	if i, ok := d.binIx[w.Bin]; ok {
		bin = d.bins[i].Name
	}
	site = d.siteName(w.Site)
	on := func() string { return dayLabel(d.days[*w.Day]) }
	week := func() string {
		first := *w.Week * planner.DaysPerWeek
		return fmt.Sprintf("the week from %s", dayLabel(d.days[first]))
	}
	switch w.Cause {
	case planner.CauseGoEasy:
		return fmt.Sprintf("%s in %s on %s", group, bin, on()), fmt.Sprintf("%s allowed in %s on %s", group, bin, on())
	case planner.CauseWeek:
		return fmt.Sprintf("%s in %s", bin, week()), fmt.Sprintf("appetite of %s in %s", bin, week())
	case planner.CauseBedding:
		return fmt.Sprintf("aged bedding at %s in %s", site, week()), fmt.Sprintf("food covered by aged bedding at %s in %s", site, week())
	case planner.CauseStandIn:
		return fmt.Sprintf("stand-in bedding at %s", site), fmt.Sprintf("food covered by stand-in bedding at %s", site)
	case planner.CauseFreezer:
		return fmt.Sprintf("the freezer at %s", site), fmt.Sprintf("freezer room for %s at %s", group, site)
	}
	return fmt.Sprintf("%s on %s", bin, on()), fmt.Sprintf("room in %s on %s", bin, on())
}

func (d *planDraft) totals(r *planner.Result, tasks []farm.PlanTask) farm.PlanTotals {
	t := r.Totals
	out := farm.PlanTotals{Supply: measure.Grams(t.Supply), Fed: measure.Grams(t.Fed), Frozen: measure.Grams(t.StillFrozen),
		Overflow: measure.Grams(t.Overflow), Declined: measure.Grams(t.Declined)}
	seen := map[[2]string]bool{}
	for _, x := range tasks {
		if x.Kind == farm.TaskStartBedding {
			continue
		}
		out.Bedding += x.Bedding
		if x.BinID != uuid.Nil {
			seen[[2]string{x.BinID.String(), x.Day.String()}] = true
		}
	}
	out.Visits = len(seen)
	return out
}

// allNotes are what the draft assumed and what the planner did.
func (d *planDraft) allNotes(r *planner.Result, tasks []farm.PlanTask) []string {
	out := append(slices.Clone(d.notes), d.beddingNotes(tasks)...)
	for i, n := range out {
		out[i] = clip(n, 600)
	}
	if r.Totals.StandIn > 0 {
		out = append(out, fmt.Sprintf("%s of food is covered by fresh-wetted bedding, for want of aged bedding.", kilograms(r.Totals.StandIn)))
	}
	if out == nil {
		out = []string{}
	}
	return out[:min(len(out), mostNotes)]
}

// kilograms prints a mass for a sentence, to three figures.
func kilograms(g int64) string {
	if g < 1000 {
		return fmt.Sprintf("%d g", g)
	}
	return fmt.Sprintf("%.3g kg", float64(g)/1000)
}

// clip shortens a text to so many characters.
func clip(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most-1]) + "…"
}
