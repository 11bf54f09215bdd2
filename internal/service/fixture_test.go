package service_test

import (
	"encoding/json"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/service"
	"midden/internal/store"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// quick keeps tests of people fast; the cost itself is tested in auth.
var quick = auth.PasswordOptions{Cost: auth.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}}

// plot is a founded garden with a site and a household, and a clock that
// stands at noon of 2026-05-10 until moved.
type plot struct {
	t         testing.TB
	db        *pgtest.DB
	store     *store.Store
	svc       *service.Service
	founder   service.Actor
	garden    uuid.UUID
	member    uuid.UUID
	site      uuid.UUID
	household uuid.UUID
	mu        sync.Mutex
	now       time.Time
}

func setup(t testing.TB) *plot {
	t.Helper()
	p := &plot{t: t, db: pgtest.New(t), now: time.Date(2026, 5, 10, 12, 0, 0, 0, time.UTC)}
	p.store = store.New(p.db.App, store.Options{})
	p.svc = service.New(service.Options{Store: p.store, Clock: p.clock, Passwords: auth.NewPasswords(quick)})
	p.founder = p.account("ada@example.org", true)
	g, err := p.svc.CreateGarden(t.Context(), p.founder, service.GardenNew{
		Name: "Alder Lane", TimeZone: "Europe/Lisbon", Hemisphere: farm.North, Units: measure.Metric}, service.Once{})
	p.must(err)
	p.garden = g.Value.ID
	_, me, err := p.svc.Garden(t.Context(), p.founder, p.garden)
	p.must(err)
	p.member = me.ID
	site, err := p.svc.CreateSite(t.Context(), p.founder, p.garden, farm.Site{Name: "Shed", Kind: farm.Shed}, service.Once{})
	p.must(err)
	h, err := p.svc.CreateHousehold(t.Context(), p.founder, p.garden, farm.Household{Name: "Rowan", Plot: "12"}, service.Once{})
	p.must(err)
	p.site, p.household = site.Value.ID, h.Value.ID
	return p
}

func (p *plot) clock() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now
}

func (p *plot) later(d time.Duration) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.now = p.now.Add(d)
}

func (p *plot) must(err error) {
	p.t.Helper()
	if err != nil {
		p.t.Fatal(err)
	}
}

func (p *plot) account(email string, mayFound bool) service.Actor {
	p.t.Helper()
	a := service.Actor{AccountID: uuid.Must(uuid.NewV7())}
	p.must(p.store.InTx(p.t.Context(), store.Scope{}, func(tx *store.Tx) error {
		tx.InsertAccount(farm.Account{ID: a.AccountID, Email: email, DisplayName: "Ada Fern", PasswordHash: "x",
			MayFound: mayFound, CreatedAt: p.clock()})
		return nil
	}))
	return a
}

// join makes an account and adds it to the garden.
func (p *plot) join(email string, role farm.Role) service.Actor {
	p.t.Helper()
	a := p.account(email, false)
	_, err := p.svc.AddMember(p.t.Context(), p.founder, p.garden,
		service.MemberNew{Email: email, DisplayName: "Bo Hazel", Role: role}, service.Once{})
	p.must(err)
	return a
}

func kg(v string) farm.Entered {
	return farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: v, Unit: measure.Kilogram}}
}

func (p *plot) intake(mass farm.Entered) service.Intake {
	return service.Intake{Material: p.scrap(), Mass: mass, SiteID: p.site, HouseholdID: p.household, Status: farm.LotAccepted}
}

// scrap is the first scrap material of the catalogue.
func (p *plot) scrap() string {
	p.t.Helper()
	list, err := p.svc.Materials(p.t.Context(), p.founder, p.garden)
	p.must(err)
	for _, m := range list {
		if m.Use == farm.ScrapUse {
			return m.Key
		}
	}
	p.t.Fatal("the catalogue has no scraps")
	return ""
}

func (p *plot) takeIn(mass farm.Entered) store.LotOnHand {
	p.t.Helper()
	done, err := p.svc.TakeIn(p.t.Context(), p.founder, p.garden, p.intake(mass), service.Once{})
	p.must(err)
	return done.Value
}

func (p *plot) onHand(lot uuid.UUID) measure.Grams {
	p.t.Helper()
	s, err := p.svc.Lot(p.t.Context(), p.founder, p.garden, lot)
	p.must(err)
	return s.OnHand
}

// sound fails the test when the ledger does not agree with itself.
func (p *plot) sound() {
	p.t.Helper()
	faults, err := p.store.CheckLedger(p.t.Context(), p.garden)
	p.must(err)
	for _, f := range faults {
		p.t.Error(f)
	}
}

func once(key, body string) service.Once {
	o := service.Once{Key: key, Op: "take_in_lot", Render: func(result any) (int, map[string]string, []byte, error) {
		b, err := json.Marshal(result)
		return 201, map[string]string{"Location": "/lots/" + result.(store.LotOnHand).ID.String()}, b, err
	}}
	copy(o.BodyHash[:], body)
	return o
}

func wantCode(t testing.TB, err error, code farm.Code) {
	t.Helper()
	if got := farm.CodeOf(err); got != code {
		t.Fatalf("got %v, want code %s", err, code)
	}
}
