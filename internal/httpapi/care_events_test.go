package httpapi

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// lies books food straight into a section, as a feeding of a day would.
func (p *person) lies(bin, section, material string, g measure.Grams, day string) {
	p.t.Helper()
	garden, at := uuid.MustParse(p.garden), noon
	on, err := measure.ParseDay(day)
	if err != nil {
		p.t.Fatal(err)
	}
	e := ledger.Entry{Garden: garden, ID: uuid.New(), Kind: ledger.KindFeeding, EffectiveOn: on, OccurredAt: at, RecordedAt: at,
		Actor: uuid.MustParse(p.member), Cause: ledger.Cause{Kind: "test", ID: uuid.New()}, Postings: []ledger.Posting{
			{Account: ledger.UnknownSource(), Substance: ledger.Scraps(material), Grams: -g, Method: ledger.Weighed},
			{Account: ledger.SectionAccount(uuid.MustParse(bin), uuid.MustParse(section)), Substance: ledger.Scraps(material), Grams: g, Method: ledger.Weighed},
		}}
	if err := p.svc.Store().InTx(context.Background(), store.Scope{Garden: garden}, func(tx *store.Tx) error { return tx.Post(e) }); err != nil {
		p.t.Fatal(err)
	}
}

func weighedKg(v string) doc { return doc{"method": "weighed", "mass": doc{"value": v, "unit": "kg"}} }

func TestUneatenFoodLeavesTheSectionsBooksAndNeverMoreThanTheyHold(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	bin := p.bin("One").text("id")
	face := p.sections(bin)[0]["id"].(string)
	heap := p.in("POST", "/overflow-places", doc{"name": "Heap", "kind": "hot_heap"}).want(201).text("id")
	p.lies(bin, face, "bread", 3000, "2026-10-02")
	at := "/bins/" + bin + "/care-events"
	out := func(kg, to string) doc {
		d := doc{"kind": "food_removed", "section_id": face, "removed": weighedKg(kg), "removed_material": "bread", "removed_to": to}
		if to == "overflow" {
			d["overflow_place_id"] = heap
		}
		return d
	}
	first := p.in("POST", at, out("2", "overflow"), "Idempotency-Key", `"out"`).want(201)
	p.in("POST", at, out("2", "overflow"), "Idempotency-Key", `"out"`).want(201)
	if first.grams("mass_g") != 2000 || first.text("removed_to") != "overflow" {
		t.Errorf("removed %s", first.Raw)
	}
	early := out("0.5", "landfill")
	early["occurred_at"] = "2026-10-01T12:00:00Z"
	p.in("POST", at, early).refused(409, "section.short", "/removed") // it was not there yet
	p.in("POST", at, out("1.001", "landfill")).refused(409, "section.short", "/removed")
	p.in("POST", at, out("1", "landfill")).want(201)
	var stock *store.Row[store.Stock]
	held := ledger.Holding{Account: ledger.SectionAccount(uuid.MustParse(bin), uuid.MustParse(face)), Substance: ledger.Scraps("bread")}
	if err := p.svc.Store().Read(context.Background(), store.Scope{Garden: uuid.MustParse(p.garden)}, func(b *store.Batch) {
		stock = b.RolledStock(held, measure.MustDay("2026-10-01"))
	}); err != nil {
		t.Fatal(err)
	}
	if s := stock.Value; s.Latest != 0 || s.Closing(measure.MustDay("2026-10-02")) != 3000 {
		t.Errorf("the books hold %d g, and held %d g", s.Latest, s.Closing(measure.MustDay("2026-10-02")))
	}
	if faults, err := p.svc.Store().CheckLedger(context.Background(), uuid.MustParse(p.garden)); err != nil || len(faults) > 0 {
		t.Errorf("the ledger: %v %v", faults, err)
	}
}

func TestBeddingAloneComesOffItsBatch(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	made := p.bin("One")
	bin, site := made.text("id"), made.text("site_id")
	face := p.sections(bin)[0]["id"].(string)
	dry := p.in("POST", "/dry-bedding", doc{"material": "corrugated_cardboard", "site_id": site, "amount": weighedKg("4")}).want(201).text("id")
	batch := p.in("POST", "/bedding-batches", doc{"site_id": site, "parts": []doc{{"dry_bedding_id": dry, "amount": weighedKg("3")}},
		"water": doc{"value": "6", "unit": "L"}}).want(201).text("id")
	lay := func(kg string) doc {
		return doc{"kind": "fed_bedding_only", "section_id": face, "bedding_batch_id": batch, "bedding": weighedKg(kg)}
	}
	got := p.in("POST", "/bins/"+bin+"/care-events", lay("8.5")).want(201)
	if got.grams("mass_g") != 8500 || got.Body["entry_id"] == nil {
		t.Errorf("laid %s", got.Raw)
	}
	p.in("POST", "/bins/"+bin+"/care-events", lay("0.6")).refused(409, "bedding.short", "/bedding")
	d := lay("0.1")
	d["bedding_batch_id"] = uuid.NewString()
	p.in("POST", "/bins/"+bin+"/care-events", d).refused(404, "bedding.not_found", "")
}

func TestCareEventsAreListedNewestFirst(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	jon := p.with("keeper", "jon@lowfield.example")
	one, two := p.bin("One", jon.member).text("id"), p.bin("Two").text("id")
	kinds := []doc{{"kind": "turned"}, {"kind": "watered", "water": doc{"value": "2", "unit": "L"}}, {"kind": "lid_left_open", "note": "Under the light."}, {"kind": "lime_or_eggshell"}}
	var want []string
	for i, d := range kinds {
		d["occurred_at"] = noon.Add(-time.Duration(i) * time.Hour).Format(time.RFC3339)
		made := jon.in("POST", "/bins/"+one+"/care-events", d).want(201)
		want = append(want, made.text("id"))
		if d["kind"] == "watered" && made.grams("mass_g") != 2000 {
			t.Errorf("two litres are %s", made.Raw)
		}
	}
	if got := p.pages("/care-events?bin_id="+one, 3); !slices.Equal(got, want) {
		t.Errorf("paged %v, want %v", got, want)
	}
	if got := p.pages("/care-events?bin_id="+two, 3); len(got) != 0 {
		t.Errorf("of the other bin %v", got)
	}
	list := p.in("GET", "/care-events?to=2026-10-05", nil).want(200).items()
	if len(list) != 0 {
		t.Errorf("before the day: %v", list)
	}
	if got := p.in("GET", "/care-events?from=2026-10-05&limit=1", nil).want(200).items()[0]; fmt.Sprint(got["by_member_id"]) != jon.member {
		t.Errorf("listed %v", got)
	}
}

func TestACareEventThatCannotBeIsRefused(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	jon := p.with("keeper", "jon@lowfield.example")
	bin, other := p.bin("One").text("id"), p.bin("Two").text("id")
	face, elsewhere := p.sections(bin)[0]["id"], p.sections(other)[0]["id"]
	at := "/bins/" + bin + "/care-events"
	water := doc{"value": "2", "unit": "L"}
	out := doc{"kind": "food_removed", "section_id": face, "removed": weighedKg("1"), "removed_material": "bread", "removed_to": "overflow"}
	for _, c := range []struct {
		body        doc
		status      int
		code, field string
	}{
		{doc{"kind": "watered"}, 422, "care.invalid", "/water"},
		{doc{"kind": "watered", "water": doc{"value": "201", "unit": "L"}}, 422, "care.invalid", "/water"},
		{doc{"kind": "turned", "water": water}, 422, "care.invalid", "/water"},
		{doc{"kind": "turned", "removed": weighedKg("1")}, 422, "care.invalid", "/removed"},
		{doc{"kind": "turned", "bedding": weighedKg("1")}, 422, "care.invalid", "/bedding"},
		{doc{"kind": "turned", "section_id": elsewhere}, 404, "section.not_found", "/section_id"},
		{doc{"kind": "food_removed"}, 422, "care.invalid", "/removed_material"},
		{out, 422, "care.invalid", "/overflow_place_id"},
		{doc{"kind": "fed_bedding_only", "section_id": face}, 422, "care.invalid", "/bedding_batch_id"},
		{doc{"kind": "sung_to"}, 400, "request.malformed", "/kind"},
	} {
		p.in("POST", at, c.body).refused(c.status, c.code, c.field)
	}
	p.lies(bin, face.(string), "bread", 3000, "2026-10-02")
	out["overflow_place_id"] = uuid.NewString()
	p.in("POST", at, out).refused(404, "overflow.not_found", "")
	fine := doc{"kind": "turned"}
	jon.in("POST", at, fine).refused(403, "bin.not_yours", "")
	p.with("observer", "ines@lowfield.example").in("POST", at, fine).refused(403, "role.forbidden", "")
	stranger.in("POST", at, fine).refused(404, "bin.not_found", "")
	own := doc{"kind": "turned", "id": uuid.NewString()}
	p.in("POST", at, own).want(201)
	p.in("POST", at, own).want(201)
	own["kind"] = "lid_left_open"
	p.in("POST", at, own).refused(409, "id.taken", "/id")
}
