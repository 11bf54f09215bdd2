package demo

import (
	"context"
	"math"
	"slices"
	"time"

	"midden/internal/farm"
	"midden/internal/service"
)

// tendStore goes through the scraps on hand in the evening: what is thawed is
// weighed again, what has gone off leaves, what the bins can't take before it
// does is frozen or goes to a heap, and in a lull some of the freezer comes out.
func (s *story) tendStore(ctx context.Context) error {
	s.at(20, 40)
	for _, l := range s.lots {
		var err error
		switch {
		case l.left < 1:
		case !l.thawed.IsZero() && l.thawed == s.day:
			// thaws overnight
		case !l.thawed.IsZero() && l.thawed.Add(1) == s.day:
			err = s.reweigh(ctx, l)
		case !l.frozen && l.useBy.Before(s.day):
			err = s.spoil(ctx, l)
		case !l.frozen && !l.useBy.After(s.day) && s.chance(0.85):
			err = s.overflowTo(ctx, l, l.left) // its last day, and nobody fed it
		}
		if err != nil {
			return err
		}
	}
	if err := s.relieve(ctx); err != nil {
		return err
	}
	if s.is(time.Monday) {
		if err := s.thaw(ctx); err != nil {
			return err
		}
	}
	s.lots = slices.DeleteFunc(s.lots, func(l *lot) bool { return l.left < 1 })
	return nil
}

// reweigh books the water that ran off in the night.
func (s *story) reweigh(ctx context.Context, l *lot) error {
	s.after(3)
	now := math.Round(l.left * (0.88 + 0.07*s.rng.Float64()))
	done, err := s.svc.ReweighLot(ctx, s.lead(), s.garden, l.id, service.Reweighing{Cause: farm.Thawed, Mass: weighed(now)}, service.Once{})
	x, err := value(s, done, err)
	l.left = float64(x.OnHand)
	return err
}

// spoil books what has gone off: most of it to the hot heap's rough side.
func (s *story) spoil(ctx context.Context, l *lot) error {
	s.after(2)
	in := service.Spoilage{To: farm.ToElsewhere, Note: "Past its day; dug into the rough heap."}
	if s.chance(0.3) {
		in = service.Spoilage{To: farm.ToLandfill, Note: "Mouldy, with packaging in it."}
	}
	done, err := s.svc.SpoilLot(ctx, s.lead(), s.garden, l.id, in, service.Once{})
	_, err = value(s, done, err)
	l.left = 0
	return err
}

// weeklyNeed is what the keepers take the bins to eat in a week.
func (s *story) weeklyNeed() (g float64) {
	for _, b := range s.bins {
		if b.status == farm.BinInUse && b.fed() != nil && b.rescue == 0 && b.sim.TempC > 4 {
			g += b.rationG * 7 / 5
		}
	}
	return g
}

// relieve sends away, on the evening of a drop-off, what would not be eaten in
// time: into the freezer while it has room, else to the heaps.
func (s *story) relieve(ctx context.Context) error {
	if !s.is(time.Wednesday) && !s.is(time.Saturday) {
		return nil
	}
	var fresh float64
	for _, l := range s.lots {
		if !l.frozen {
			fresh += l.left
		}
	}
	over := fresh - 1.05*s.weeklyNeed()
	if over < 3000 {
		return nil
	}
	by := slices.Clone(s.lots)
	slices.SortStableFunc(by, func(a, b *lot) int { return int(b.left - a.left) })
	for _, l := range by {
		if over < 1000 || l.left < 1500 || l.frozen || !l.thawed.IsZero() {
			continue
		}
		g := math.Floor(min(l.left, over))
		s.after(4)
		var err error
		if catalogue[l.material].Freezable && s.freezerRoomG(l.material) > g && s.chance(0.6) {
			err = s.freeze(ctx, l, g)
		} else {
			err = s.overflowTo(ctx, l, g)
		}
		if err != nil {
			return err
		}
		over -= g
	}
	return nil
}

// freezerRoomG is how much of a material the chest still takes.
func (s *story) freezerRoomG(material string) float64 {
	room := 0.9 * float64(siteFacts[cellar].freezerL)
	for _, l := range s.lots {
		if l.frozen {
			room -= l.left / catalogue[l.material].DensityGPerL.Value
		}
	}
	return room * catalogue[material].DensityGPerL.Value
}

func (s *story) freeze(ctx context.Context, l *lot, g float64) error {
	in := service.Storage{Place: farm.Freezer, SiteID: s.sites[cellar]}
	if g < l.left {
		e := weighed(g)
		in.Part = &e
	}
	done, err := s.svc.StoreLot(ctx, s.lead(), s.garden, l.id, in, service.Once{})
	x, err := value(s, done, err)
	if err != nil {
		return err
	}
	l.left -= float64(x.OnHand)
	s.lots = append(s.lots, &lot{id: x.ID, material: l.material, left: float64(x.OnHand), site: cellar, useBy: x.UseBy, frozen: true})
	return nil
}

func (s *story) overflowTo(ctx context.Context, l *lot, g float64) error {
	in := service.ToOverflow{PlaceID: s.overflow[s.rng.IntN(len(s.overflow))]}
	if g < l.left {
		e := weighed(g)
		in.Part = &e
	}
	done, err := s.svc.OverflowLot(ctx, s.lead(), s.garden, l.id, in, service.Once{})
	_, err = value(s, done, err)
	l.left -= math.Round(g)
	return err
}

// thaw takes frozen scraps out when little is on the shelf.
func (s *story) thaw(ctx context.Context) error {
	var fresh float64
	for _, l := range s.lots {
		if !l.frozen {
			fresh += l.left
		}
	}
	want := 0.4*s.weeklyNeed() - fresh
	for _, l := range s.lots {
		old := l.frozen && l.useBy.Sub(s.day) < 30
		if !l.frozen || want < 1000 && !old {
			continue
		}
		s.after(5)
		done, err := s.svc.StoreLot(ctx, s.lead(), s.garden, l.id, service.Storage{Place: farm.Shelf, SiteID: s.sites[cellar], UseBy: s.day.Add(6)}, service.Once{})
		if _, err = value(s, done, err); err != nil {
			return err
		}
		l.frozen, l.thawed, l.useBy = false, s.day, s.day.Add(6)
		want -= l.left
	}
	return nil
}

// overfeeds tells whether it is the month in which one keeper, new and eager,
// gives too much.
func (s *story) overfeeds() bool {
	at := s.day.Sub(s.first)
	return at >= sourFrom && at < sourFrom+sourDays
}

// rescueBins mends a bin that has gone sour in stages: some of the food out, a
// third of the bed at a time lifted and mixed with dry bedding, the lid open
// under a light, until it smells of earth.
func (s *story) rescueBins(ctx context.Context) error {
	for _, b := range s.bins {
		sour := b.fact.sours && s.day.Sub(s.first) >= sourFrom+sourDays
		if sour && b.rescueOn.IsZero() {
			b.rescue, b.rescueOn = rescueSteps, s.day
			s.tell("%s smells %s: a rescue begins", b.fact.name, b.smell(s.rng))
		}
		if b.rescue == 0 || s.day.Before(b.rescueOn) {
			continue
		}
		s.at(18, 50)
		if err := s.rescueStep(ctx, b); err != nil {
			return err
		}
	}
	return nil
}

// The overfeeding begins in the ninth month and lasts four weeks.
const (
	sourFrom    = 250
	sourDays    = 28
	rescueSteps = 4
)

func (s *story) rescueStep(ctx context.Context, b *bin) error {
	a := s.carer(b).actor
	sec := b.fed()
	if sec == nil {
		sec = &b.sections[0]
	}
	done, err := s.svc.RecordCheck(ctx, a, s.garden, b.check(s.rng, s.air(b), true), service.Once{})
	if _, err = value(s, done, err); err != nil {
		return err
	}
	s.after(10)
	care := func(c farm.CareEvent) error {
		c.BinID = b.id
		done, err := s.svc.RecordCare(ctx, a, s.garden, c, service.Once{})
		_, err = value(s, done, err)
		return err
	}
	if b.rescue == rescueSteps {
		if err := s.takeOut(ctx, a, b, sec); err != nil {
			return err
		}
	} else {
		parts, err := s.enough(ctx, b.fact.site, 2600)
		if err != nil {
			return err
		}
		dry, err := s.start(ctx, b.fact.site, parts, 0, true, "Dry, for a wet bed.")
		if err != nil {
			return err
		}
		if err := s.layOnly(ctx, a, b, dry, dry.left, "A third of the bed lifted and mixed with dry bedding; the rest left as refuge."); err != nil {
			return err
		}
		if err := care(farm.CareEvent{Kind: farm.LimeOrEggshell, SectionID: sec.id, Note: "A handful of crushed eggshell."}); err != nil {
			return err
		}
	}
	if err := care(farm.CareEvent{Kind: farm.LidLeftOpen, Note: "Open under a light for the night."}); err != nil {
		return err
	}
	b.rescue--
	b.rescueOn = s.day.Add(4)
	if b.rescue == 0 && (b.sim.MoisturePct() > 82 || b.uneatenPerM2() > 5) {
		b.rescue = 1 // not yet: another third
	} else if b.rescue == 0 {
		b.rationG = 0.3 * b.rationG
		s.tell("%s smells of earth again", b.fact.name)
	}
	return nil
}

// takeOut lifts the rotting food off the top, to the hot heap.
func (s *story) takeOut(ctx context.Context, a service.Actor, b *bin, sec *section) error {
	by := map[string]float64{}
	var order []string
	for _, f := range b.sim.Food {
		if by[f.Material] == 0 {
			order = append(order, f.Material)
		}
		by[f.Material] += f.DryG + f.WaterG
	}
	slices.SortStableFunc(order, func(x, y string) int { return int(by[y] - by[x]) })
	for _, m := range order[:min(3, len(order))] {
		g := math.Floor(0.6 * by[m])
		if g < 200 {
			continue
		}
		e := weighed(g)
		s.after(3)
		done, err := s.svc.RecordCare(ctx, a, s.garden, farm.CareEvent{BinID: b.id, SectionID: sec.id, Kind: farm.FoodRemoved, Material: m,
			To: farm.RemovedToOverflow, PlaceID: s.overflow[0], Entered: &e, Note: "Rotting on top; lifted off."}, service.Once{})
		c, err := value(s, done, err)
		if err != nil {
			return err
		}
		b.takeFood(m, float64(c.Grams))
	}
	return nil
}
