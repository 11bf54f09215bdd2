package service_test

import (
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

func TestNeverMorePeopleClaimAShiftThanItHasPlaces(t *testing.T) {
	t.Parallel()
	p := setup(t)
	shift, err := p.svc.AddShift(t.Context(), p.founder, p.garden, farm.Shift{Kind: farm.WashUp, SiteID: p.site,
		StartsAt: p.clock().Add(time.Hour), EndsAt: p.clock().Add(3 * time.Hour), Places: 2}, service.Once{})
	p.must(err)
	const people = 8
	who := make([]service.Actor, people)
	for i := range who {
		who[i] = p.join(fmt.Sprintf("helper%d@example.org", i), farm.Donor)
	}
	codes := make([]farm.Code, people)
	var all sync.WaitGroup
	start := make(chan struct{})
	for i := range who {
		all.Go(func() {
			<-start
			_, err := p.svc.MoveShift(t.Context(), who[i], p.garden, shift.Value.ID, service.PlaceMove{Kind: farm.ClaimPlace}, service.Once{})
			codes[i] = farm.CodeOf(err)
			if err != nil && codes[i] == "" {
				t.Error(err)
			}
		})
	}
	close(start)
	all.Wait()
	count := map[farm.Code]int{}
	for _, c := range codes {
		count[c]++
	}
	if count[""] != 2 || count["shift.full"] != people-2 {
		t.Errorf("got %v", count)
	}
	got, err := p.svc.Shift(t.Context(), p.founder, p.garden, shift.Value.ID)
	p.must(err)
	if got.Taken() != 2 || got.State != farm.ShiftClaimed || got.Version != 3 {
		t.Errorf("got %d taken, %s, version %d", got.Taken(), got.State, got.Version)
	}
}

func TestTwoCoversOfAKeeperNeverOverlap(t *testing.T) {
	t.Parallel()
	p := setup(t)
	const people = 6
	standIn := make([]uuid.UUID, people)
	for i := range standIn {
		done, err := p.svc.AddMember(t.Context(), p.founder, p.garden,
			service.MemberNew{DisplayName: fmt.Sprintf("Helper %d", i), Role: farm.Keeper}, service.Once{})
		p.must(err)
		standIn[i] = done.Value.ID
	}
	codes := make([]farm.Code, people)
	day := measure.MustDay("2026-06-01")
	var all sync.WaitGroup
	start := make(chan struct{})
	for i := range standIn {
		all.Go(func() {
			<-start
			_, err := p.svc.NameStandIn(t.Context(), p.founder, p.garden, farm.Cover{KeeperID: p.member, StandInID: standIn[i],
				Days: measure.DayRange{Start: day.Add(i), End: day.Add(i + 7)}}, service.Once{})
			codes[i] = farm.CodeOf(err)
			if err != nil && codes[i] == "" {
				t.Error(err)
			}
		})
	}
	close(start)
	all.Wait()
	count := map[farm.Code]int{}
	for _, c := range codes {
		count[c]++
	}
	if count[""] != 1 || count["cover.taken"] != people-1 {
		t.Errorf("got %v", count)
	}
}

func TestDoneShiftsAndEnteredHoursAddUpByMember(t *testing.T) {
	t.Parallel()
	p := setup(t)
	donor := p.join("helper@example.org", farm.Donor)
	enter := func(who service.Actor, minutes int, at time.Time) {
		_, err := p.svc.EnterHours(t.Context(), who, p.garden, farm.Hours{Minutes: minutes, Work: "sweeping", OccurredAt: at}, service.Once{})
		p.must(err)
	}
	enter(p.founder, 45, time.Time{})
	enter(donor, 30, time.Time{})
	enter(donor, 500, p.clock().Add(-24*time.Hour))
	add := func(length time.Duration, mark farm.ShiftMoveKind) uuid.UUID {
		done, err := p.svc.AddShift(t.Context(), p.founder, p.garden, farm.Shift{Kind: farm.WashUp, SiteID: p.site,
			StartsAt: p.clock(), EndsAt: p.clock().Add(length), Places: 1}, service.Once{})
		p.must(err)
		for _, k := range []farm.ShiftMoveKind{farm.ClaimPlace, mark} {
			_, err = p.svc.MoveShift(t.Context(), p.founder, p.garden, done.Value.ID, service.PlaceMove{Kind: k}, service.Once{})
			p.must(err)
		}
		return done.Value.ID
	}
	add(90*time.Minute, farm.MarkDone)
	add(200*time.Minute, farm.MarkMissed)
	today := measure.MustDay("2026-05-10")
	got, err := p.svc.MinutesByMember(t.Context(), p.founder, p.garden, measure.DayRange{Start: today, End: today.Add(1)})
	p.must(err)
	_, me, err := p.svc.Garden(t.Context(), donor, p.garden)
	p.must(err)
	if len(got) != 2 || got[p.member] != 45+90 || got[me.ID] != 30 {
		t.Errorf("got %v", got)
	}
}
