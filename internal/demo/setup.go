package demo

import (
	"context"
	"math"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// Days of a set-up (common practice): the bedding stands before the worms come,
// and they settle before the first small feed.
const (
	standsDays  = 3
	settlesDays = 5
	apartDays   = 24
)

// setUpBins lays the bedding of the bins whose week has come, and brings worms
// from outside into those that begin with them.
func (s *story) setUpBins(ctx context.Context) error {
	if s.day.Sub(s.first)%7 == 0 {
		for _, f := range binFacts {
			if f.week == s.week() {
				if err := s.setUp(ctx, f); err != nil {
					return err
				}
			}
		}
	}
	for _, b := range s.bins {
		since := s.day.Sub(b.begun())
		switch {
		case b.fact.wormsG > 0 && b.firstFeed.IsZero() && since >= standsDays:
			if err := s.bringWorms(ctx, b); err != nil {
				return err
			}
		case b.status == farm.BinQuarantine && since >= standsDays+apartDays:
			s.at(17, 0)
			if err := s.setStatus(ctx, b, farm.BinInUse); err != nil {
				return err
			}
			s.tell("%s comes out of quarantine: no jumping worms were found", b.fact.name)
		}
	}
	return nil
}

// begun is the day the bin was set up.
func (b *bin) begun() measure.Day { return b.sections[0].begun }

func (s *story) setUp(ctx context.Context, f binFact) error {
	s.at(9, 5)
	b := newBin(f)
	// An upright cylinder of this kind stands open; the rest have lids.
	in := farm.Bin{Name: f.name, SiteID: s.sites[f.site], Method: f.method, Shape: f.shape, Drained: f.drained, Species: b.fact.species,
		Lidded: f.method != farm.Windrow, Ventilation: farm.AirHoles, Status: farm.BinSetUp,
		Keepers: []uuid.UUID{s.people[f.keepers[0]].id, s.people[f.keepers[1]].id},
		SetUp:   farm.SetUp{BeddingLaidOn: s.day, BeddingDepthMM: setUpMM, GritAdded: true}}
	if f.method == farm.Windrow {
		in.Ventilation = farm.AirOpen
	}
	if f.apart {
		in.Status = farm.BinQuarantine
	}
	done, err := s.svc.CreateBin(ctx, s.lead(), s.garden, in, service.Once{})
	made, err := value(s, done, err)
	if err != nil {
		return err
	}
	b.id, b.status, b.rationG, b.lastTurn = made.ID, made.Status, 1, s.day
	list, err := s.svc.Sections(ctx, s.lead(), s.garden, b.id, service.Page{})
	if err != nil {
		return err
	}
	for _, x := range list.Items {
		b.sections = append(b.sections, section{id: x.ID, name: x.Name, stage: x.Stage, begun: s.day, lastFed: s.day})
	}
	s.bins = append(s.bins, b)
	s.tell("%s is set up: %s", f.name, f.method)
	return s.layBed(ctx, b)
}

// layBed fills a new bin with damp bedding, soaked and wrung out.
func (s *story) layBed(ctx context.Context, b *bin) error {
	s.after(20)
	litres := b.surfaceM2() * min(setUpMM, 0.45*float64(depthOf(b.fact.shape)))
	parts, err := s.enough(ctx, b.fact.site, litres*70)
	if err != nil {
		return err
	}
	batch, err := s.start(ctx, b.fact.site, parts, 70, true, "For setting up "+b.fact.name+".")
	if err != nil {
		return err
	}
	return s.layOnly(ctx, s.lead(), b, batch, batch.left, "Set-up bedding.")
}

func depthOf(s farm.Shape) int {
	switch s.Kind {
	case farm.Trough:
		return s.RadiusMM
	case farm.Stack:
		return s.DepthMM * s.Count
	}
	return s.DepthMM
}

// layOnly lays bedding without food.
func (s *story) layOnly(ctx context.Context, a service.Actor, b *bin, batch *bedding, g float64, note string) error {
	sec := b.fed()
	if sec == nil {
		sec = &b.sections[len(b.sections)-1]
	}
	e := weighed(g)
	done, err := s.svc.RecordCare(ctx, a, s.garden, farm.CareEvent{BinID: b.id, SectionID: sec.id, Kind: farm.FedBeddingOnly,
		BatchID: batch.id, Entered: &e, Note: note}, service.Once{})
	c, err := value(s, done, err)
	if err != nil {
		return err
	}
	dry, water := asLaid(c.Laid, c.MoisturePct)
	b.put(sec, nil, dry, water)
	batch.left -= float64(c.Grams)
	return nil
}

// bringWorms lays worms from outside on top of the bed, weighed clean.
func (s *story) bringWorms(ctx context.Context, b *bin) error {
	s.at(10, 0)
	g := math.Round(float64(b.fact.wormsG) * (0.96 + 0.08*s.rng.Float64()))
	done, err := s.svc.MoveWorms(ctx, s.lead(), s.garden, service.WormMove{From: farm.WormEnd{Outside: "Worm grower on the hill road"},
		To: farm.WormEnd{BinID: b.id, SectionID: b.fed().id}, Species: b.fact.species, Reason: farm.ForPurchase,
		Worms: weighedWorms(g)}, service.Once{})
	if _, err = value(s, done, err); err != nil {
		return err
	}
	b.moveWorms(g)
	b.booked(b.fed().id, g)
	return s.wormsCame(ctx, b, g)
}

// wormsCame notes the worms on the checklist; the first feed waits some days.
func (s *story) wormsCame(ctx context.Context, b *bin, g float64) error {
	b.firstFeed, b.rationG = s.day.Add(settlesDays), max(150, 0.25*g*4)
	return s.editBin(ctx, b, func(x *farm.Bin) { x.SetUp.WormsLaidOn = s.day })
}

// moveStock splits a crowded bin for each bin that waits for worms.
func (s *story) moveStock(ctx context.Context) error {
	if !s.is(time.Thursday) && !s.is(time.Sunday) {
		return nil
	}
	for _, b := range s.bins {
		if b.fact.wormsG > 0 || !b.firstFeed.IsZero() || s.day.Sub(b.begun()) < standsDays {
			continue
		}
		if from := s.crowded(b); from != nil {
			if err := s.split(ctx, from, b); err != nil {
				return err
			}
		}
	}
	return nil
}

// crowded is the bin with most worms to the square metre, of those warm enough
// to split; nil while none has enough.
func (s *story) crowded(to *bin) *bin {
	var best *bin
	for _, b := range s.bins {
		if b == to || b.status != farm.BinInUse || b.fact.species != to.fact.species || b.fed() == nil || b.rescue > 0 ||
			b.sim.TempC < 10 || b.sim.TempC > 27 || b.densityKgPerM2() < 1.2 || !b.splitOn.IsZero() && s.day.Sub(b.splitOn) < 60 {
			continue
		}
		if best == nil || b.densityKgPerM2() > best.densityKgPerM2() {
			best = b
		}
	}
	return best
}

// split moves worms from a crowded bin: half of its bed, or as much clean worm
// as the new bed wants, on the scale.
func (s *story) split(ctx context.Context, from, to *bin) error {
	s.at(16, 30)
	move := service.WormMove{From: farm.WormEnd{BinID: from.id, SectionID: from.fed().id}, To: farm.WormEnd{BinID: to.id, SectionID: to.fed().id},
		Reason: farm.ForSplit, Note: "Crowded: many under the trowel at every place."}
	var g float64
	byBed := s.chance(0.4) && from.fed().wormsG > 100
	if byBed {
		move.Worms = farm.WormAmount{Method: farm.WormsShare, SharePct: 50}
		along := guessed(from.sim.BeddingDryG * 0.5 * 3)
		move.BeddingAlong = &along
	} else {
		g = math.Round(min(0.45*from.sim.WormG, 1100*to.surfaceM2())/10) * 10
		move.Worms = weighedWorms(g)
	}
	a := s.lead()
	done, err := s.svc.MoveWorms(ctx, a, s.garden, move, service.Once{})
	moved, err := value(s, done, err)
	if err != nil {
		return err
	}
	from.booked(move.From.SectionID, -float64(moved.Grams))
	to.booked(move.To.SectionID, float64(moved.Grams))
	from.splitOn = s.day
	how := "weighed"
	if byBed {
		how, g = "half the bed", from.share(to, 0.45)
	} else {
		g = -from.moveWorms(-g)
		to.moveWorms(g)
	}
	s.tell("%s is split for %s, %s", from.fact.name, to.fact.name, how)
	return s.wormsCame(ctx, to, g)
}
