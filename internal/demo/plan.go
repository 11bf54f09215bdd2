package demo

import (
	"context"
	"fmt"
	"math"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// In the last weeks the garden goes by its plan: worked out and published each
// Monday for the fortnight ahead.
const (
	plannedWeeks = 8
	planDays     = 14
)

func (s *story) publishPlan(ctx context.Context) error {
	if !s.is(time.Monday) || s.end.Sub(s.day) > 7*plannedWeeks {
		return nil
	}
	s.at(7, 45)
	plan, err := s.plan(ctx)
	if err != nil {
		return err
	}
	clear(s.planned)
	for _, t := range plan.Tasks {
		s.planned[t.Day] = append(s.planned[t.Day], t)
	}
	s.tell("plan for %d days: %s of %s to the bins, in %d visits", planDays, plan.Totals.Fed.Format(measure.Metric),
		plan.Totals.Supply.Format(measure.Metric), plan.Totals.Visits)
	return nil
}

// plan works a plan out and makes it the garden's.
func (s *story) plan(ctx context.Context) (service.Plan, error) {
	done, err := s.svc.ComputePlan(ctx, s.lead(), s.garden, farm.PlanRequest{Days: planDays, Expected: true}, service.Once{})
	p, err := value(s, done, err)
	if err != nil {
		return p, fmt.Errorf("compute: %w", err)
	}
	s.after(5)
	done, err = s.svc.PublishPlan(ctx, s.lead(), s.garden, p.ID, service.Once{})
	return value(s, done, err)
}

// tasksOf are today's feedings of a bin.
func (s *story) tasksOf(b *bin) []farm.PlanTask {
	var out []farm.PlanTask
	for _, t := range s.planned[s.day] {
		if t.BinID == b.id && (t.Kind == farm.TaskFeed || t.Kind == farm.TaskThawAndFeed) {
			out = append(out, t)
		}
	}
	return out
}

// byPlan does the tasks as far as the look allows: what the plan names, from the
// lot it names, from the lot that kept the pledge, or from the like that came
// instead of what was expected. Most of the bedding goes with the first.
func (s *story) byPlan(b *bin, sec *section, tasks []farm.PlanTask, most float64, wet bool) []feed {
	var out []feed
	left := 1.6 * most // a plan may know of days until the next visit that the keeper's rule does not
	for _, t := range tasks {
		if left < 80 || t.SectionID != sec.id {
			continue
		}
		lots := s.lotsFor(t, min(float64(t.Mass), left))
		if len(lots) == 0 {
			continue
		}
		f := feed{in: service.FeedIn{BinID: b.id, SectionID: sec.id, Lots: lots, PlanTaskID: t.ID}}
		if len(out) == 0 {
			s.lay(&f, b, wet)
		} else {
			f.in.CoverMM = out[0].in.CoverMM // under the same cover
		}
		out = append(out, f)
		left -= math.Min(float64(t.Mass), left)
	}
	return out
}

// lotsFor takes what a task asks for off the shelf.
func (s *story) lotsFor(t farm.PlanTask, want float64) []service.PartOf {
	named := t.LotID
	if t.PledgeID != uuid.Nil {
		named = s.kept[t.PledgeID]
	}
	var out []service.PartOf
	for _, l := range s.lots {
		like := t.Expected != "" && l.group() == catalogue[t.Material].Group
		if want < 50 || len(out) >= 5 {
			break
		}
		if !s.feedable(l) || l.id != named && !like {
			continue
		}
		g := math.Floor(min(want, l.left))
		if l.left-g < 100 {
			g = l.left
		}
		out = append(out, s.take(l, g))
		want -= g
	}
	return out
}
