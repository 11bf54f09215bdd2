package demo

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// Days of a section: worked on for two weeks after the last feed, then
// maturing; finished after the training guide's 75.
const (
	worksDays  = 14
	ripensDays = 75
	// A batch bin is fed lightly for some weeks before it rests, so that the rest can be short.
	batchWorksWeeks = 6
	batchRipens     = 35
)

// moveSections lets sections come of age on Sundays, and moves the feeding on.
func (s *story) moveSections(ctx context.Context) error {
	if !s.is(time.Sunday) {
		return nil
	}
	s.at(17, 30)
	for _, b := range s.bins {
		if b.status != farm.BinInUse || b.fact.method == farm.FlowThrough {
			continue
		}
		for i := range b.sections {
			if err := s.ripen(ctx, b, &b.sections[i]); err != nil {
				return err
			}
		}
		if f := b.fed(); f != nil && s.day.Sub(f.begun) >= 7*b.fact.weeks {
			if err := s.moveOn(ctx, b, f); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *story) ripen(ctx context.Context, b *bin, sec *section) error {
	since := s.day.Sub(sec.lastFed)
	switch {
	case sec.emptied:
	case sec.stage == farm.Working && b.fact.method != farm.Batch && since >= worksDays:
		return s.stage(ctx, b, sec, farm.Maturing)
	case sec.stage == farm.Maturing && (since >= ripensDays || b.fact.method == farm.Batch && since >= batchRipens):
		return s.stage(ctx, b, sec, farm.Finished)
	}
	return nil
}

// stage moves a section on.
func (s *story) stage(ctx context.Context, b *bin, sec *section, to farm.Stage) error {
	return s.editSection(ctx, b, sec, func(x *farm.Section) { x.Stage = to })
}

func (s *story) editSection(ctx context.Context, b *bin, sec *section, edit func(*farm.Section)) error {
	a := s.carer(b).actor
	list, err := s.svc.Sections(ctx, a, s.garden, b.id, service.Page{})
	if err != nil {
		return err
	}
	i := slices.IndexFunc(list.Items, func(x farm.Section) bool { return x.ID == sec.id })
	if i < 0 {
		return fmt.Errorf("%s has lost %s", b.fact.name, sec.name)
	}
	s.writes++
	next, err := s.svc.UpdateSection(ctx, a, s.garden, b.id, sec.id, list.Items[i].Version, edit)
	if err == nil {
		sec.stage = next.Stage
	}
	return err
}

// moveOn ends the feeding of a section. A batch bin rests as a whole; others go
// on in a new section, or turn round into one that was emptied, and worms are
// carried over in spadefuls of the old bed.
func (s *story) moveOn(ctx context.Context, b *bin, old *section) error {
	if b.fact.method == farm.Batch {
		if old.stage == farm.Feeding {
			return s.stage(ctx, b, old, farm.Working)
		}
		if s.day.Sub(old.begun) < 7*(b.fact.weeks+batchWorksWeeks) {
			return nil
		}
		return s.stage(ctx, b, old, farm.Maturing)
	}
	free := slices.IndexFunc(b.sections, func(x section) bool { return x.emptied })
	if free < 0 && len(b.sections) >= b.fact.parts {
		return nil // the next place is not harvested yet
	}
	if err := s.stage(ctx, b, old, farm.Working); err != nil {
		return err
	}
	from := old.id
	next, err := s.nextSection(ctx, b, free)
	if err != nil {
		return err
	}
	g := max(20, math.Round(0.3*b.sim.WormG))
	done, err := s.svc.MoveWorms(ctx, s.carer(b).actor, s.garden, service.WormMove{From: farm.WormEnd{BinID: b.id, SectionID: from},
		To: farm.WormEnd{BinID: b.id, SectionID: next}, Reason: farm.ForOther, Note: "Picked out of spadefuls of the old bed, to start the new section.",
		Worms: weighedWorms(g)}, service.Once{})
	b.booked(from, -g)
	b.booked(next, g)
	_, err = value(s, done, err)
	return err
}

// weighedWorms are clean worms on a scale.
func weighedWorms(g float64) farm.WormAmount {
	return farm.WormAmount{Method: farm.WormsWeighed, LiveMass: kilograms(g)}
}

// booked keeps in mind what the books hold of worms in a section.
func (b *bin) booked(id uuid.UUID, g float64) {
	if sec := b.sectionOf(id); sec != nil {
		sec.wormsG = max(0, sec.wormsG+g)
	}
}

func (s *story) nextSection(ctx context.Context, b *bin, free int) (uuid.UUID, error) {
	b.position++
	if free >= 0 {
		sec := b.sections[free]
		b.sections = append(slices.Delete(b.sections, free, free+1), sec)
		last := &b.sections[len(b.sections)-1]
		err := s.editSection(ctx, b, last, func(x *farm.Section) { x.Position, x.Stage = b.position, farm.Feeding })
		last.emptied, last.begun, last.lastFed = false, s.day, s.day
		return last.id, err
	}
	name := map[farm.Method]string{farm.Trays: "tray %d", farm.Windrow: "row %d", farm.Wedge: "stretch %d"}[b.fact.method]
	done, err := s.svc.CreateSection(ctx, s.carer(b).actor, s.garden, farm.Section{BinID: b.id, Name: fmt.Sprintf(name, len(b.sections)+1),
		Position: b.position, Stage: farm.Feeding}, service.Once{})
	x, err := value(s, done, err)
	b.sections = append(b.sections, section{id: x.ID, name: x.Name, stage: x.Stage, begun: s.day, lastFed: s.day})
	return x.ID, err
}

// lureWorms draws worms out of finished sections: a dusting, a look after three
// days, a lift to the feeding end, and once more.
func (s *story) lureWorms(ctx context.Context) error {
	for _, b := range s.bins {
		if b.status != farm.BinInUse || b.fact.method == farm.Batch || b.fact.method == farm.FlowThrough || b.sim.TempC < 10 || b.fed() == nil {
			continue
		}
		for i := range b.sections {
			sec := &b.sections[i]
			if sec.stage != farm.Finished || sec.emptied {
				continue
			}
			s.at(19, 30)
			if err := s.lureOn(ctx, b, sec); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *story) lureOn(ctx context.Context, b *bin, sec *section) error {
	a := s.carer(b).actor
	if sec.lure == nil {
		done, err := s.svc.BeginLure(ctx, a, s.garden, farm.Lure{BinID: b.id, SectionID: sec.id}, service.Once{})
		l, err := value(s, done, err)
		sec.lure = &lure{id: l.ID, next: s.day.Add(1), step: farm.LureStepDusted}
		return err
	}
	l := sec.lure
	if s.day.Before(l.next) || l.step == "" {
		return nil
	}
	step := service.LureStep{Kind: l.step}
	switch l.step {
	case farm.LureStepDusted:
		step.Dusting = measure.Quantity{Value: fmt.Sprint(30 + s.rng.IntN(30)), Unit: measure.Gram}
		l.next, l.step = s.day.Add(3), farm.LureStepLooked
	case farm.LureStepLooked:
		l.step = farm.LureStepLifted
	case farm.LureStepLifted:
		g := max(20, math.Round(b.sim.WormG*(0.12+0.06*s.rng.Float64())/float64(1+l.lifts)))
		worms := weighedWorms(g)
		step.Worms, step.ToSection = &worms, b.fed().id
		b.booked(sec.id, -g)
		b.booked(step.ToSection, g)
		l.lifts++
		l.next, l.step = s.day.Add(1), farm.LureStepDusted
		if l.lifts == 2 {
			l.step = farm.LureStepEnded
		}
	case farm.LureStepEnded:
		l.step = ""
	}
	done, err := s.svc.TakeLureStep(ctx, a, s.garden, l.id, step, service.Once{})
	_, err = value(s, done, err)
	return err
}
