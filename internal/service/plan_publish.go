package service

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/planner"
	"midden/internal/store"
)

// PublishPlan makes a plan the garden's; the one before it is replaced. The
// problem is drafted anew from the records, as on the day the plan was worked
// out: when it is another one, the plan is refused with plan.stale. It also
// refuses with plan.not_found, and with plan.state one that was replaced.
// Publishing the garden's plan again changes nothing.
func (s *Service) PublishPlan(ctx context.Context, a Actor, garden, id uuid.UUID, once Once) (Done[Plan], error) {
	var row *store.Row[store.PlanRecord]
	var kept *store.Row[store.PlanWork]
	_, _, err := s.read(ctx, a, garden, farm.PublishPlan, func(b *store.Batch) { row, kept = b.Plan(id), b.PlanWork(id) })
	if err != nil {
		return Done[Plan]{}, err
	}
	p, err := row.Or("plan.not_found", "no plan %s in this garden", id)
	if err != nil {
		return Done[Plan]{}, err
	}
	var stale error
	if p.State == farm.PlanProposed {
		if stale, err = s.stale(ctx, a, garden, p, kept.Value.Problem); err != nil {
			return Done[Plan]{}, err
		}
	}
	type known struct {
		plan  *store.Row[store.PlanRecord]
		tasks *store.Rows[farm.PlanTask]
	}
	return write(ctx, s, a, garden, farm.PublishPlan, once,
		func(tx *store.Tx) known { return known{tx.LockPlan(id), tx.PlanTasks(id)} },
		func(w *Work, k known) (Plan, error) {
			now := Plan{k.plan.Value, k.tasks.Values}
			switch {
			case now.State == farm.PlanPublished:
				return now, nil
			case now.State == farm.PlanReplaced:
				return Plan{}, farm.Refuse("plan.state", "", "this plan was published on %s and then replaced; work out a new one", now.PublishedAt.Format("2006-01-02"))
			case stale != nil:
				return Plan{}, stale
			}
			w.PublishPlan(id, w.Member.ID, w.Now)
			now.State, now.PublishedAt, now.PublishedBy = farm.PlanPublished, w.Now, w.Member.ID
			return now, nil
		})
}

// stale drafts the problem anew and says what differs from the plan's own.
func (s *Service) stale(ctx context.Context, a Actor, garden uuid.UUID, p store.PlanRecord, was []byte) (stale, err error) {
	g, err := s.gather(ctx, a.in(garden), p.ComputedAt, p.Request)
	if err != nil {
		return nil, err
	}
	free, err := s.plans.take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	r, err := s.records(g, p.AsOf, p.Request)
	if err != nil {
		return nil, err
	}
	now := draftPlan(r).problem
	data, err := json.Marshal(now)
	if err != nil {
		return nil, err
	}
	if sha256.Sum256(data) == p.Proof.InputSHA256 && bytes.Equal(data, was) {
		return nil, nil
	}
	before, err := planner.Parse(was)
	if err != nil {
		return nil, err
	}
	return farm.Refuse("plan.stale", "", "the records have moved on since this plan was worked out: %s; work out a new one", planChanges(before, now)), nil
}

// planChanges says in a few words how two problems differ.
func planChanges(was, now *planner.Problem) string {
	var out []string
	count := func(n int, one, many string) {
		switch {
		case n == 1:
			out = append(out, "1 "+one)
		case n > 1:
			out = append(out, fmt.Sprintf("%d %s", n, many))
		}
	}
	count(differ(was.Lots, now.Lots, func(l planner.Lot) string { return l.ID }), "lot or pledge", "lots or pledges")
	count(differ(was.Bins, now.Bins, func(b planner.Bin) string { return b.ID }), "bin", "bins")
	count(differ(was.Sites, now.Sites, func(s planner.Site) string { return s.ID }), "site's bedding or freezer", "sites' bedding or freezers")
	if was.Prices != now.Prices || !slices.Equal(was.Load, now.Load) {
		out = append(out, "the garden's prices")
	}
	if len(out) == 0 {
		return "rules or names changed"
	}
	return strings.Join(out, ", ") + " changed"
}

// differ counts what was added, taken away or altered.
func differ[T any](was, now []T, id func(T) string) int {
	before := make(map[string]*T, len(was))
	for i := range was {
		before[id(was[i])] = &was[i]
	}
	n := 0
	for i := range now {
		old, ok := before[id(now[i])]
		if !ok || !same(*old, now[i]) {
			n++
		}
		delete(before, id(now[i]))
	}
	return n + len(before)
}

// same compares as they are written: an empty list and none are one.
func same[T any](a, b T) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}
