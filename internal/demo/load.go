package demo

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// Options of a load.
type Options struct {
	Bulk     *service.Service // a bulk one, for all but the last weeks; made with Clock.Now, and IDs for the same garden each time
	Service  *service.Service // likewise, for the last weeks: what can still be looked at in detail
	Clock    *Clock
	Now      time.Time // the story ends on the evening before
	Seed     uint64
	Weeks    int
	Password func() string  // of each account, made once
	Tell     func(Progress) // nil: in silence
}

// Progress is how far the story is told, and what happened.
type Progress struct {
	Percent int
	Day     measure.Day
	What    string
}

// Login is what a person signs in with.
type Login struct {
	Role     farm.Role
	Name     string
	Email    string
	Password string
}

// Loaded is a garden that was told.
type Loaded struct {
	Garden      uuid.UUID
	Coordinator service.Actor
	Logins      []Login // a coordinator, a keeper, a donor
	First, Last measure.Day
	Writes      int // use cases that wrote

	bins []*bin
}

// The last weeks are told as people's own phones would.
const detailedWeeks = 2

// Weeks that may be told.
const (
	LeastWeeks = 4
	MostWeeks  = 260
)

// Load tells the garden's story from so many weeks ago to yesterday.
func Load(ctx context.Context, o Options) (Loaded, error) {
	if o.Weeks < LeastWeeks || o.Weeks > MostWeeks {
		return Loaded{}, fmt.Errorf("weeks: must be between %d and %d; got %d", LeastWeeks, MostWeeks, o.Weeks)
	}
	loc, err := time.LoadLocation(zone)
	if err != nil {
		return Loaded{}, err
	}
	s := &story{o: o, svc: o.Bulk, loc: loc, rng: rand.New(rand.NewPCG(o.Seed, 0x5eed)),
		planned: map[measure.Day][]farm.PlanTask{}, kept: map[uuid.UUID]uuid.UUID{}}
	s.end = measure.DayIn(o.Now, loc)
	s.first = s.end.Add(-7 * o.Weeks).WeekStart()
	s.weather = newWeather(o.Seed, s.first, s.end.Sub(s.first)+1)
	s.day, s.reported = s.first, s.first
	if err := s.found(ctx); err != nil {
		return Loaded{}, fmt.Errorf("demo: %w", err)
	}
	for ; s.day.Before(s.end); s.day = s.day.Add(1) {
		if s.end.Sub(s.day) <= 7*detailedWeeks {
			s.svc = o.Service
		}
		if err := s.liveDay(ctx); err != nil {
			return Loaded{}, fmt.Errorf("demo: %s: %w", s.day, err)
		}
	}
	s.o.Clock.set(o.Now)
	return s.loaded(), nil
}

// liveDay is one day from morning to evening. The bins move on at night.
func (s *story) liveDay(ctx context.Context) error {
	parts := []struct {
		name string
		do   func(context.Context) error
	}{
		{"morning", s.morning}, {"rota", s.runRota}, {"plan", s.publishPlan}, {"drop-off", s.dropOff}, {"set-up", s.setUpBins},
		{"visits", s.visitBins}, {"rescue", s.rescueBins}, {"sections", s.moveSections}, {"lures", s.lureWorms}, {"splits", s.moveStock},
		{"harvest", s.harvestBins}, {"castings", s.tendCastings}, {"bedding", s.tendBedding}, {"store", s.tendStore},
		{"office", s.keepOffice}, {"reports", s.reportSeasons},
	}
	for _, p := range parts {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := p.do(ctx); err != nil {
			return fmt.Errorf("%s: %w", p.name, err)
		}
	}
	for _, b := range s.bins {
		b.step(s.air(b))
	}
	return nil
}

// morning says how far the story is.
func (s *story) morning(context.Context) error {
	s.at(6, 0)
	if s.day.Sub(s.first)%28 == 0 {
		var uneaten, worms float64
		for _, b := range s.bins {
			uneaten, worms = uneaten+b.sim.UneatenG(), worms+b.sim.WormG
		}
		s.tell("%d bins, %.1f kg of worms, %d lots on hand", len(s.bins), worms/1000, len(s.lots))
	}
	return nil
}

func (s *story) loaded() Loaded {
	out := Loaded{Garden: s.garden, Coordinator: s.lead(), First: s.first, Last: s.end.Add(-1), Writes: s.writes, bins: s.bins}
	for _, p := range s.people {
		if p.email != "" && shown[p.email] {
			out.Logins = append(out.Logins, Login{p.fact.role, p.fact.name, p.email, p.secret})
		}
	}
	return out
}

// shown are the accounts that the demo prints: one of each role that works.
var shown = map[string]bool{emailOf(personFacts[0].name): true, emailOf(personFacts[2].name): true, emailOf(personFacts[14].name): true}

// Logins are the accounts that a demo prints, without passwords.
func Logins() []Login {
	var out []Login
	for _, f := range personFacts {
		if e := emailOf(f.name); shown[e] {
			out = append(out, Login{Role: f.role, Name: f.name, Email: e})
		}
	}
	return out
}
