package service_test

import (
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/service"
)

func TestAnOverflowPlaceThatTakesNothingIsRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	made, err := p.svc.CreateOverflowPlace(t.Context(), p.founder, p.garden,
		farm.OverflowPlace{ID: uuid.Must(uuid.NewV7()), Name: "Hot heap", Kind: farm.HotHeap, WeeklyG: 40_000, BrownsRatio: 1.5}, service.Once{})
	p.must(err)
	id := made.Value.ID
	got, err := p.svc.UpdateOverflowPlace(t.Context(), p.founder, p.garden, id, 1, func(o *farm.OverflowPlace) { o.Active, o.WeeklyG = false, 0 })
	p.must(err)
	read, err := p.svc.OverflowPlace(t.Context(), p.founder, p.garden, id)
	p.must(err)
	if read != got || read.Version != 2 || read.WeeklyG != 0 || read.BrownsRatio != 1.5 {
		t.Errorf("got %+v, answered %+v", read, got)
	}
	lot := p.takeIn(kg("1"))
	_, err = p.svc.OverflowLot(t.Context(), p.founder, p.garden, lot.ID, service.ToOverflow{PlaceID: id}, service.Once{})
	wantCode(t, err, "overflow.inactive")
	_, err = p.svc.OverflowLot(t.Context(), p.founder, p.garden, lot.ID, service.ToOverflow{PlaceID: uuid.New()}, service.Once{})
	wantCode(t, err, "overflow.not_found")
	for standing, want := range map[service.Standing]int{service.Active: 0, service.Left: 1, "": 1} {
		list, err := p.svc.OverflowPlaces(t.Context(), p.founder, p.garden, standing, service.Page{})
		p.must(err)
		if len(list.Items) != want {
			t.Errorf("standing %q: got %d places, want %d", standing, len(list.Items), want)
		}
	}
}

func TestASiteIsReadAsItWasWritten(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := farm.Site{ID: uuid.Must(uuid.NewV7()), Name: "Barn", Kind: farm.Basement, At: &farm.Coordinates{Latitude: 38.7, Longitude: -9.1},
		FreezerL: 120, AreaM2: 8.5, Note: "Key at the gate."}
	made, err := p.svc.CreateSite(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	donor := p.join("di@example.org", farm.Donor)
	page, err := p.svc.Sites(t.Context(), donor, p.garden, service.Active, service.Page{})
	p.must(err)
	list := page.Items
	if len(list) != 2 || list[0].Name != "Barn" || *list[0].At != *in.At {
		t.Fatalf("got %+v", list)
	}
	list[0].At, made.Value.At = nil, nil
	if list[0] != made.Value {
		t.Errorf("got %+v, answered %+v", list[0], made.Value)
	}
	in.Note = "Key at the shed."
	_, err = p.svc.CreateSite(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "site.exists")
}

func TestADonorSeesThemselvesAndNobodyElse(t *testing.T) {
	t.Parallel()
	p := setup(t)
	donor := p.join("di@example.org", farm.Donor)
	_, me, err := p.svc.Garden(t.Context(), donor, p.garden)
	p.must(err)
	got, err := p.svc.Member(t.Context(), donor, p.garden, me.ID)
	if err != nil || got.Email != "di@example.org" {
		t.Errorf("got %+v, %v", got, err)
	}
	_, err = p.svc.Member(t.Context(), donor, p.garden, p.member)
	wantCode(t, err, "role.forbidden")
	h, err := p.svc.UpdateHousehold(t.Context(), p.founder, p.garden, p.household, 1, func(h *farm.Household) { h.Contact = "gate" })
	p.must(err)
	read, err := p.svc.Household(t.Context(), p.founder, p.garden, p.household)
	if err != nil || read != h || read.Contact != "gate" {
		t.Errorf("got %+v, %v", read, err)
	}
}
