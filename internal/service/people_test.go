package service_test

import (
	"sync"
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

func TestAnotherGardenLooksLikeNone(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(kg("1"))
	stranger := p.account("cy@example.org", true)
	_, err := p.svc.Lot(t.Context(), stranger, p.garden, lot.ID)
	wantCode(t, err, "garden.not_found")
	_, _, err = p.svc.Garden(t.Context(), stranger, uuid.New())
	wantCode(t, err, "garden.not_found")
	_, err = p.svc.TakeIn(t.Context(), stranger, p.garden, p.intake(kg("1")), service.Once{})
	wantCode(t, err, "garden.not_found")
	own, err := p.svc.CreateGarden(t.Context(), stranger, service.GardenNew{Name: "Elm Yard", TimeZone: "Europe/Lisbon",
		Hemisphere: farm.North, Units: measure.US}, service.Once{})
	p.must(err)
	_, err = p.svc.Lot(t.Context(), stranger, own.Value.ID, lot.ID)
	wantCode(t, err, "lot.not_found")
	_, err = p.svc.TakeIn(t.Context(), stranger, own.Value.ID, p.intake(kg("1")), service.Once{})
	if c := farm.CodeOf(err); c != "site.not_found" && c != "household.not_found" {
		t.Errorf("got %v, want another garden's site or household to be unknown", err)
	}
	mine, err := p.svc.MyGardens(t.Context(), stranger, service.Page{})
	p.must(err)
	if len(mine.Items) != 1 || mine.Items[0].Garden.ID != own.Value.ID || mine.Items[0].Member.Role != farm.Coordinator {
		t.Errorf("got %+v, want only the stranger's own garden", mine)
	}
}

func TestARoleThatMayNotIsForbidden(t *testing.T) {
	t.Parallel()
	p := setup(t)
	keeper, donor := p.join("bo@example.org", farm.Keeper), p.join("di@example.org", farm.Donor)
	if _, err := p.svc.TakeIn(t.Context(), keeper, p.garden, p.intake(kg("1")), service.Once{}); err != nil {
		t.Errorf("a keeper takes in scraps: %v", err)
	}
	_, err := p.svc.TakeIn(t.Context(), donor, p.garden, p.intake(kg("1")), service.Once{})
	wantCode(t, err, "role.forbidden")
	_, err = p.svc.Lots(t.Context(), donor, p.garden, store.LotFilter{}, store.Page{})
	wantCode(t, err, "role.forbidden")
	_, err = p.svc.CreateSite(t.Context(), keeper, p.garden, farm.Site{Name: "Barn", Kind: farm.Shed}, service.Once{})
	wantCode(t, err, "role.forbidden")
	_, err = p.svc.CreateGarden(t.Context(), donor, service.GardenNew{Name: "Elm", TimeZone: "UTC", Hemisphere: farm.North, Units: measure.US}, service.Once{})
	wantCode(t, err, "role.forbidden")
}

func TestAStaleVersionIsRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	rename := func(n string) func(*farm.Site) { return func(s *farm.Site) { s.Name = n } }
	s, err := p.svc.UpdateSite(t.Context(), p.founder, p.garden, p.site, 1, rename("Barn"))
	p.must(err)
	if s.Version != 2 || s.Name != "Barn" {
		t.Errorf("got %+v", s)
	}
	_, err = p.svc.UpdateSite(t.Context(), p.founder, p.garden, p.site, 1, rename("Byre"))
	wantCode(t, err, "version.stale")
	_, err = p.svc.CreateSite(t.Context(), p.founder, p.garden, farm.Site{Name: "Barn", Kind: farm.Shed}, service.Once{})
	wantCode(t, err, "site.name_taken")
	got, err := p.svc.Site(t.Context(), p.founder, p.garden, p.site)
	p.must(err)
	if got.Version != 2 {
		t.Errorf("got version %d, want 2 as answered", got.Version)
	}
}

func TestAGardenKeepsACoordinator(t *testing.T) {
	t.Parallel()
	p := setup(t)
	second := p.join("bo@example.org", farm.Coordinator)
	_, me, err := p.svc.Garden(t.Context(), second, p.garden)
	p.must(err)
	// Both step down at once: one must stay.
	var wg sync.WaitGroup
	var mu sync.Mutex
	codes := map[farm.Code]int{}
	for who, id := range map[service.Actor]uuid.UUID{p.founder: p.member, second: me.ID} {
		wg.Add(1)
		go func() {
			defer wg.Done()
			_, err := p.svc.UpdateMember(t.Context(), who, p.garden, id, 1, func(m *farm.Member) { m.Role = farm.Donor })
			mu.Lock()
			defer mu.Unlock()
			codes[farm.CodeOf(err)]++
			if err != nil && farm.CodeOf(err) == "" {
				t.Error(err)
			}
		}()
	}
	wg.Wait()
	if codes[""] != 1 || codes["member.last_coordinator"] != 1 {
		t.Errorf("got %v, want one to step down and one to stay", codes)
	}
}

func TestANewMemberGetsAnAccountOnceAndIsListed(t *testing.T) {
	t.Parallel()
	p := setup(t)
	in := service.MemberNew{Email: "New@Example.org", DisplayName: "Émile Birch", Role: farm.Donor}
	_, err := p.svc.AddMember(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "account.password_needed")
	in.InitialPassword = "three damp sponges"
	done, err := p.svc.AddMember(t.Context(), p.founder, p.garden, in, service.Once{})
	p.must(err)
	if done.Value.AccountID == uuid.Nil || done.Value.Email != in.Email {
		t.Errorf("got %+v", done.Value)
	}
	_, err = p.svc.AddMember(t.Context(), p.founder, p.garden, in, service.Once{})
	wantCode(t, err, "member.exists")
	list, err := p.svc.Members(t.Context(), p.founder, p.garden, store.MemberFilter{Prefix: "émi", Standing: store.Active}, store.Page{})
	p.must(err)
	if len(list.Items) != 1 || list.Items[0].ID != done.Value.ID {
		t.Errorf("got %+v", list.Items)
	}
	account, found, err := p.store.FindAccountByEmail(t.Context(), "new@example.org")
	p.must(err)
	if !found || account.PasswordHash == "" || account.PasswordHash == in.InitialPassword {
		t.Errorf("got %+v", account)
	}
}

func TestAnErasedHouseholdKeepsItsQuantitiesAndNothingElse(t *testing.T) {
	t.Parallel()
	p := setup(t)
	lot := p.takeIn(kg("3"))
	for range 2 {
		_, err := p.svc.EraseHousehold(t.Context(), p.founder, p.garden, p.household, 1)
		p.must(err)
	}
	h, err := p.svc.Household(t.Context(), p.founder, p.garden, p.household)
	p.must(err)
	if h.Name != "" || h.Plot != "" || !h.Erased() {
		t.Errorf("got %+v", h)
	}
	list, err := p.svc.Households(t.Context(), p.founder, p.garden, "", store.Page{})
	p.must(err)
	if len(list.Items) != 0 || p.onHand(lot.ID) != 3000 {
		t.Errorf("got %d listed and %d g", len(list.Items), p.onHand(lot.ID))
	}
	_, err = p.svc.UpdateHousehold(t.Context(), p.founder, p.garden, p.household, h.Version, func(h *farm.Household) { h.Name = "Rowan" })
	wantCode(t, err, "household.erased")
	p.sound()
}

func TestAGardensOwnFiguresStandBesideThePublished(t *testing.T) {
	t.Parallel()
	p := setup(t)
	key, own := p.scrap(), 432.0
	k, err := p.svc.SetMaterial(t.Context(), p.founder, p.garden, 0, farm.MaterialOverride{Key: key, DensityGPerL: &own, Note: "Our scale."})
	p.must(err)
	if k.DensityGPerL.Value != own || k.DensityGPerL.Trust != farm.TrustGarden || k.Published == nil || k.Published.DensityGPerL.Value == own {
		t.Errorf("got %+v", k)
	}
	lot := p.takeIn(farm.Entered{Method: farm.ByContainer, Count: 1, FillPct: 100, Each: measure.Quantity{Value: "10", Unit: measure.Litre}})
	if lot.Weight.Net != 4320 {
		t.Errorf("got %d g, want 10 L × 432 g/L", lot.Weight.Net)
	}
	_, err = p.svc.SetMaterial(t.Context(), p.founder, p.garden, 0, farm.MaterialOverride{Key: key, DensityGPerL: &own})
	wantCode(t, err, "version.stale")
	_, err = p.svc.ResetMaterial(t.Context(), p.founder, p.garden, key, 1)
	p.must(err)
	_, err = p.svc.SetMaterial(t.Context(), p.founder, p.garden, 0, farm.MaterialOverride{Key: "spent_hops"})
	wantCode(t, err, "material.invalid")
	_, err = p.svc.Material(t.Context(), p.founder, p.garden, "spent_hops")
	wantCode(t, err, "material.not_found")
}
