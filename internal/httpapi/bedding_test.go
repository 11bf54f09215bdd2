package httpapi

import (
	"testing"
	"time"

	"github.com/google/uuid"
)

func weighed(kg string) doc {
	return doc{"method": "weighed", "mass": doc{"value": kg, "unit": "kg"}}
}

// dry receives dry bedding and gives its id.
func (p *person) dry(site, material, kg string) string {
	p.t.Helper()
	return p.in("POST", "/dry-bedding", doc{"material": material, "site_id": site, "amount": weighed(kg)}).want(201).text("id")
}

// NRAES-54 gives corrugated cardboard 8 % moisture (from memory) and the
// catalogue leaves 38 %. 8.5 kg and 4 kg of them hold 0.68 kg and 1.52 kg of
// water; with 12.5 kg added, 14.7 kg of 25 kg is water: 58.8 %.
func TestABatchHoldsItsPartsAndItsWaterToTheGram(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	site := p.site("Potting shed")
	card, leaves := p.dry(site, "corrugated_cardboard", "20"), p.dry(site, "leaves", "4")
	made := p.in("POST", "/bedding-batches", doc{"site_id": site, "water": doc{"value": "12.5", "unit": "L"}, "tubs": 3,
		"parts": []doc{{"dry_bedding_id": card, "amount": doc{"method": "weighed", "mass": doc{"value": "9.4", "unit": "kg"},
			"tare": doc{"value": "0.9", "unit": "kg"}}}, {"dry_bedding_id": leaves}}}).want(201)
	if made.grams("mass_g") != 25000 || made.grams("remaining_g") != 25000 || made.grams("water_g") != 12500 {
		t.Errorf("made %s", made.Raw)
	}
	if m := made.Body["moisture_percent"].(float64); m < 58.7999 || m > 58.8001 {
		t.Errorf("moisture %v %%, want 58.8", m)
	}
	if made.text("ready_on") != "2026-10-19" || made.Body["ready"] != false {
		t.Errorf("ready %v on %s, want 14 days on", made.Body["ready"], made.text("ready_on"))
	}
	got := p.in("GET", "/bedding-batches/"+made.text("id"), nil).want(200)
	if string(got.Raw) != string(made.Raw) {
		t.Errorf("reads back as\n%s\nafter\n%s", got.Raw, made.Raw)
	}
	left := map[string]any{}
	for _, d := range p.in("GET", "/dry-bedding", nil).want(200).items() {
		left[d["id"].(string)] = d["remaining_g"]
	}
	if left[card] != 11500.0 || left[leaves] != 0.0 {
		t.Errorf("left of the dry bedding: %v", left)
	}
	stocked := p.pages("/dry-bedding?in_stock=true", 10)
	if len(stocked) != 1 || stocked[0] != card {
		t.Errorf("in stock: %v", stocked)
	}
}

func TestABatchIsLookedAtUntilItIsReady(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	site := p.site("Potting shed")
	batch := p.in("POST", "/bedding-batches", doc{"site_id": site, "parts": []doc{{"dry_bedding_id": p.dry(site, "leaves", "9")}}}).want(201).text("id")
	at := "/bedding-batches/" + batch + "/looks"
	look := doc{"temperature_c": 22.0, "room_c": 16.0, "squeeze": 3, "smell": "earth"}
	warm := p.in("POST", at, look).want(201)
	if l := warm.Body["looks"].([]any); len(l) != 1 || l[0].(map[string]any)["ready"] != false {
		t.Errorf("six degrees over the room: %s", warm.Raw)
	}
	p.at(noon.AddDate(0, 0, 15))
	p.token = p.signIn("maren@lowfield.example").token
	look["temperature_c"] = 16.5
	if cool := p.in("POST", at, look).want(201); cool.Body["ready"] != true {
		t.Errorf("aged and cooled: %s", cool.Raw)
	}
	look["occurred_at"] = noon.Add(-time.Hour).Format(time.RFC3339)
	p.in("POST", at, look).refused(422, "bedding.not_yet", "/occurred_at")
	p.in("POST", "/bedding-batches/"+uuid.NewString()+"/looks", doc{"temperature_c": 16.0, "room_c": 16.0, "squeeze": 3, "smell": "earth"}).
		refused(404, "bedding.not_found", "")
	p.in("POST", at, doc{"temperature_c": 16.0, "room_c": 16.0, "squeeze": 6, "smell": "earth"}).refused(400, "request.malformed", "/squeeze")
	if list := p.in("GET", "/bedding-batches", nil).want(200).items(); len(list) != 1 || list[0]["ready"] != true || len(list[0]["looks"].([]any)) != 2 {
		t.Errorf("listed as %v", list)
	}
}

func TestBeddingThatIsNotThereCannotBeUsed(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	site := p.site("Potting shed")
	card := p.dry(site, "corrugated_cardboard", "2")
	batch := func(who *person, site string, parts ...doc) *answer {
		return who.in("POST", "/bedding-batches", doc{"site_id": site, "parts": parts})
	}
	batch(p, site, doc{"dry_bedding_id": card, "amount": weighed("2.001")}).refused(409, "bedding.short", "/parts/0/amount")
	batch(p, site, doc{"dry_bedding_id": card, "amount": weighed("1")}, doc{"dry_bedding_id": card}).
		refused(422, "bedding.invalid", "/parts/1/dry_bedding_id")
	batch(p, uuid.NewString(), doc{"dry_bedding_id": card}).refused(404, "site.not_found", "/site_id")
	batch(stranger, stranger.site("Barn"), doc{"dry_bedding_id": card}).refused(404, "bedding.not_found", "/parts/0/dry_bedding_id")
	made := batch(p, site, doc{"dry_bedding_id": card}).want(201).text("id")
	batch(p, site, doc{"dry_bedding_id": card}).refused(409, "bedding.short", "/parts/0/amount")
	stranger.in("GET", "/bedding-batches/"+made, nil).refused(404, "bedding.not_found", "")
	p.in("POST", "/dry-bedding", doc{"material": "apples", "site_id": site, "amount": weighed("1")}).refused(404, "material.not_found", "/material")
	p.in("POST", "/dry-bedding", doc{"material": "leaves", "site_id": site, "amount": weighed("0")}).refused(422, "mass.invalid", "/amount/mass")
	p.in("POST", "/dry-bedding", doc{"id": made, "material": "leaves", "site_id": site, "amount": weighed("1")}).refused(409, "bedding.exists", "/id")
	p.in("POST", "/dry-bedding", doc{"material": "leaves", "site_id": site, "amount": weighed("1"),
		"occurred_at": noon.Add(time.Hour).Format(time.RFC3339)}).refused(422, "day.future", "/occurred_at")
}

func TestBeddingIsNotedOnceAndPagesThrough(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "rui@lowfield.example")
	site := p.site("Potting shed")
	in := doc{"material": "leaves", "site_id": site, "amount": weighed("3"), "reserve": true, "note": "From the lane."}
	first := keeper.in("POST", "/dry-bedding", in, "Idempotency-Key", `"twice"`).want(201)
	again := keeper.in("POST", "/dry-bedding", in, "Idempotency-Key", `"twice"`).want(201)
	if string(first.Raw) != string(again.Raw) {
		t.Errorf("got %s after %s", again.Raw, first.Raw)
	}
	if first.Header.Get("Location") != "/v1/gardens/"+p.garden+"/dry-bedding/"+first.text("id") || first.Body["reserve"] != true {
		t.Errorf("got %s", first.Raw)
	}
	donor.in("POST", "/dry-bedding", in).refused(403, "role.forbidden", "")
	donor.in("GET", "/bedding-batches", nil).refused(403, "role.forbidden", "")
	want := []string{first.text("id")}
	for range 4 {
		want = append([]string{p.dry(site, "leaves", "1")}, want...)
	}
	var batches []string
	for _, id := range want {
		batches = append([]string{p.in("POST", "/bedding-batches", doc{"site_id": site, "stand_in": true,
			"parts": []doc{{"dry_bedding_id": id}}}).want(201).text("id")}, batches...)
	}
	for path, want := range map[string][]string{"/dry-bedding": want, "/dry-bedding?material=leaves": want,
		"/dry-bedding?material=hay": nil, "/bedding-batches?in_stock=true": batches, "/bedding-batches?site_id=" + uuid.NewString(): nil} {
		got := p.pages(path, 2)
		if len(got) != len(want) {
			t.Errorf("%s: got %v, want %v", path, got, want)
			continue
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: got %v, want %v", path, got, want)
				break
			}
		}
	}
}
