package service_test

import (
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

func TestPlanningAsksForEveryKeeperAtOnce(t *testing.T) {
	t.Parallel()
	p := setup(t)
	p.join("di@example.org", farm.Donor)
	keeper := p.join("bo@example.org", farm.Keeper)
	_, me, err := p.svc.Garden(t.Context(), keeper, p.garden)
	p.must(err)
	said := farm.Availability{MemberID: me.ID, Weekdays: [7]bool{true, false, false, false, false, false, true},
		Exceptions: []farm.DayException{{Day: measure.MustDay("2026-05-10"), Available: false}}}
	_, err = p.svc.SetAvailability(t.Context(), keeper, p.garden, 0, said)
	p.must(err)
	var rows *store.Rows[farm.Availability]
	p.must(p.store.Read(t.Context(), store.Scope{Garden: p.garden}, func(b *store.Batch) { rows = b.Availabilities() }))
	by := map[bool]farm.Availability{}
	for _, a := range rows.Values {
		by[a.MemberID == me.ID] = a
	}
	if len(rows.Values) != 2 || by[true].Weekdays != said.Weekdays || by[true].On(measure.MustDay("2026-05-10")) || by[true].Version != 1 {
		t.Fatalf("got %+v, want the coordinator and the keeper", rows.Values)
	}
	if a := by[false]; a.MemberID != p.member || a.Version != 0 || !a.On(measure.MustDay("2026-05-10")) {
		t.Errorf("got %+v, want a coordinator who can come on any day", a)
	}
}
