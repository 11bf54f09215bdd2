package service

import (
	"context"
	"errors"
	"testing"
	"time"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
)

func TestOnlySoManyPlansAreWorkedOutAtATime(t *testing.T) {
	t.Parallel()
	p := newPlanSlots(1)
	p.wait = time.Millisecond
	free, err := p.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.take(t.Context()); farm.CodeOf(err) != "server.busy" {
		t.Errorf("a second plan: %v", err)
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := p.take(gone); !errors.Is(err, context.Canceled) {
		t.Errorf("for a request that is gone: %v", err)
	}
	free()
	if free, err = p.take(t.Context()); err != nil {
		t.Fatalf("after the first is done: %v", err)
	}
	free()
}

func TestAGardenTooLargeForOnePlanIsToldWhatToDo(t *testing.T) {
	t.Parallel()
	r := garden()
	r.garden.Settings.Prices.PerKgEaten = 1_000_000
	for n := range 3_000 {
		r.lot(n, "apples", 2_000_000, measure.Day{})
	}
	if _, err := solveDraft(t.Context(), draftPlan(r)); farm.CodeOf(err) != "plan.too_large" {
		t.Errorf("got %v", err)
	}
}

func TestACancelledRequestGetsNoHalfPlan(t *testing.T) {
	t.Parallel()
	r := garden()
	r.lot(1, "apples", 3_000, measure.Day{})
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := solveDraft(gone, draftPlan(r)); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

func TestWhatMovedOnIsNamed(t *testing.T) {
	t.Parallel()
	was := garden()
	was.lot(1, "apples", 3_000, measure.Day{})
	was.lot(2, "apples", 2_000, measure.Day{})
	for says, change := range map[string]func(*planRecords){
		"1 lot or pledge changed":                    func(r *planRecords) { r.lots[0].OnHand = 1_000 },
		"2 lots or pledges changed":                  func(r *planRecords) { r.lots[0].OnHand, r.lots = 1_000, r.lots[:1] },
		"1 bin, 1 site's bedding or freezer changed": func(r *planRecords) { r.bins[0].Keepers = nil },
		"1 site's bedding or freezer changed":        func(r *planRecords) { r.bedding[0].Mass = 400_000 },
		"the garden's prices changed":                func(r *planRecords) { r.garden.Settings.Prices.ThawPerKg = 5 },
		"rules or names changed":                     func(r *planRecords) { r.request.Nearest = 3 },
	} {
		now := garden()
		now.lot(1, "apples", 3_000, measure.Day{})
		now.lot(2, "apples", 2_000, measure.Day{})
		change(now)
		if got := planChanges(draftPlan(was).problem, draftPlan(now).problem); got != says {
			t.Errorf("%q, want %q", got, says)
		}
	}
}

// The planner's own words for a cause are what docs/planner.md lists.
func TestEveryKindOfLimitHasAName(t *testing.T) {
	t.Parallel()
	d := draftPlan(garden())
	zero := 0
	seen := map[string]bool{}
	for _, c := range []planner.Cause{planner.CauseRoom, planner.CauseGoEasy, planner.CauseWeek, planner.CauseBedding, planner.CauseStandIn, planner.CauseFreezer} {
		what, more := d.limit(planner.Worth{Cause: c, Bin: d.problem.Bins[0].ID, Site: d.problem.Sites[0].ID, Group: "citrus", Day: &zero, Week: &zero})
		if seen[what] || len(what) < 10 || len(more) < 10 {
			t.Errorf("%s: %q, %q", c, what, more)
		}
		seen[what] = true
	}
}
