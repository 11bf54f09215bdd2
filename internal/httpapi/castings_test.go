package httpapi

import (
	"context"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

// fedSections are the sections of a wedge that can be harvested.
var fedSections = []farm.Stage{farm.Finished, farm.Maturing, farm.Feeding}

// harvest records a harvest of so many kilograms from a section.
func (p *person) harvest(b bed, section int, kg string, more ...doc) *answer {
	p.t.Helper()
	body := doc{"bin_id": b.id, "section_id": b.sections[section], "amount": weighed(kg)}
	for _, m := range more {
		for k, v := range m {
			body[k] = v
		}
	}
	return p.in("POST", "/harvests", body)
}

// step takes a castings lot on.
func (p *person) step(lot string, body doc) *answer {
	p.t.Helper()
	return p.in("POST", "/castings-lots/"+lot+"/steps", body)
}

// ready harvests so many kilograms and lets the lot rest.
func (p *person) ready(kg string) string {
	p.t.Helper()
	lot := p.harvest(p.newBed(farm.Batch, farm.BinInUse, oneFeeding), 0, kg).want(201).text("castings_lot_id")
	p.step(lot, doc{"stage": "resting"}).want(201)
	return lot
}

// household is a household of the garden.
func (p *person) household(name string) string {
	p.t.Helper()
	done, err := p.svc.CreateHousehold(context.Background(), service.Actor{AccountID: p.account()}, uuid.MustParse(p.garden),
		farm.Household{Name: name, Plot: "12"}, service.Once{})
	if err != nil {
		p.t.Fatal(err)
	}
	return done.Value.ID.String()
}

// books puts scraps and bedding on a section's books.
func (p *person) books(b bed, section int, scraps, bedding measure.Grams) {
	p.t.Helper()
	garden := uuid.MustParse(p.garden)
	at := ledger.SectionAccount(uuid.MustParse(b.id), uuid.MustParse(b.sections[section]))
	post := func(s ledger.Substance, g measure.Grams, from ledger.Account) []ledger.Posting {
		return []ledger.Posting{{Account: from, Substance: s, Grams: -g, Method: ledger.Weighed}, {Account: at, Substance: s, Grams: g, Method: ledger.Weighed}}
	}
	err := p.svc.Store().InTx(context.Background(), store.Scope{Garden: garden}, func(tx *store.Tx) error {
		return tx.Post(ledger.Entry{Garden: garden, ID: uuid.Must(uuid.NewV7()), Kind: ledger.KindFeeding, EffectiveOn: measure.MustDay("2026-10-01"),
			OccurredAt: p.now(), RecordedAt: p.now(), Cause: ledger.Cause{Kind: "feeding", ID: uuid.Must(uuid.NewV7())},
			Postings: append(post(ledger.Scraps("apples"), scraps, ledger.UnknownSource()), post(ledger.BeddingOf("cardboard"), bedding, ledger.OutsideAccount())...)})
	})
	if err != nil {
		p.t.Fatal(err)
	}
}

func TestAPartialHarvestClosesNoBooksAndAnEmptyingClosesAll(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.newBed(farm.Wedge, farm.BinSetUp, fedSections)
	p.books(b, 0, 9000, 2500)
	p.move(outside("a breeder"), b.at(0), live("700"), doc{"occurred_at": "2026-10-02T09:00:00Z"}).want(201)

	part := p.harvest(b, 0, "4").want(201)
	if part.grams("mass_g") != 4000 || part.grams("closed_g") != 0 || part.Body["emptied"] != false || part.Body["worms_left_g"] != nil {
		t.Errorf("a partial harvest: %s", part.Raw)
	}
	all := p.harvest(b, 0, "3.5", doc{"emptied": true, "worms_carried_out": live("250")}).want(201)
	if all.grams("closed_g") != 11500 || all.grams("worms_left_g") != 450 {
		t.Errorf("an emptying: %s", all.Raw)
	}
	if again := p.harvest(b, 0, "1", doc{"emptied": true}).want(201); again.grams("closed_g") != 0 {
		t.Errorf("closed twice: %s", again.Raw)
	}
	if s := p.sections(b.id)[0]; s["emptied_on"] != "2026-10-05" {
		t.Errorf("emptied section: %v", s)
	}
	if ids := p.pages("/harvests?bin_id="+b.id, 2); len(ids) != 3 {
		t.Errorf("listed %v", ids)
	}
	lot := p.in("GET", "/castings-lots/"+all.text("castings_lot_id"), nil).want(200)
	if lot.text("stage") != "harvested" || lot.grams("remaining_g") != 3500 || lot.text("harvest_id") != all.text("id") {
		t.Errorf("castings lot %s", lot.Raw)
	}
	p.sound()
}

func TestAHarvestFromWhereFoodIsWorkedIsRefused(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	for _, m := range []farm.Method{farm.Wedge, farm.Windrow, farm.Trays, farm.FlowThrough} {
		b := p.newBed(m, farm.BinInUse, fedSections)
		p.harvest(b, 2, "3").refused(409, "harvest.stage", "/section_id")
		p.harvest(b, 1, "3").want(201)
	}
	batch := p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	p.harvest(batch, 0, "3", doc{"emptied": true}).want(201)
	p.harvest(batch, 0, "3", doc{"worms_carried_out": live("10")}).refused(409, "worms.none", "/worms_carried_out")
	p.harvest(batch, 0, "3", doc{"amount": doc{"method": "weighed"}}).refused(422, "mass.invalid", "/amount/mass")
	p.harvest(batch, 0, "3", doc{"section_id": uuid.NewString()}).refused(404, "section.not_found", "/section_id")
	p.harvest(batch, 0, "3", doc{"bin_id": uuid.NewString()}).refused(404, "bin.not_found", "/bin_id")
	lot := p.harvest(batch, 0, "3").want(201).text("castings_lot_id")
	p.harvest(batch, 0, "3", doc{"castings_lot_id": lot}).refused(409, "id.taken", "/castings_lot_id")
	p.sound()
}

func TestCastingsAreDriedScreenedAndRestedInOrder(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.newBed(farm.Wedge, farm.BinInUse, fedSections)
	lot := p.harvest(b, 0, "18").want(201).text("castings_lot_id")
	if got := p.step(lot, doc{"stage": "drying", "amount": weighed("15.5"), "note": "A squeezed handful crumbled."}).want(201); got.grams("remaining_g") != 15500 {
		t.Errorf("dried: %s", got.Raw)
	}
	p.step(lot, doc{"stage": "drying"}).refused(409, "castings.state", "/stage")
	p.step(lot, doc{"stage": "drying", "amount": weighed("15")}).want(201)
	p.step(lot, doc{"stage": "harvested", "amount": weighed("15")}).refused(409, "castings.state", "/stage")
	back := doc{"stage": "screened", "screenings": weighed("2.2"), "screenings_bin_id": b.id, "screenings_section_id": b.sections[2]}
	p.step(lot, doc{"stage": "screened", "screenings": weighed("2.2")}).refused(422, "castings.invalid", "/screenings_bin_id")
	p.step(lot, doc{"stage": "screened", "screenings_bin_id": b.id}).refused(422, "castings.invalid", "/screenings")
	p.step(lot, doc{"stage": "resting", "screenings": weighed("1"), "screenings_bin_id": b.id, "screenings_section_id": b.sections[2]}).
		refused(422, "castings.invalid", "/screenings")
	p.step(lot, doc{"stage": "screened", "screenings": weighed("15.1"), "screenings_bin_id": b.id, "screenings_section_id": b.sections[2]}).
		refused(409, "castings.short", "/screenings")
	p.step(lot, doc{"stage": "screened", "screenings": weighed("1"), "screenings_bin_id": b.id, "screenings_section_id": uuid.NewString()}).
		refused(404, "section.not_found", "/screenings_section_id")
	key := `"screened-once"`
	first := p.in("POST", "/castings-lots/"+lot+"/steps", back, "Idempotency-Key", key).want(201)
	if replay := p.in("POST", "/castings-lots/"+lot+"/steps", back, "Idempotency-Key", key).want(201); string(replay.Raw) != string(first.Raw) {
		t.Errorf("replayed %s", replay.Raw)
	}
	p.step(lot, doc{"stage": "resting", "occurred_at": "2026-10-04T09:00:00Z"}).refused(422, "castings.not_yet", "/occurred_at")
	p.step(lot, doc{"stage": "ready"}).want(201)
	got := p.in("GET", "/castings-lots/"+lot, nil).want(200)
	if got.grams("remaining_g") != 12800 || got.grams("harvested_g") != 18000 || len(got.Body["steps"].([]any)) != 5 {
		t.Errorf("ready: %s", got.Raw)
	}
	p.harvest(b, 1, "2").want(201)
	p.harvest(b, 1, "2").want(201)
	if ids := p.pages("/castings-lots", 2); len(ids) != 3 {
		t.Errorf("listed %v", ids)
	}
	if list := p.in("GET", "/castings-lots?stage=ready&in_stock=true", nil).want(200).items(); len(list) != 1 || list[0]["id"] != lot {
		t.Errorf("ready: %v", list)
	}
	p.sound()
}

func TestCastingsAreGivenToPeopleBedsAndOutsiders(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	home := p.household("Rowan")
	lot := p.ready("10")
	give := func(body doc) *answer {
		all := doc{"castings_lot_id": lot, "amount": weighed("1")}
		for k, v := range body {
			all[k] = v
		}
		return p.in("POST", "/giveaways", all)
	}
	bag := give(doc{"to": "household", "household_id": home, "note": "Two bags."}).want(201)
	give(doc{"to": "member", "member_id": p.member, "amount": doc{"method": "container", "container": doc{"value": "5", "unit": "L"}}}).want(201)
	give(doc{"to": "bed", "recipient_class": "Long bed by the gate"}).want(201)
	give(doc{"to": "outsider", "recipient_class": "Primary school, 2nd year"}).want(201)
	give(doc{"to": "member"}).refused(422, "giveaway.invalid", "/member_id")
	give(doc{"to": "bed", "recipient_class": "Long bed", "member_id": p.member}).refused(422, "giveaway.invalid", "/member_id")
	give(doc{"to": "outsider"}).refused(422, "giveaway.invalid", "/recipient_class")
	give(doc{"to": "household", "household_id": uuid.NewString()}).refused(404, "household.not_found", "/household_id")
	give(doc{"to": "member", "member_id": uuid.NewString()}).refused(404, "member.not_found", "/member_id")
	give(doc{"to": "bed", "recipient_class": "Herbs", "amount": weighed("50")}).refused(409, "castings.short", "/amount")
	give(doc{"to": "bed", "recipient_class": "Herbs", "castings_lot_id": uuid.NewString()}).refused(404, "castings.not_found", "/castings_lot_id")
	fresh := p.harvest(p.newBed(farm.Batch, farm.BinInUse, oneFeeding), 0, "4").want(201).text("castings_lot_id")
	give(doc{"to": "bed", "recipient_class": "Herbs", "castings_lot_id": fresh}).refused(409, "castings.state", "/castings_lot_id")
	// 5 L at 593 g/L, the planning figure of 1000 lb to the cubic yard, are 2965 g.
	if left := p.in("GET", "/castings-lots/"+lot, nil).want(200).grams("remaining_g"); left != 10000-3000-2965 {
		t.Errorf("%d g left", left)
	}
	if ids := p.pages("/giveaways?castings_lot_id="+lot, 3); len(ids) != 4 || ids[3] != bag.text("id") {
		t.Errorf("listed %v", ids)
	}
	label := p.in("GET", "/giveaways/"+bag.text("id")+"/label", nil).want(200)
	if !strings.HasPrefix(label.Header.Get("Content-Type"), "text/plain") {
		t.Errorf("label as %s", label.Header.Get("Content-Type"))
	}
	for _, say := range []string{"Lowfield Terrace Garden", "2026-10-05", "1.0 kg", "Not heat-treated", "cocoons and seeds", "Damp", "gloves", "wash hands", "Not for woods"} {
		if !strings.Contains(string(label.Raw), say) {
			t.Errorf("the label does not say %q:\n%s", say, label.Raw)
		}
	}
	p.sound()
}

func TestTheLastCastingsAreGivenOnce(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	lot := p.ready("2")
	var wait sync.WaitGroup
	got := make([]*answer, 4)
	for i := range got {
		wait.Go(func() {
			got[i] = p.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("1.5"), "to": "bed", "recipient_class": "Herbs"})
		})
	}
	wait.Wait()
	given := 0
	for _, g := range got {
		if g.Status == http.StatusCreated {
			given++
		} else {
			g.refused(409, "castings.short", "")
		}
	}
	if given != 1 {
		t.Errorf("the last castings were given %d times", given)
	}
	p.sound()
}

func TestCastingsOfAnotherGardenAreNotThere(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	b := p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	lot := p.ready("5")
	bag := p.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("1"), "to": "bed", "recipient_class": "Herbs"}).want(201).text("id")
	stranger.harvest(b, 0, "1").refused(404, "bin.not_found", "/bin_id")
	stranger.in("GET", "/castings-lots/"+lot, nil).refused(404, "castings.not_found", "")
	stranger.step(lot, doc{"stage": "ready"}).refused(404, "castings.not_found", "")
	stranger.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("1"), "to": "bed", "recipient_class": "Herbs"}).
		refused(404, "castings.not_found", "")
	stranger.in("GET", "/giveaways/"+bag+"/label", nil).refused(404, "giveaway.not_found", "")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "bo@lowfield.example")
	keeper.harvest(b, 0, "1").refused(403, "bin.not_yours", "")
	keeper.in("GET", "/castings-lots/"+lot, nil).want(200)
	donor.in("GET", "/castings-lots", nil).refused(403, "role.forbidden", "")
	donor.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("1"), "to": "bed", "recipient_class": "Herbs"}).
		refused(403, "role.forbidden", "")
}

func TestASeasonsCastingsAreSharedToTheGram(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	rowan, alder := p.household("Rowan"), p.household("Alder")
	lot := p.ready("10.001")
	for _, home := range []string{rowan, rowan, alder} {
		if _, err := p.svc.TakeIn(context.Background(), service.Actor{AccountID: p.account()}, uuid.MustParse(p.garden), service.Intake{
			Material: "apples", Mass: farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: "4", Unit: measure.Kilogram}},
			SiteID: uuid.MustParse(p.site("Drop-off " + uuid.NewString())), HouseholdID: uuid.MustParse(home), Status: farm.LotAccepted}, service.Once{}); err != nil {
			t.Fatal(err)
		}
	}
	given := p.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("1.5"), "to": "household", "household_id": rowan}).want(201)
	wrong := p.in("POST", "/giveaways", doc{"castings_lot_id": lot, "amount": weighed("2"), "to": "household", "household_id": alder}).want(201)
	p.reverse(wrong.text("entry_id"))

	due := func() (map[string][2]int64, *answer) {
		got := p.in("GET", "/shares", nil).want(200)
		out, sum := map[string][2]int64{}, got.grams("reserved_g")
		for _, one := range got.Body["shares"].([]any) {
			x := one.(map[string]any)
			out[x["household_id"].(string)] = [2]int64{int64(x["due_g"].(float64)), int64(x["received_g"].(float64))}
			sum += int64(x["due_g"].(float64))
		}
		if sum != got.grams("to_share_g") {
			t.Errorf("shares and reserve sum to %d g: %s", sum, got.Raw)
		}
		return out, got
	}
	shares, got := due()
	if got.text("from") != "2026-09-01" || got.text("to") != "2026-12-01" || got.grams("to_share_g") != 10001 || got.grams("reserved_g") != 2000 {
		t.Errorf("autumn: %s", got.Raw)
	}
	if shares[rowan] != [2]int64{4000, given.grams("mass_g")} || shares[alder] != [2]int64{4001, 0} {
		t.Errorf("equally: %v", shares)
	}
	tag := p.call("GET", "/v1/gardens/"+p.garden, nil).want(200).Header.Get("ETag")
	p.call("PATCH", "/v1/gardens/"+p.garden, doc{"settings": doc{"sharing_rule": doc{"kind": "by_scraps", "reserve_percent": 10}}}, "If-Match", tag).want(200)
	if shares, got = due(); got.grams("reserved_g") != 1000 || shares[rowan][0] != 6001 || shares[alder][0] != 3000 {
		t.Errorf("by scraps: %s", got.Raw)
	}
	if spring := p.in("GET", "/shares?season=2026-spring", nil).want(200); spring.grams("to_share_g") != 0 || len(spring.Body["shares"].([]any)) != 0 {
		t.Errorf("spring: %s", spring.Raw)
	}
	p.in("GET", "/shares?season=never", nil).refused(422, "season.unknown", "/season")
	p.with("donor", "bo@lowfield.example").in("GET", "/shares", nil).refused(403, "role.forbidden", "")
}
