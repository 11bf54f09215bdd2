package service_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

func (p *plot) days(from, until string) measure.DayRange {
	return measure.DayRange{Start: measure.MustDay(from), End: measure.MustDay(until)}
}

func TestOnlyPledgesStillExpectedAreOpen(t *testing.T) {
	t.Parallel()
	p := setup(t)
	promise := func(in service.PledgeNew) farm.Pledge {
		in.Material, in.Mass = p.scrap(), kg("2")
		done, err := p.svc.CreatePledge(t.Context(), p.founder, p.garden, in, service.Once{})
		p.must(err)
		return done.Value
	}
	window := func() uuid.UUID {
		done, err := p.svc.CreateWindow(t.Context(), p.founder, p.garden, farm.Window{SiteID: p.site,
			StartsAt: time.Date(2026, 5, 13, 9, 0, 0, 0, time.UTC), EndsAt: time.Date(2026, 5, 13, 11, 0, 0, 0, time.UTC)}, service.Once{})
		p.must(err)
		return done.Value.ID
	}
	closed := window()
	promise(service.PledgeNew{ExpectedOn: measure.MustDay("2026-05-12"), SiteID: p.site, RepeatWeeks: 3})
	promise(service.PledgeNew{WindowID: closed})
	held := promise(service.PledgeNew{WindowID: window()})
	gone := promise(service.PledgeNew{ExpectedOn: measure.MustDay("2026-05-14"), SiteID: p.site})
	taken := promise(service.PledgeNew{ExpectedOn: measure.MustDay("2026-05-15"), SiteID: p.site})
	for id, d := range map[uuid.UUID]farm.PledgeDecision{gone.ID: farm.DeclinePledge, taken.ID: farm.AcceptPledge} {
		_, err := p.svc.DecidePledge(t.Context(), p.founder, p.garden, id, d, "", service.Once{})
		p.must(err)
	}
	_, err := p.svc.UpdateWindow(t.Context(), p.founder, p.garden, closed, 1, func(w *farm.Window) { w.Status = farm.WindowClosed })
	p.must(err)
	open := func(from, until string) (out []string) {
		var rows *store.Rows[farm.Pledge]
		p.must(p.store.Read(t.Context(), store.Scope{Garden: p.garden}, func(b *store.Batch) { rows = b.OpenPledges(p.days(from, until)) }))
		for _, x := range rows.Values {
			out = append(out, x.ExpectedOn.String())
			if x.ID == held.ID && x.SiteID != p.site {
				t.Error("a pledge for a window is expected at its site")
			}
		}
		return out
	}
	got := open("2026-05-12", "2026-05-26")
	want := []string{"2026-05-12", "2026-05-13", "2026-05-15", "2026-05-19"}
	if len(got) != len(want) {
		t.Fatalf("open on %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("open on %v, want %v", got, want)
		}
	}
}

func TestWhatCameByDayIsNetOfWhatWasUndone(t *testing.T) {
	t.Parallel()
	p := setup(t)
	p.takeIn(kg("3"))
	wrong := p.takeIn(kg("5"))
	in := p.intake(kg("2"))
	in.Status, in.Reason = farm.LotRejected, "Glass."
	in.HouseholdID, in.OccurredAt = uuid.Nil, p.clock().Add(-24*time.Hour) // an unknown giver, the day before
	_, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, wrong.EntryID, service.Undo{Reason: "Weighed twice."}, service.Once{})
	p.must(err)
	history := func(days measure.DayRange) []store.IntakeDay {
		var rows *store.Rows[store.IntakeDay]
		p.must(p.store.Read(t.Context(), store.Scope{Garden: p.garden}, func(b *store.Batch) { rows = b.IntakeByDay(days) }))
		return rows.Values
	}
	got := history(p.days("2026-05-01", "2026-05-11"))
	want := []store.IntakeDay{
		{Day: measure.MustDay("2026-05-09"), Site: p.site, Material: p.scrap(), Received: 2000, Rejected: 2000},
		{Day: measure.MustDay("2026-05-10"), Site: p.site, Material: p.scrap(), Received: 3000},
	}
	if len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("got %+v, want %+v", got, want)
	}
	if got := history(p.days("2026-05-10", "2026-05-11")); len(got) != 1 {
		t.Errorf("one day has %+v", got)
	}
	if got := history(p.days("2000-01-01", "2029-05-09")); len(got) != 2 {
		t.Errorf("the last three years have %+v", got)
	}
	if got := history(p.days("2000-01-01", "2030-01-01")); len(got) != 0 {
		t.Errorf("a history is bounded to its last three years; got %+v", got)
	}
}
