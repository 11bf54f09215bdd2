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

// story is the garden while it is being told.
type story struct {
	o        Options
	svc      *service.Service
	rng      *rand.Rand
	loc      *time.Location
	garden   uuid.UUID
	first    measure.Day
	end      measure.Day // the first day not told
	day      measure.Day
	weather  weather
	sites    []uuid.UUID
	people   []*person
	houses   []uuid.UUID
	givers   []giver
	bins     []*bin
	lots     []*lot
	dry      []*bedding
	batches  []*bedding
	castings []*castings
	overflow []uuid.UUID
	bucket   uuid.UUID // 10 L, for scraps
	tub      uuid.UUID // 12 L, for bedding and castings
	windows  []*window
	rota     []*shift
	issues   []openIssue
	planned  map[measure.Day][]farm.PlanTask
	kept     map[uuid.UUID]uuid.UUID // pledge → the lot that keeps it
	late     []uuid.UUID             // pledges of the last window that nobody kept
	reported measure.Day
	writes   int
	mistaken bool
}

// person is a member with the account they act by.
type person struct {
	fact   personFact
	id     uuid.UUID
	actor  service.Actor
	email  string
	secret string
	away   measure.DayRange // covered meanwhile
	in     *person          // by whom
}

// comes tells whether a keeper visits on a day of the week.
func (p *person) comes(day measure.Day) bool {
	for _, d := range p.fact.days {
		if int(d-'0') == int(day.Weekday()) {
			return true
		}
	}
	return false
}

// lot is scraps on hand.
type lot struct {
	id       uuid.UUID
	material string
	left     float64
	site     int
	useBy    measure.Day
	frozen   bool
	thawed   measure.Day // taken out; fed from the next day on
}

func (l *lot) group() farm.Group { return catalogue[l.material].Group }

// lead is the coordinator who acts when nobody else is named.
func (s *story) lead() service.Actor { return s.people[0].actor }

// at moves the clock to a local time of the day told.
func (s *story) at(hour, minute int) {
	s.o.Clock.set(s.moment(s.day, hour, minute))
}

// after moves the clock on by so many minutes.
func (s *story) after(minutes int) {
	s.o.Clock.set(s.o.Clock.Now().Add(time.Duration(minutes) * time.Minute))
}

func (s *story) moment(day measure.Day, hour, minute int) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, hour, minute, 0, 0, s.loc).UTC()
}

// week counts from the first day.
func (s *story) week() int { return s.day.Sub(s.first) / 7 }

// air is the air around a bin today.
func (s *story) air(b *bin) float64 { return s.weather.at(s.day, siteFacts[b.fact.site]) }

// together books several things of one person at once.
func (s *story) together(ctx context.Context, a service.Actor, fn func(context.Context) error) error {
	return s.svc.Together(ctx, a, s.garden, fn)
}

// value takes what a use case gave and counts the write.
func value[R any](s *story, done service.Done[R], err error) (R, error) {
	s.writes++
	if err != nil {
		return done.Value, fmt.Errorf("%s: %w", s.o.Clock.Now().In(s.loc).Format(time.DateTime), err)
	}
	return done.Value, nil
}

// tell reports what happened.
func (s *story) tell(format string, args ...any) {
	if s.o.Tell == nil {
		return
	}
	days := s.end.Sub(s.first)
	s.o.Tell(Progress{Percent: 100 * s.day.Sub(s.first) / max(1, days), Day: s.day, What: fmt.Sprintf(format, args...)})
}

// chance draws once.
func (s *story) chance(p float64) bool { return s.rng.Float64() < p }

// each is done on a day of the week.
func (s *story) is(d time.Weekday) bool { return s.day.Weekday() == d }

// carer is who looks after a bin today: its first keeper, or who stands in.
func (s *story) carer(b *bin) *person { return s.inPlaceOf(s.people[b.fact.keepers[0]]) }

func (s *story) inPlaceOf(p *person) *person {
	if p.in != nil && p.away.Contains(s.day) {
		return p.in
	}
	return p
}
