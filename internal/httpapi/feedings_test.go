package httpapi

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

// scraps takes a lot in as accepted, unless told otherwise, and gives its id.
func (p *person) scraps(site, material, kg string, change ...func(*service.Intake)) string {
	p.t.Helper()
	in := service.Intake{Material: material, SiteID: uuid.MustParse(site), Status: farm.LotAccepted,
		Mass: farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: kg, Unit: measure.Kilogram}}}
	for _, c := range change {
		c(&in)
	}
	done, err := p.svc.TakeIn(context.Background(), service.Actor{AccountID: p.account()}, uuid.MustParse(p.garden), in, service.Once{})
	if err != nil {
		p.t.Fatal(err)
	}
	return done.Value.ID.String()
}

// left is what an account holds of everything, to the gram.
func (p *person) left(account string) (sum int64) {
	p.t.Helper()
	a, err := ledger.ParseAccount(account)
	if err != nil {
		p.t.Fatal(err)
	}
	me, garden := service.Actor{AccountID: p.account()}, uuid.MustParse(p.garden)
	list, err := p.svc.Entries(context.Background(), me, garden, store.EntryFilter{Account: account}, service.Page{Limit: 200})
	if err != nil {
		p.t.Fatal(err)
	}
	for _, e := range list.Items {
		for _, x := range e.Postings {
			if x.Account == a {
				sum += int64(x.Grams)
			}
		}
	}
	return sum
}

// face is a bin with its feeding section.
type face struct{ bin, section string }

func (p *person) face(name string, keepers ...string) face {
	p.t.Helper()
	bin := p.bin(name, keepers...).text("id")
	return face{bin, p.sections(bin)[0]["id"].(string)}
}

func (f face) meal(lots ...doc) doc {
	return doc{"bin_id": f.bin, "section_id": f.section, "cover_mm": 50, "lots": append([]doc{}, lots...)}
}

func (f face) account() string { return "section:" + f.bin + "/" + f.section }

// codes are the codes of a feeding's warnings.
func codes(a *answer) map[string]bool {
	out := map[string]bool{}
	for _, w := range a.Body["warnings"].([]any) {
		out[w.(map[string]any)["code"].(string)] = true
	}
	return out
}

// The masses are a worked example: 9.4 kg gross less 0.9 kg tare leaves 8.5 kg;
// 4 kg of it are fed, with 1.25 kg nobody booked in and 1.5 kg of bedding from
// a batch of 6 kg cardboard, 2 kg leaves and 8 kg of water.
func TestAFeedingBalancesToTheGram(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	site, f := p.site("Shed"), p.face("Bin 3")
	lot := p.scraps(site, "apples", "9.4", func(in *service.Intake) {
		in.Mass.Tare = measure.Quantity{Value: "0.9", Unit: measure.Kilogram}
	})
	batch := p.in("POST", "/bedding-batches", doc{"site_id": site, "water": doc{"value": "8", "unit": "L"}, "stand_in": true,
		"parts": []doc{{"dry_bedding_id": p.dry(site, "corrugated_cardboard", "6")}, {"dry_bedding_id": p.dry(site, "leaves", "2")}}}).want(201).text("id")
	meal := f.meal(doc{"lot_id": lot, "amount": weighed("4")})
	meal["unrecorded"] = []doc{{"material": "mixed_kitchen_scraps", "amount": doc{"method": "estimate", "mass": doc{"value": "1.25", "unit": "kg"}}}}
	meal["bedding"] = []doc{{"bedding_batch_id": batch, "amount": weighed("1.5")}}
	fed := p.in("POST", "/feedings", meal).want(201)
	if fed.grams("mass_g") != 5250 || fed.grams("bedding_mass_g") != 1500 {
		t.Errorf("fed %s", fed.Raw)
	}
	for account, want := range map[string]int64{"lot:" + lot: 4500, "bedding:" + batch: 14500, f.account(): 6750, "source:unknown": -9750} {
		if got := p.left(account); got != want {
			t.Errorf("%s holds %d g, want %d g", account, got, want)
		}
	}
	got := p.in("GET", "/feedings/"+fed.text("id"), nil).want(200)
	if string(got.Raw) != string(fed.Raw) {
		t.Errorf("reads back as\n%s\nafter\n%s", got.Raw, fed.Raw)
	}
	lots := fed.Body["lots"].([]any)
	if u := lots[1].(map[string]any); len(lots) != 2 || u["unrecorded"] != true || p.left("lot:"+u["lot_id"].(string)) != 0 {
		t.Errorf("the unrecorded scraps are %v", lots)
	}
	rest := p.in("POST", "/feedings", f.meal(doc{"lot_id": lot})).want(201)
	if rest.grams("mass_g") != 4500 || p.left("lot:"+lot) != 0 || p.left(f.account()) != 11250 {
		t.Errorf("the rest of the lot: %s", rest.Raw)
	}
	p.sound()
}

func TestTheFirstFeedIsNotedOnTheSectionAndTheBin(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	f := p.face("Bin 3")
	site := p.site("Shed")
	lot := p.scraps(site, "apples", "3", func(in *service.Intake) { in.OccurredAt = noon.AddDate(0, 0, -3) })
	meal := f.meal(doc{"lot_id": lot, "amount": weighed("1")})
	meal["occurred_at"] = noon.AddDate(0, 0, -2).Format(time.RFC3339)
	if got := p.in("POST", "/feedings", meal).want(201); got.text("day") != "2026-10-03" {
		t.Errorf("backdated to %s", got.text("day"))
	}
	p.in("POST", "/feedings", f.meal(doc{"lot_id": lot})).want(201)
	bin := p.in("GET", "/bins/"+f.bin, nil).want(200)
	if on := bin.Body["set_up"].(map[string]any)["first_feed_on"]; on != "2026-10-03" {
		t.Errorf("first fed on %v", on)
	}
	foods := 0
	for _, x := range []string{"", "?bin_id=" + f.bin, "?from=2026-10-05&to=2026-10-06", "?bin_id=" + uuid.NewString(), "?to=2026-10-03"} {
		foods = foods*10 + len(p.pages("/feedings"+x, 1))
	}
	if foods != 22100 {
		t.Errorf("feedings listed by filter: %05d, want 22100", foods)
	}
}

func TestWhatCannotBeFedIsRefused(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	site, f := p.site("Shed"), p.face("Bin 3")
	lot := p.scraps(site, "apples", "3")
	received := p.scraps(site, "apples", "3", func(in *service.Intake) { in.Status = farm.LotReceived })
	rejected := p.scraps(site, "apples", "3", func(in *service.Intake) { in.Status, in.Reason = farm.LotRejected, "mouldy" })
	dry := p.dry(site, "leaves", "1")
	with := func(key string, v any) doc {
		m := f.meal(doc{"lot_id": lot, "amount": weighed("1")})
		m[key] = v
		return m
	}
	for name, c := range map[string]struct {
		meal   doc
		status int
		code   string
		field  string
	}{
		"nothing":             {f.meal(), 422, "feeding.invalid", "/lots"},
		"more than is left":   {f.meal(doc{"lot_id": lot, "amount": weighed("3.001")}), 409, "lot.empty", "/lots/0/amount"},
		"one lot twice":       {f.meal(doc{"lot_id": lot, "amount": weighed("1")}, doc{"lot_id": lot}), 422, "feeding.invalid", "/lots/1/lot_id"},
		"not yet accepted":    {f.meal(doc{"lot_id": received}), 409, "lot.state", "/lots/0/lot_id"},
		"turned away":         {f.meal(doc{"lot_id": rejected}), 409, "lot.rejected", "/lots/0/lot_id"},
		"no such lot":         {f.meal(doc{"lot_id": uuid.NewString()}), 404, "lot.not_found", "/lots/0/lot_id"},
		"before it came":      {with("occurred_at", noon.AddDate(0, 0, -1).Format(time.RFC3339)), 422, "lot.not_yet", "/occurred_at"},
		"ahead of time":       {with("occurred_at", noon.Add(time.Hour).Format(time.RFC3339)), 422, "day.future", "/occurred_at"},
		"too much bedding":    {with("bedding", []doc{{"dry_bedding_id": dry, "amount": weighed("1.001")}}), 409, "bedding.short", "/bedding/0/amount"},
		"no such batch":       {with("bedding", []doc{{"bedding_batch_id": dry}}), 404, "bedding.not_found", "/bedding/0/bedding_batch_id"},
		"bedding of no name":  {with("bedding", []doc{{"amount": weighed("1")}}), 422, "feeding.invalid", "/bedding/0"},
		"bedding as scraps":   {with("unrecorded", []doc{{"material": "leaves", "amount": weighed("1")}}), 404, "material.not_found", "/unrecorded/0/material"},
		"a lot's id again":    {with("unrecorded", []doc{{"material": "apples", "amount": weighed("1"), "lot_id": received}}), 409, "lot.exists", "/unrecorded/0/lot_id"},
		"no such section":     {with("section_id", uuid.NewString()), 404, "section.not_found", "/section_id"},
		"no such bin":         {with("bin_id", uuid.NewString()), 404, "bin.not_found", ""},
		"a mass of no weight": {f.meal(doc{"lot_id": lot, "amount": weighed("0")}), 422, "mass.invalid", "/lots/0/amount/mass"},
	} {
		got := p.in("POST", "/feedings", c.meal)
		if got.Status != c.status {
			t.Errorf("%s: status %d, want %d\n%s", name, got.Status, c.status, got.Raw)
			continue
		}
		got.refused(c.status, c.code, c.field)
	}
	g := stranger.face("Far bin")
	stranger.in("POST", "/feedings", g.meal(doc{"lot_id": lot})).refused(404, "lot.not_found", "/lots/0/lot_id")
	stranger.in("POST", "/feedings", f.meal(doc{"lot_id": lot})).refused(404, "bin.not_found", "")
	fed := p.in("POST", "/feedings", f.meal(doc{"lot_id": lot})).want(201).text("id")
	stranger.in("GET", "/feedings/"+fed, nil).refused(404, "feeding.not_found", "")
	p.in("POST", "/feedings", doc{"id": fed, "bin_id": f.bin, "section_id": f.section, "unrecorded": []doc{{"material": "apples", "amount": weighed("1")}}}).
		refused(409, "feeding.exists", "/id")
	p.in("PATCH", "/bins/"+f.bin+"/sections/"+f.section, doc{"stage": "maturing"}, "If-Match", `"2"`).want(200)
	p.in("POST", "/feedings", doc{"bin_id": f.bin, "section_id": f.section, "unrecorded": []doc{{"material": "apples", "amount": weighed("1")}}}).
		refused(409, "section.stage", "/section_id")
}

func TestABinIsFedByItsKeepers(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	mine, other, donor := p.with("keeper", "ines@lowfield.example"), p.with("keeper", "rui@lowfield.example"), p.with("donor", "lena@lowfield.example")
	f := p.face("Bin 3", mine.member)
	meal := f.meal(doc{"lot_id": p.scraps(p.site("Shed"), "apples", "3"), "amount": weighed("1")})
	first := mine.in("POST", "/feedings", meal, "Idempotency-Key", `"tap"`).want(201)
	again := mine.in("POST", "/feedings", meal, "Idempotency-Key", `"tap"`).want(201)
	if string(first.Raw) != string(again.Raw) || p.left(f.account()) != 1000 {
		t.Errorf("sent twice: %d g in the section", p.left(f.account()))
	}
	other.in("POST", "/feedings", meal).refused(403, "bin.not_yours", "")
	donor.in("POST", "/feedings", meal).refused(403, "role.forbidden", "")
	donor.in("GET", "/feedings", nil).refused(403, "role.forbidden", "")
	if n := len(other.in("GET", "/feedings", nil).want(200).items()); n != 1 {
		t.Errorf("another keeper sees %d feedings", n)
	}
}

func TestAFeedingIsWarnedOfAndRecordedAllTheSame(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	site, f := p.site("Shed"), p.face("Bin 3")
	frozen := p.scraps(site, "apples", "1", func(in *service.Intake) { in.Place = farm.Freezer })
	peel := p.scraps(site, "citrus_peel", "1")
	trimmings := p.scraps(site, "vegetable_trimmings", "1")
	batch := p.in("POST", "/bedding-batches", doc{"site_id": site, "parts": []doc{{"dry_bedding_id": p.dry(site, "leaves", "3")}}}).want(201).text("id")
	meal := f.meal(doc{"lot_id": frozen}, doc{"lot_id": peel})
	meal["cover_mm"], meal["bedding"] = 20, []doc{{"bedding_batch_id": batch, "amount": weighed("1")}}
	bad := codes(p.in("POST", "/feedings", meal).want(201))
	for _, want := range []string{"thaw_first", "go_easy_citrus", "thin_cover", "bedding_not_ready"} {
		if !bad[want] {
			t.Errorf("no warning %s among %v", want, bad)
		}
	}
	if good := codes(p.in("POST", "/feedings", f.meal(doc{"lot_id": trimmings})).want(201)); good["thin_cover"] || good["thaw_first"] || good["go_easy_citrus"] {
		t.Errorf("a good feeding is warned of: %v", good)
	}
}

// A bin's records speak against a feeding; it is recorded all the same.
func TestAnOverfedAHotAndAColdBinAreWarnedOfAndFed(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	for name, c := range map[string]struct {
		earlier string // fed yesterday, kg
		check   doc
		kg      string
		want    string
	}{
		"at ease":             {"", doc{}, "0.2", ""},
		"fed 40 kg yesterday": {"40", doc{}, "0.2", "overfed"},
		"40 kg at once":       {"", doc{}, "40", "overfed"},
		"at 41 °C":            {"", doc{"temperature_feed_c": 41}, "0.2", "fed_hot"},
		"at 9 °C":             {"", doc{"temperature_bed_c": 9}, "0.2", "fed_cold"},
	} {
		b := p.wormy()
		meal := func(kg string) doc {
			return doc{"bin_id": b.id, "section_id": b.sections[1], "cover_mm": 50, "unrecorded": []doc{{"material": "vegetable_trimmings", "amount": weighed(kg)}}}
		}
		if c.earlier != "" {
			before := meal(c.earlier)
			before["occurred_at"] = noon.AddDate(0, 0, -1).Format(time.RFC3339)
			p.in("POST", "/feedings", before).want(201)
		}
		if len(c.check) > 0 {
			c.check["kind"] = "quick"
			p.in("POST", "/bins/"+b.id+"/checks", c.check).want(201)
		}
		fed := p.in("POST", "/feedings", meal(c.kg)).want(201)
		got := codes(fed)
		for _, code := range []string{"overfed", "fed_hot", "fed_cold"} {
			if got[code] != (code == c.want) {
				t.Errorf("%s: warned of %v, want %q", name, got, c.want)
			}
		}
		if kept := p.in("GET", "/feedings/"+fed.text("id"), nil).want(200); string(kept.Raw) != string(fed.Raw) {
			t.Errorf("%s: reads back as\n%s\nafter\n%s", name, kept.Raw, fed.Raw)
		}
	}
}

// What came later does not speak against a feeding noted late.
func TestABackdatedFeedingIsHeldAgainstTheBinOfItsDay(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.wormy()
	meal := doc{"bin_id": b.id, "section_id": b.sections[1], "cover_mm": 50, "unrecorded": []doc{{"material": "vegetable_trimmings", "amount": weighed("0.2")}}}
	p.in("POST", "/bins/"+b.id+"/checks", doc{"kind": "quick", "temperature_feed_c": 41}).want(201)
	if got := codes(p.in("POST", "/feedings", meal).want(201)); !got["fed_hot"] {
		t.Errorf("today: warned of %v", got)
	}
	meal["occurred_at"] = noon.AddDate(0, 0, -2).Format(time.RFC3339)
	if got := codes(p.in("POST", "/feedings", meal).want(201)); got["fed_hot"] {
		t.Errorf("two days before the heat: warned of %v", got)
	}
}

func TestOnlyOneKeeperFeedsTheLastGrams(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	faces := []face{p.face("Bin 1"), p.face("Bin 2"), p.face("Bin 3")}
	lot := p.scraps(p.site("Shed"), "apples", "1")
	var wg sync.WaitGroup
	answers := make([]*answer, 12)
	for i := range answers {
		wg.Add(1)
		go func() {
			defer wg.Done()
			answers[i] = p.in("POST", "/feedings", faces[i%3].meal(doc{"lot_id": lot, "amount": weighed("0.6")}))
		}()
	}
	wg.Wait()
	won := 0
	for _, a := range answers {
		if a.Status == 201 {
			won++
			continue
		}
		a.refused(409, "lot.empty", "/lots/0/amount")
	}
	if won != 1 || p.left("lot:"+lot) != 400 {
		t.Errorf("%d of %d won, %d g are left", won, len(answers), p.left("lot:"+lot))
	}
}

func TestAReversedFeedingGivesEverythingBack(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	site, f := p.site("Shed"), p.face("Bin 3")
	lot := p.scraps(site, "apples", "2")
	meal := f.meal(doc{"lot_id": lot})
	meal["unrecorded"] = []doc{{"material": "bread", "amount": weighed("1")}}
	meal["bedding"] = []doc{{"dry_bedding_id": p.dry(site, "leaves", "1")}}
	fed := p.in("POST", "/feedings", meal).want(201)
	p.reverse(fed.text("entry_id"))
	if p.left("lot:"+lot) != 2000 || p.left(f.account()) != 0 || p.left("source:unknown") != -2000 {
		t.Errorf("left: lot %d, section %d, unknown %d", p.left("lot:"+lot), p.left(f.account()), p.left("source:unknown"))
	}
	if got := p.in("GET", "/feedings/"+fed.text("id"), nil).want(200); got.Body["reversed"] != true {
		t.Errorf("got %s", got.Raw)
	}
}
