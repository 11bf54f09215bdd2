package service

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"time"

	"github.com/google/uuid"
	"golang.org/x/sync/semaphore"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
	"midden/internal/store"
)

const (
	// planEngine names the way plans are found; it changes when the same
	// problem may get another answer.
	planEngine = "flow-1"
	// planPivots bounds the search: a thousand bins take about half a million.
	planPivots = 5_000_000
	planWait   = 2 * time.Second
)

// planSlots lets only so many plans be worked out at a time.
type planSlots struct {
	slots *semaphore.Weighted
	wait  time.Duration
}

func newPlanSlots(n int) planSlots {
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return planSlots{semaphore.NewWeighted(int64(n)), planWait}
}

// take waits for a slot. It refuses with server.busy when none frees in time.
func (p planSlots) take(ctx context.Context) (free func(), err error) {
	waiting, cancel := context.WithTimeout(ctx, p.wait)
	defer cancel()
	if err := p.slots.Acquire(waiting, 1); err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, farm.Refuse("server.busy", "", "other plans are being worked out; try again in a moment")
	}
	return func() { p.slots.Release(1) }, nil
}

// Plan is a plan with its tasks.
type Plan struct {
	store.PlanRecord
	Tasks []farm.PlanTask
}

// madePlan is a plan as it will be stored.
type madePlan struct {
	Plan
	work store.PlanWork
}

// ComputePlan works out a plan from the garden's records and keeps it as a
// proposal. It refuses with plan.invalid, plan.too_large and server.busy.
func (s *Service) ComputePlan(ctx context.Context, a Actor, garden uuid.UUID, req farm.PlanRequest, once Once) (Done[Plan], error) {
	g, err := s.gather(ctx, a.in(garden), s.now(), req)
	if err != nil {
		return Done[Plan]{}, err
	}
	_, m, ok := g.batch.Actor()
	if !ok {
		return Done[Plan]{}, noGarden(garden)
	}
	if err := authorise(m, farm.ComputePlan); err != nil {
		return Done[Plan]{}, err
	}
	made, err := s.workOut(ctx, g, req)
	if err != nil {
		return Done[Plan]{}, err
	}
	return write(ctx, s, a, garden, farm.ComputePlan, once, func(*store.Tx) struct{} { return struct{}{} },
		func(w *Work, _ struct{}) (Plan, error) {
			p := made.Plan
			p.ID, p.ComputedAt, p.ComputedBy = w.ids(), w.Now, w.Member.ID
			for i := range p.Tasks {
				p.Tasks[i].ID = w.ids()
			}
			return p, w.InsertPlan(p.PlanRecord, made.work, p.Tasks)
		})
}

// PreviewPlan works out a plan for who looks after the database, and keeps
// nothing. It refuses as ComputePlan does.
func (s *Service) PreviewPlan(ctx context.Context, garden uuid.UUID, req farm.PlanRequest) (Preview, error) {
	g, err := s.gather(ctx, store.Scope{Garden: garden}, s.now(), req)
	if err != nil {
		return Preview{}, err
	}
	if x, _, _ := g.batch.Actor(); x.ID == uuid.Nil {
		return Preview{}, noGarden(garden)
	}
	made, err := s.workOut(ctx, g, req)
	if err != nil {
		return Preview{}, err
	}
	out := Preview{Plan: made.Plan, Problem: made.work.Problem, Result: made.work.Result, Names: map[uuid.UUID]string{}}
	for _, x := range g.sites.Values {
		out.Names[x.ID] = x.Name
	}
	for _, x := range g.bins.Values {
		out.Names[x.ID] = x.Name
	}
	for _, x := range g.carers.Values {
		out.Names[x.ID] = x.DisplayName
	}
	return out, nil
}

// Preview is a plan that is not kept, with the names of what it speaks of.
type Preview struct {
	Plan
	Problem []byte
	Result  []byte
	Names   map[uuid.UUID]string // of sites, bins and members
}

// workOut drafts, solves and checks, with no connection held.
func (s *Service) workOut(ctx context.Context, g *gathered, req farm.PlanRequest) (madePlan, error) {
	free, err := s.plans.take(ctx)
	if err != nil {
		return madePlan{}, err
	}
	defer free()
	r, err := s.records(g, measure.Day{}, req)
	if err != nil {
		return madePlan{}, err
	}
	return solveDraft(ctx, draftPlan(r))
}

// solveDraft finds the plan of least cost, judges it anew and reads it.
func solveDraft(ctx context.Context, d *planDraft) (madePlan, error) {
	problem, err := json.Marshal(d.problem)
	if err != nil {
		return madePlan{}, err
	}
	opt := planner.Options{MaxPivots: planPivots, Explain: true}
	r, err := planner.Solve(ctx, d.problem, opt)
	if err != nil {
		return madePlan{}, planRefusal(err)
	}
	if r.StoppedBy == planner.StoppedByCancel {
		return madePlan{}, ctx.Err()
	}
	if faults := planner.Check(d.problem, r); len(faults) > 0 {
		return madePlan{}, fmt.Errorf("plan: its own check refuses it: %s (%d in all)", faults[0], len(faults))
	}
	start, err := d.startBedding(ctx, r, opt)
	if err != nil {
		return madePlan{}, err
	}
	result, err := json.Marshal(r)
	if err != nil {
		return madePlan{}, err
	}
	p := Plan{Tasks: append(start, d.tasks(r)...)}
	p.State, p.Request, p.AsOf = farm.PlanProposed, d.request, d.asOf
	p.Totals = d.totals(r, p.Tasks)
	p.Proof = farm.PlanProof{Value: r.Value, Bound: r.Bound, GapPPM: r.GapPPM, ControllablePPM: r.ControllablePPM,
		Optimal: r.Status == planner.Proven, Pivots: r.Work.Pivots, Engine: planEngine, InputSHA256: sha256.Sum256(problem)}
	if r.StoppedBy != "" {
		p.Proof.Stopped = "the budget of pivots was used up"
	}
	p.Bindings, p.Notes = d.bindings(r), d.allNotes(r, p.Tasks)
	return madePlan{p, store.PlanWork{Problem: problem, Result: result}}, nil
}

// planRefusal turns what the planner can't take into words for people. A
// fault other than of size is ours.
func planRefusal(err error) error {
	var bad *planner.InvalidError
	if errors.As(err, &bad) {
		for _, f := range bad.Faults {
			if f.Rule == "problem.too_large" || f.Rule == "cost.overflow" || f.Rule == "number.range" {
				return farm.Refuse("plan.too_large", "", "the garden's records are too large for one plan (%s); plan fewer days, or name fewer nearest_bins", f)
			}
		}
	}
	return err
}

// Plans lists plans in short, the latest first.
func (s *Service) Plans(ctx context.Context, a Actor, garden uuid.UUID, state farm.PlanState, p store.Page) (store.List[store.PlanRecord], error) {
	return paged(ctx, s, a, garden, farm.ComputePlan, func(b *store.Batch) *store.Paged[store.PlanRecord] { return b.Plans(state, p) })
}

// Plan is one plan with its tasks. It refuses with plan.not_found.
func (s *Service) Plan(ctx context.Context, a Actor, garden, id uuid.UUID) (Plan, error) {
	var row *store.Row[store.PlanRecord]
	var tasks *store.Rows[farm.PlanTask]
	_, _, err := s.read(ctx, a, garden, farm.ComputePlan, func(b *store.Batch) { row, tasks = b.Plan(id), b.PlanTasks(id) })
	if err != nil {
		return Plan{}, err
	}
	p, err := row.Or("plan.not_found", "no plan %s in this garden", id)
	return Plan{p, tasks.Values}, err
}

// PublishedPlan is the garden's plan. It refuses with plan.not_found when none
// was ever published.
func (s *Service) PublishedPlan(ctx context.Context, a Actor, garden uuid.UUID) (Plan, error) {
	var row *store.Row[store.PlanRecord]
	var tasks *store.Rows[farm.PlanTask]
	_, _, err := s.read(ctx, a, garden, farm.ComputePlan, func(b *store.Batch) { row, tasks = b.PublishedPlan(), b.PublishedTasks() })
	if err != nil {
		return Plan{}, err
	}
	p, err := row.Or("plan.not_found", "this garden has no published plan")
	return Plan{p, tasks.Values}, err
}

// PlanProblem is the problem behind a plan, as JSON, to the byte. It refuses
// with plan.not_found.
func (s *Service) PlanProblem(ctx context.Context, a Actor, garden, id uuid.UUID) ([]byte, error) {
	var row *store.Row[store.PlanWork]
	_, _, err := s.read(ctx, a, garden, farm.ComputePlan, func(b *store.Batch) { row = b.PlanWork(id) })
	if err != nil {
		return nil, err
	}
	w, err := row.Or("plan.not_found", "no plan %s in this garden", id)
	return w.Problem, err
}
