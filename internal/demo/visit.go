package demo

import (
	"context"
	"math"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/vermi"
)

// visit is one bin on a keeper's round: the look, and what follows from it.
type visit struct {
	bin   *bin
	check farm.Check
	feeds []feed
	care  []farm.CareEvent
	turns bool
}

// feed is one feeding with what it is to take from where.
type feed struct {
	in    service.FeedIn
	under *bedding
	taken float64            // of it, to be put right by what was booked
	extra map[string]float64 // unrecorded scraps: what was truly there
}

// visitBins lets every keeper who comes today go round.
func (s *story) visitBins(ctx context.Context) error {
	hour := 18
	if s.is(time.Saturday) || s.is(time.Sunday) {
		hour = 15
	}
	for i, p := range s.people {
		if p.fact.days == "" || !p.comes(s.day) || s.inPlaceOf(p) != p {
			continue
		}
		s.at(hour, 2*i)
		var round []visit
		for _, b := range s.bins {
			if s.keeps(p, b) && s.due(b) {
				round = append(round, s.look(b))
			}
		}
		if err := s.record(ctx, p, round); err != nil {
			return err
		}
	}
	return nil
}

// keeps tells whether a person looks after a bin today, as keeper or stand-in.
func (s *story) keeps(p *person, b *bin) bool {
	for _, k := range b.fact.keepers {
		if s.inPlaceOf(s.people[k]) == p {
			return true
		}
	}
	return false
}

// due tells whether a bin wants a visit: every five days, in the cold every seven;
// on the days that the garden's plan names, it is the plan that says.
func (s *story) due(b *bin) bool {
	since := s.day.Sub(b.lastVisit)
	if b.firstFeed.IsZero() || s.day.Before(b.firstFeed) || since == 0 {
		return false
	}
	for _, t := range s.planned[s.day] {
		if t.BinID == b.id {
			return true
		}
	}
	gap := 5
	if b.sim.TempC < 9 {
		gap = 7
	}
	if len(s.planned) > 0 {
		gap = 7
	}
	return since >= gap
}

// look makes the check and decides.
func (s *story) look(b *bin) visit {
	days := min(max(5, s.day.Sub(b.lastVisit)), 7)
	b.looks++
	b.lastVisit = s.day
	v := visit{bin: b, check: b.check(s.rng, s.air(b), b.looks%4 == 1)}
	sec := b.fed()
	if sec == nil || b.status == farm.BinQuarantine {
		return v
	}
	g := b.rationOf(v.check, days, s.rng)
	if sec.stage == farm.Working {
		g *= 0.4 // a batch bin towards its end
	}
	if b.fact.sours && s.overfeeds() {
		g = 4 * 0.7 * 1000 * b.fedSurfaceM2() * float64(days) // whatever the look says
	} else if b.rescue > 0 || b.depthMM() > 0.93*vermi.DepthMM(b.fact.shape) {
		g = 0
	}
	wet := v.check.SqueezeBottom >= 4
	if v.check.SqueezeTop <= 2 && !wet {
		water := math.Ceil(b.surfaceM2() * 6)
		v.care = append(v.care, farm.CareEvent{BinID: b.id, Kind: farm.Watered, Water: litres(int(water))})
	}
	if !b.fact.drained && s.day.Sub(b.lastTurn) > 56 {
		v.turns, b.lastTurn = true, s.day
		v.care = append(v.care, farm.CareEvent{BinID: b.id, Kind: farm.Turned, SectionID: sec.id, Note: "Within the section, a refuge left."})
	}
	if tasks := s.tasksOf(b); len(s.planned) > 0 {
		if g > 0 {
			v.feeds = s.byPlan(b, sec, tasks, g, wet)
		}
		return v
	}
	if g >= 150 {
		if f, ok := s.compose(b, sec, s.choose(b, g*s.fair()), wet); ok {
			v.feeds = append(v.feeds, f)
		}
	}
	return v
}

// fair is the part of a ration that leaves some for the other bins, when little
// is on the shelf.
func (s *story) fair() float64 {
	var fresh float64
	for _, l := range s.lots {
		if s.feedable(l) {
			fresh += l.left
		}
	}
	return min(1, max(0.35, fresh/max(1, 0.55*s.weeklyNeed())))
}

// choose takes lots from the shelf, those nearest their use-by day first, and
// keeps to the go-easy shares. What it takes is off the shelf.
func (s *story) choose(b *bin, want float64) []service.PartOf {
	slices.SortStableFunc(s.lots, func(x, y *lot) int { return x.useBy.Compare(y.useBy) })
	caps := map[farm.Group]float64{}
	for _, c := range vermi.GroupCaps() {
		caps[c.Group] = want * c.Pct / 100
	}
	var out []service.PartOf
	left := want
	for _, own := range []bool{true, false} {
		for _, l := range s.lots {
			if left < 80 || len(out) >= 6 {
				return out
			}
			if (l.site == b.fact.site) != own || !s.feedable(l) {
				continue
			}
			g := math.Floor(min(left, l.left, caps[l.group()]))
			if l.left-g < 150 && l.left <= 1.3*caps[l.group()] {
				g = l.left
			}
			if g < 80 && g < l.left {
				continue
			}
			out = append(out, s.take(l, g))
			left -= g
			caps[l.group()] -= g
		}
	}
	return out
}

func (s *story) feedable(l *lot) bool {
	return l.left >= 1 && !l.frozen && (l.thawed.IsZero() || l.thawed.Before(s.day)) && !l.useBy.Before(s.day)
}

// take takes so much of a lot off the shelf.
func (s *story) take(l *lot, g float64) service.PartOf {
	l.left -= math.Round(g)
	e := weighed(g)
	return service.PartOf{ID: l.id, Amount: &e}
}

// compose makes a feeding of what was chosen, with its cover, and now and then
// something that was left at the bin and nobody booked in.
func (s *story) compose(b *bin, sec *section, lots []service.PartOf, wet bool) (feed, bool) {
	f := feed{in: service.FeedIn{BinID: b.id, SectionID: sec.id, Lots: lots}, extra: map[string]float64{}}
	if s.chance(0.03) {
		truly := 300 + 900*s.rng.Float64()
		f.in.Unrecorded = []service.Unrecorded{{Material: "mixed_kitchen_scraps", Mass: guessed(truly * (0.75 + 0.5*s.rng.Float64()))}}
		f.in.Note = "A bag stood beside the bin."
		f.extra["mixed_kitchen_scraps"] = truly
	}
	if len(f.in.Lots)+len(f.in.Unrecorded) == 0 {
		return f, false
	}
	s.lay(&f, b, wet)
	return f, true
}

// lay covers a feeding, when there is anything to cover it with.
func (s *story) lay(f *feed, b *bin, wet bool) {
	laid, under, g := s.cover(b, wet)
	if under == nil {
		return
	}
	depth := coverMM + 5*s.rng.IntN(4)
	f.in.Bedding, f.in.CoverMM, f.under, f.taken = []service.LaidOf{laid}, &depth, under, g
}

// record books a round, and lets it happen.
func (s *story) record(ctx context.Context, p *person, round []visit) error {
	if len(round) == 0 {
		return nil
	}
	var seen []service.FeedingSeen
	err := s.together(ctx, p.actor, func(ctx context.Context) error {
		seen = seen[:0]
		for _, v := range round {
			s.after(4)
			done, err := s.svc.RecordCheck(ctx, p.actor, s.garden, v.check, service.Once{})
			if _, err = value(s, done, err); err != nil {
				return err
			}
			for _, c := range v.care {
				done, err := s.svc.RecordCare(ctx, p.actor, s.garden, c, service.Once{})
				if _, err = value(s, done, err); err != nil {
					return err
				}
			}
			for _, f := range v.feeds {
				s.after(2)
				done, err := s.svc.Feed(ctx, p.actor, s.garden, f.in, service.Once{})
				fed, err := value(s, done, err)
				if err != nil {
					return err
				}
				seen = append(seen, fed)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	at := 0
	for _, v := range round {
		for _, c := range v.care {
			if g, err := c.Watering(); c.Kind == farm.Watered && err == nil {
				v.bin.today.WaterG += float64(g)
			}
		}
		for _, f := range v.feeds {
			if err := s.happen(ctx, v.bin, f, seen[at]); err != nil {
				return err
			}
			at++
		}
	}
	return nil
}

// happen lays what was booked into the bin as it truly is.
func (s *story) happen(ctx context.Context, b *bin, f feed, seen service.FeedingSeen) error {
	var food []vermi.Food
	for _, l := range seen.Lots {
		g := l.Net
		if truly, ok := f.extra[l.Material]; ok && l.Unrecorded {
			g = measure.Grams(truly)
		}
		food = append(food, vermi.Food{Material: l.Material, Grams: g})
	}
	var under []vermi.Food
	var water float64
	for _, laid := range seen.Bedding {
		dry, w := asLaid(laid.Kinds, laid.MoisturePct)
		under, water = append(under, dry...), water+w
		f.under.left += f.taken - float64(laid.Net())
	}
	sec := b.sectionOf(seen.SectionID)
	b.put(sec, food, under, water)
	b.lastFed, sec.lastFed = s.day, s.day
	if b.status == farm.BinSetUp {
		return s.setStatus(ctx, b, farm.BinInUse)
	}
	return nil
}

func (b *bin) sectionOf(id uuid.UUID) *section {
	for i := range b.sections {
		if b.sections[i].id == id {
			return &b.sections[i]
		}
	}
	return nil
}

// setStatus moves a bin on in its life.
func (s *story) setStatus(ctx context.Context, b *bin, to farm.BinStatus) error {
	return s.editBin(ctx, b, func(x *farm.Bin) { x.Status = to })
}

func (s *story) editBin(ctx context.Context, b *bin, edit func(*farm.Bin)) error {
	now, err := s.svc.Bin(ctx, s.lead(), s.garden, b.id)
	if err != nil {
		return err
	}
	s.writes++
	next, err := s.svc.UpdateBin(ctx, s.lead(), s.garden, b.id, now.Version, edit)
	b.status = next.Status
	return err
}
