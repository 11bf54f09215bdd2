package demo

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// window is a drop-off window to come, or of today.
type window struct {
	id   uuid.UUID
	day  measure.Day
	site int
	hour int
	host *person
}

// shift is a shift with who took it.
type shift struct {
	id  uuid.UUID
	day measure.Day
	who []*person
}

// Drop-off twice a week.
var dropOffs = []struct {
	day  time.Weekday
	site int
	hour int
}{{time.Wednesday, shed, 17}, {time.Saturday, plot, 10}}

// runRota makes on Mondays the windows and shifts of the week after next, and on
// the first day those of the first two weeks too; and marks what was done.
func (s *story) runRota(ctx context.Context) error {
	if s.is(time.Monday) {
		s.at(7, 30)
		weeks := []int{2}
		if s.day == s.first {
			weeks = []int{0, 1, 2}
		}
		for _, w := range weeks {
			if err := s.openWeek(ctx, s.day.Add(7*w)); err != nil {
				return err
			}
		}
	}
	if s.is(time.Sunday) {
		s.at(20, 0)
		return s.markShifts(ctx)
	}
	return nil
}

// openWeek opens the windows of a week, with their shifts and some pledges.
func (s *story) openWeek(ctx context.Context, monday measure.Day) error {
	for _, d := range dropOffs {
		day := monday.Add((int(d.day) + 6) % 7)
		w := &window{day: day, site: d.site, hour: d.hour, host: s.people[s.rng.IntN(14)]}
		begin := s.moment(day, d.hour, 0)
		done, err := s.svc.CreateWindow(ctx, s.lead(), s.garden, farm.Window{SiteID: s.sites[d.site], StartsAt: begin, EndsAt: begin.Add(2 * time.Hour),
			HostID: w.host.id, Capacity: kilograms(90_000)}, service.Once{})
		made, err := value(s, done, err)
		if err != nil {
			return err
		}
		w.id = made.ID
		s.windows = append(s.windows, w)
		if err := s.addShift(ctx, farm.HostShift, d.site, day, d.hour, 2, []*person{w.host, s.volunteer()}); err != nil {
			return err
		}
	}
	if err := s.addShift(ctx, farm.BeddingShift, shed, monday.Add(5), 13, 2, []*person{s.people[1], s.volunteer()}); err != nil {
		return err
	}
	if _, week := monday.ISOWeek(); week%4 == 0 {
		return s.addShift(ctx, farm.WashUp, plot, monday.Add(6), 11, 1, []*person{s.volunteer()})
	}
	return nil
}

// volunteer is a donor who lends a hand.
func (s *story) volunteer() *person { return s.people[14+s.rng.IntN(24)] }

// addShift adds a shift and lets people take its places; now and then one stays open.
func (s *story) addShift(ctx context.Context, kind farm.ShiftKind, site int, day measure.Day, hour, places int, who []*person) error {
	begin := s.moment(day, hour, 0)
	x := &shift{day: day}
	if s.chance(0.12) {
		who = who[:len(who)-1]
	}
	err := s.together(ctx, s.lead(), func(ctx context.Context) error {
		x.who = nil
		done, err := s.svc.AddShift(ctx, s.lead(), s.garden, farm.Shift{Kind: kind, SiteID: s.sites[site], StartsAt: begin,
			EndsAt: begin.Add(2 * time.Hour), Places: places}, service.Once{})
		made, err := value(s, done, err)
		if err != nil {
			return err
		}
		x.id = made.ID
		for _, p := range who {
			done, err := s.svc.MoveShift(ctx, s.lead(), s.garden, x.id, service.PlaceMove{Kind: farm.ClaimPlace, MemberID: p.id}, service.Once{})
			if _, err := value(s, done, err); err != nil {
				return err
			}
			x.who = append(x.who, p)
		}
		return nil
	})
	s.rota = append(s.rota, x)
	return err
}

// markShifts says on Sunday evenings who came.
func (s *story) markShifts(ctx context.Context) error {
	var left []*shift
	err := s.together(ctx, s.lead(), func(ctx context.Context) error {
		left = nil
		for _, x := range s.rota {
			if x.day.After(s.day) {
				left = append(left, x)
				continue
			}
			for _, p := range x.who {
				kind := farm.MarkDone
				if s.chance(0.04) {
					kind = farm.MarkMissed
				}
				done, err := s.svc.MoveShift(ctx, s.lead(), s.garden, x.id, service.PlaceMove{Kind: kind, MemberID: p.id}, service.Once{})
				if _, err := value(s, done, err); err != nil {
					return err
				}
			}
		}
		return nil
	})
	s.rota = left
	return err
}

// pledge lets people promise scraps for a window some days ahead.
func (s *story) pledge(ctx context.Context) error {
	for _, w := range s.windows {
		if w.day.Sub(s.day) != 4 {
			continue
		}
		s.at(12, 0)
		for range 1 + s.rng.IntN(3) {
			g := s.givers[s.rng.IntN(len(s.givers))]
			if g.joined > s.week() || g.household == uuid.Nil {
				continue
			}
			done, err := s.svc.CreatePledge(ctx, s.lead(), s.garden, service.PledgeNew{WindowID: w.id, Material: drawScraps(int(w.day.Month())-1, s.rng),
				Mass: guessed(g.grams), HouseholdID: g.household}, service.Once{})
			p, err := value(s, done, err)
			if err != nil {
				return err
			}
			if s.chance(0.9) {
				done, err := s.svc.DecidePledge(ctx, s.lead(), s.garden, p.ID, farm.AcceptPledge, "", service.Once{})
				if _, err := value(s, done, err); err != nil {
					return err
				}
			}
		}
	}
	return nil
}
