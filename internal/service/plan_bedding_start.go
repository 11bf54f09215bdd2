package service

import (
	"context"
	"fmt"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
)

// startBedding says what bedding to begin ageing on the plan's first day, so
// that the weeks it would be ready for are not short. When something is left
// over or rests on stand-in bedding, the problem is solved again as if bedding
// ready by then were plentiful: what that plan lays beyond the books is what to
// start.
func (d *planDraft) startBedding(ctx context.Context, r *planner.Result, opt planner.Options) ([]farm.PlanTask, error) {
	age := d.garden.Settings.BeddingAgeDays
	week := (age + planner.DaysPerWeek - 1) / planner.DaysPerWeek
	if week >= d.problem.Weeks() || r.Totals.Overflow+r.Totals.Declined+r.Totals.StandIn == 0 {
		return nil, nil
	}
	plenty := *d.problem
	plenty.Sites = append([]planner.Site(nil), d.problem.Sites...)
	for i := range plenty.Sites {
		s := &plenty.Sites[i]
		s.Bedding = append([]int64(nil), s.Bedding...)
		s.Bedding[week] = min(planner.MaxUnits, s.Bedding[week]+r.Totals.Supply)
	}
	opt.Explain = false
	rich, err := planner.Solve(ctx, &plenty, opt)
	if err != nil {
		return nil, err
	}
	var out []farm.PlanTask
	ready := d.days[0].Add(age)
	for i, s := range d.problem.Sites {
		b := d.kinds[d.sites[i].ID]
		food := shortfall(rich, s, week)
		if food == 0 || b.unending {
			continue
		}
		g := b.takes(food)
		out = append(out, farm.PlanTask{Kind: farm.TaskStartBedding, Day: d.days[0], SiteID: d.sites[i].ID, Mass: measure.Grams(g),
			Why: clip(fmt.Sprintf("Start %s of bedding, weighed wet, at %s: aged %d days, it is ready on %s, and with it the bins there could be fed %s more from then on than the bedding on the books covers.",
				kilograms(g), s.Label, age, dayLabel(ready), kilograms(food)), 1000)})
	}
	return out, nil
}

// shortfall is the food at a site that the books' bedding does not cover, in
// the worst week from the given one on. Older bedding keeps for later weeks.
func shortfall(r *planner.Result, s planner.Site, week int) int64 {
	food, ready, standIn, worst := int64(0), int64(0), int64(0), int64(0)
	for w := range s.Bedding {
		ready += s.Bedding[w]
		for _, u := range r.Bedding {
			if u.Site == s.ID && u.Week == w {
				food += u.Food
				standIn += u.StandIn
			}
		}
		if w >= week {
			worst = max(worst, food-ready-standIn)
		}
	}
	return worst
}
