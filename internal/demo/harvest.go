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

// castings is a castings lot on its way from the bin to a bag.
type castings struct {
	id    uuid.UUID
	from  *bin
	left  float64
	stage farm.CastingsStage
	next  measure.Day // the next step
}

const (
	mouthFirst = 140 // days until a flow-through is first cut at the bottom
	mouthEvery = 49
)

// harvestBins is the Sunday harvest: emptied sections whose worms were lured
// away, batch bins that are done, and the bottom of flow-throughs. None in a
// cold bed.
func (s *story) harvestBins(ctx context.Context) error {
	if !s.is(time.Sunday) {
		return nil
	}
	s.at(16, 0)
	for _, b := range s.bins {
		if b.status != farm.BinInUse || b.sim.TempC < 10 || b.sim.TempC > 28 || b.rescue > 0 {
			continue
		}
		if b.fact.method == farm.FlowThrough {
			if s.day.Sub(b.firstFeed) >= mouthFirst && (b.harvested.IsZero() || s.day.Sub(b.harvested) >= mouthEvery) {
				if err := s.harvest(ctx, b, &b.sections[0], 0.32, false); err != nil {
					return err
				}
			}
			continue
		}
		for i := range b.sections {
			sec := &b.sections[i]
			ready := sec.stage == farm.Finished && !sec.emptied && (b.fact.method == farm.Batch || sec.lure != nil && sec.lure.step == "")
			if !ready {
				continue
			}
			if err := s.harvest(ctx, b, sec, b.partOf(sec), true); err != nil {
				return err
			}
			if b.fact.method == farm.Batch {
				if err := s.stage(ctx, b, sec, farm.Feeding); err != nil {
					return err
				}
				sec.emptied, sec.begun, sec.lastFed = false, s.day, s.day
			}
			break // one section a Sunday
		}
	}
	return nil
}

// partOf is the share of the bin's castings that lies in a section.
func (b *bin) partOf(sec *section) float64 {
	var all float64
	for i := range b.sections {
		all += b.sections[i].dryG
	}
	if all <= 0 {
		return 0
	}
	return min(0.92, sec.dryG/all)
}

func (s *story) harvest(ctx context.Context, b *bin, sec *section, share float64, empties bool) error {
	rough := 0.15 * share
	if empties {
		rough = 0.75 * share
	}
	wet := b.harvest(share, rough)
	if wet < 200 {
		return nil
	}
	s.after(20)
	in := service.HarvestNew{BinID: b.id, SectionID: sec.id, Amount: weighed(50 * math.Round(wet/50)), Emptied: empties}
	if empties && s.chance(0.5) {
		heads := 15 + s.rng.IntN(60)
		in.WormsOut = &farm.WormAmount{Method: farm.WormsCounted, Count: heads}
		b.moveWorms(-float64(heads) * farm.MixedWormMG / 1000)
	}
	done, err := s.svc.Harvest(ctx, s.carer(b).actor, s.garden, in, service.Once{})
	h, err := value(s, done, err)
	if err != nil {
		return err
	}
	b.harvested = s.day
	if empties {
		sec.emptied, sec.dryG, sec.lure = true, 0, nil
	}
	s.castings = append(s.castings, &castings{id: h.LotID, from: b, left: float64(h.Grams), stage: farm.CastingsHarvested, next: s.day.Add(4)})
	s.tell("%s of castings from %s", h.Grams.Format(measure.Metric), b.fact.name)
	return nil
}

// tendCastings dries, screens, rests and readies castings, and gives them away
// on Saturdays.
func (s *story) tendCastings(ctx context.Context) error {
	s.at(17, 10)
	for _, c := range s.castings {
		if c.stage != farm.CastingsReady && !s.day.Before(c.next) {
			if err := s.stepCastings(ctx, c); err != nil {
				return err
			}
		}
	}
	if s.is(time.Saturday) {
		return s.giveAway(ctx)
	}
	return nil
}

func (s *story) stepCastings(ctx context.Context, c *castings) error {
	in := service.CastingsStepNew{}
	weigh := func(share float64) {
		e := weighed(50 * math.Round(c.left*share/50))
		in.Amount = &e
	}
	back := 0.0
	wait := 0
	switch c.stage {
	case farm.CastingsHarvested:
		in.Stage, wait = farm.CastingsDrying, 12
		weigh(0.95)
	case farm.CastingsDrying:
		in.Stage, wait = farm.CastingsScreened, 3
		if sec := c.from.fed(); sec != nil && c.left > 2000 {
			back = 50 * math.Round(0.12*c.left/50)
			e := weighed(back)
			in.Screenings, in.ScreeningsBin, in.ScreeningsSection = &e, c.from.id, sec.id
		}
		weigh(0.78)
	case farm.CastingsScreened:
		in.Stage, wait = farm.CastingsResting, 24
	case farm.CastingsResting:
		in.Stage = farm.CastingsReady
		weigh(0.98)
	}
	s.after(6)
	done, err := s.svc.StepCastings(ctx, s.carer(c.from).actor, s.garden, c.id, in, service.Once{})
	lot, err := value(s, done, err)
	if err != nil {
		return err
	}
	if back > 0 { // screenings are damp castings with bits of bedding
		c.from.screened(back)
	}
	c.left, c.stage, c.next = float64(lot.OnHand), lot.Stage, s.day.Add(wait)
	return nil
}

// screened puts screenings back, half of them dry matter.
func (b *bin) screened(g float64) {
	b.sim.CastingsDryG += g / 2
	b.sim.WaterG += g / 2
	b.inDryG += g / 2
}

// giveAway hands castings out, most in spring and to those who brought scraps.
func (s *story) giveAway(ctx context.Context) error {
	month := s.day.Month()
	times := 3
	if month >= 3 && month <= 6 || month == 9 || month == 10 {
		times = 9
	}
	for range times {
		c := s.readyCastings()
		if c == nil {
			return nil
		}
		s.after(9)
		g := min(c.left, 500*float64(3+s.rng.IntN(9)))
		in := service.GiveawayNew{LotID: c.id, Amount: weighed(g)}
		switch draw := s.rng.Float64(); {
		case draw < 0.5:
			in.To, in.HouseholdID = farm.ToHousehold, s.houses[s.rng.IntN(len(s.houses))]
		case draw < 0.75:
			in.To, in.MemberID = farm.ToMember, s.people[s.rng.IntN(len(s.people)-1)].id
		case draw < 0.93:
			in.To, in.Class = farm.ToBed, fmt.Sprintf("Terrace bed %d", 1+s.rng.IntN(6))
		default:
			in.To, in.Class = farm.ToOutsider, "Primary school"
		}
		done, err := s.svc.GiveCastings(ctx, s.people[1].actor, s.garden, in, service.Once{})
		given, err := value(s, done, err)
		if err != nil {
			return err
		}
		c.left -= float64(given.Grams)
	}
	return nil
}

func (s *story) readyCastings() *castings {
	for _, c := range s.castings {
		if c.stage == farm.CastingsReady && c.left >= 400 {
			return c
		}
	}
	return nil
}
