package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
	"midden/internal/vermi"
)

// gathered is what one snapshot brings for a plan.
type gathered struct {
	batch     *store.Batch
	sites     *store.Rows[farm.Site]
	bins      *store.Rows[farm.Bin]
	sections  *store.Rows[farm.Section]
	carers    *store.Rows[farm.Member]
	comes     *store.Rows[farm.Availability]
	covers    *store.Rows[farm.Cover]
	lots      *store.Rows[store.LotOnHand]
	pledges   *store.Rows[farm.Pledge]
	history   []*store.Rows[store.IntakeDay] // a list for each stretch of days
	bedding   *store.Rows[store.BeddingStock]
	overrides *store.Rows[farm.MaterialOverride]
	past      store.BinHistory
}

// gather reads everything a plan depends on, all as of one instant and in one
// round trip. at is when the plan was or is worked out; the garden's day is not
// known yet, but it is at most one day off the UTC day.
func (s *Service) gather(ctx context.Context, scope store.Scope, at time.Time, req farm.PlanRequest) (*gathered, error) {
	now := measure.DayIn(at, time.UTC)
	from := req.From
	if from.IsZero() {
		from = now
	}
	days := measure.DayRange{Start: from.Add(-1), End: from.Add(req.Days + 2)}
	g := &gathered{}
	err := s.store.Snapshot(ctx, scope, func(b *store.Batch) {
		g.batch = b
		g.sites, g.bins, g.sections, g.carers = b.AllSites(), b.AllBins(), b.AllSections(), b.Carers()
		g.comes, g.covers = b.Availabilities(), b.CoversBetween(days)
		g.lots, g.bedding, g.overrides = b.LotsOnHand(), b.BeddingOnHand(), b.MaterialOverrides()
		g.past = b.AllBinHistory(now.Add(-rememberedDays))
		g.pledges = b.OpenPledges(days)
		for _, stretch := range wider(historyDays(now, days)) {
			g.history = append(g.history, b.IntakeByDay(stretch))
		}
	})
	return g, err
}

// wider takes a day more on either side.
func wider(stretches []measure.DayRange) []measure.DayRange {
	for i, x := range stretches {
		stretches[i] = measure.DayRange{Start: x.Start.Add(-1), End: x.End.Add(1)}
	}
	return stretches
}

// records sorts what was gathered into what a plan is drafted from. It refuses
// with plan.invalid what can't be planned for.
func (s *Service) records(g *gathered, asOf measure.Day, req farm.PlanRequest) (*planRecords, error) {
	garden, _, _ := g.batch.Actor()
	if asOf.IsZero() {
		var err error
		if asOf, err = garden.DayOf(s.now()); err != nil {
			return nil, err
		}
	}
	if req.From.IsZero() {
		req.From = asOf
	}
	if err := req.Validate(asOf); err != nil {
		return nil, err
	}
	r := &planRecords{garden: garden, asOf: asOf, request: req, sites: g.sites.Values, covers: g.covers.Values,
		lots: g.lots.Values, people: map[uuid.UUID]planKeeper{}, materials: map[string]farm.Material{}}
	for key, m := range s.materialsByKey(g.overrides.Values) {
		r.materials[key] = m.Material
	}
	names := map[uuid.UUID]string{}
	for _, m := range g.carers.Values {
		names[m.ID] = m.DisplayName
	}
	for _, a := range g.comes.Values {
		r.people[a.MemberID] = planKeeper{Name: names[a.MemberID], Known: a.Version > 0, Comes: a.On}
	}
	for _, p := range g.pledges.Values {
		r.pledges = append(r.pledges, planPledge{p.ID, p.ExpectedOn, p.SiteID, p.Material, p.Mass})
	}
	// More was read than is wanted: the garden's day was not known yet.
	for i, stretch := range historyDays(asOf, measure.DayRange{Start: req.From, End: req.From.Add(req.Days)}) {
		for _, x := range g.history[i].Values {
			if accepted := x.Received - x.Rejected; accepted > 0 && stretch.Contains(x.Day) {
				r.history = append(r.history, planIntake{x.Day, x.Site, x.Material, accepted})
			}
		}
	}
	r.addBedding(g.bedding.Values)
	of := map[uuid.UUID][]farm.Section{}
	for _, x := range g.sections.Values {
		of[x.BinID] = append(of[x.BinID], x)
	}
	keeping, past := s.keeping(asOf, garden, g.sites.Values, g.overrides.Values), newBinPast(g.past)
	for _, b := range g.bins.Values {
		r.bins = append(r.bins, planBin{Bin: b, Sections: of[b.ID], Record: past.record(keeping, b, of[b.ID])})
	}
	return r, nil
}

// addBedding gathers the materials of each batch.
func (r *planRecords) addBedding(stock []store.BeddingStock) {
	at := map[uuid.UUID]int{}
	for _, x := range stock {
		if x.Dry {
			r.dry = append(r.dry, planDry{x.SiteID, x.Material, x.Grams, x.Reserve})
			continue
		}
		i, seen := at[x.ID]
		if !seen {
			i = len(r.bedding)
			at[x.ID] = i
			r.bedding = append(r.bedding, planBedding{ID: x.ID, Site: x.SiteID, ReadyOn: x.ReadyFrom(r.asOf), StandIn: x.StandIn, MoisturePct: x.MoisturePct})
		}
		r.bedding[i].Mass += x.Grams
		r.bedding[i].Parts = append(r.bedding[i].Parts, planPart{x.Material, x.Grams})
	}
}

// bareRecord is what is known of a bin before anything is recorded of it.
func bareRecord(b farm.Bin, sections []farm.Section, asOf measure.Day, materials map[string]farm.Material) vermi.Record {
	r := vermi.Record{AsOf: vermiDay(asOf), Materials: materials, Bin: vermi.Bin{Shape: b.Shape, Method: b.Method, Status: b.Status,
		Drained: b.Drained, Species: []vermi.SpeciesShare{{Species: b.Species, Share: 1}}}}
	for _, x := range sections {
		r.Sections = append(r.Sections, vermi.Section{ID: x.ID.String(), Stage: x.Stage, StartedOn: vermiDay(x.StartedOn)})
	}
	return r
}
