package httpapi

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/uuid"
)

// madeSites adds sites and gives their ids in the order of their names.
func (p *person) madeSites(n int) []string {
	p.t.Helper()
	ids := make([]string, n)
	for i := range ids {
		ids[i] = p.in("POST", "/sites", doc{"name": fmt.Sprintf("Shed %d", i), "kind": "shed"}).want(201).text("id")
	}
	return ids
}

func TestSitesArePagedByName(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	ids := p.madeSites(5)
	if got := p.pages("/sites", 2); !slices.Equal(got, ids) {
		t.Errorf("paged %v, want %v", got, ids)
	}
	p.in("PATCH", "/sites/"+ids[1], doc{"active": false}, "If-Match", `"1"`).want(200)
	if got := p.pages("/sites?active=true", 2); len(got) != 4 || slices.Contains(got, ids[1]) {
		t.Errorf("in use: %v", got)
	}
	if got := p.pages("/sites?active=false", 2); !slices.Equal(got, ids[1:2]) {
		t.Errorf("no longer in use: %v", got)
	}
	p.in("GET", "/sites?cursor=bm8", nil).refused(400, "cursor.invalid", "/cursor")
	p.in("GET", "/sites?limit=0", nil).refused(400, "request.malformed", "limit")
}

func TestOnlyACoordinatorAddsSites(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	for _, role := range []string{"keeper", "donor", "observer"} {
		q := p.with(role, role+"@lowfield.example")
		q.in("GET", "/sites", nil).want(200)
		q.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).refused(403, "role.forbidden", "")
	}
	p.madeSites(1)
	p.in("POST", "/sites", doc{"name": "Shed 0", "kind": "plot"}).refused(409, "site.name_taken", "/name")
}

func bucket() doc {
	return doc{"name": "blue bucket", "volume": doc{"value": "5", "unit": "gal_us"}, "tare": doc{"value": "0.9", "unit": "kg"}}
}

func TestAContainerIsKeptAsItWasEntered(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	made := p.in("POST", "/containers", bucket()).want(201)
	// NIST Handbook 44, Appendix C: 1 gallon is 3.785 411 784 L.
	if made.grams("volume_ml") != 18927 || made.grams("tare_g") != 900 || made.Body["volume"].(map[string]any)["value"] != "5" {
		t.Errorf("made %s", made.Raw)
	}
	at := "/containers/" + made.text("id")
	changed := p.in("PATCH", at, doc{"tare": doc{"value": "0", "unit": "kg"}}, "If-Match", made.Header.Get("ETag")).want(200)
	if changed.grams("tare_g") != 0 || changed.grams("volume_ml") != 18927 || changed.Header.Get("ETag") != `"2"` {
		t.Errorf("changed to %s", changed.Raw)
	}
	p.in("PATCH", at, doc{"name": "tub"}, "If-Match", `"1"`).refused(412, "version.stale", "")
	p.in("PATCH", at, doc{"name": "tub"}).refused(428, "version.missing", "If-Match")
	p.in("PATCH", "/containers/"+uuid.NewString(), doc{"name": "tub"}, "If-Match", `"1"`).refused(404, "container.not_found", "")
	p.in("POST", "/containers", bucket()).refused(409, "container.name_taken", "/name")
	p.in("POST", "/containers", doc{"name": "tub", "volume": doc{"value": "5", "unit": "kg"}}).refused(422, "container.invalid", "/volume")
	p.in("POST", "/containers", doc{"name": "tub", "volume": doc{"value": "5", "unit": "L"}, "tare": doc{"value": "1", "unit": "L"}}).
		refused(422, "container.invalid", "/tare")
	bare := p.in("POST", "/containers", doc{"name": "tub", "volume": doc{"value": "5", "unit": "L"}}).want(201)
	if bare.Body["tare_g"] != nil || bare.Body["tare"] != nil {
		t.Errorf("a tare nobody noted: %s", bare.Raw)
	}
}

func TestContainersArePagedAndTheGardensOwn(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	var ids []string
	for i := range 3 {
		b := bucket()
		b["name"] = fmt.Sprintf("bucket %d", i)
		ids = append(ids, p.in("POST", "/containers", b).want(201).text("id"))
	}
	donor := p.with("donor", "di@lowfield.example")
	if got := donor.pages("/containers", 2); !slices.Equal(got, ids) {
		t.Errorf("paged %v, want %v", got, ids)
	}
	donor.in("POST", "/containers", bucket()).refused(403, "role.forbidden", "")
	stranger.in("PATCH", "/containers/"+ids[0], doc{"name": "mine"}, "If-Match", `"1"`).refused(404, "container.not_found", "")
	if got := stranger.pages("/containers", 2); len(got) != 0 {
		t.Errorf("a stranger sees %v", got)
	}
}

func TestAContainerSentTwiceIsMadeOnce(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	first := p.in("POST", "/containers", bucket(), "Idempotency-Key", `"one-tap-too-many"`).want(201)
	again := p.in("POST", "/containers", bucket(), "Idempotency-Key", `"one-tap-too-many"`).want(201)
	if string(first.Raw) != string(again.Raw) || len(p.pages("/containers", 10)) != 1 {
		t.Errorf("got %s after %s", again.Raw, first.Raw)
	}
}

func heap(name string) doc {
	return doc{"name": name, "kind": "hot_heap", "weekly_room_g": 80000, "browns_ratio": 1.5, "note": "Needs browns first."}
}

func TestAnOverflowPlaceIsAddedChangedAndListed(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	var ids []string
	for i := range 3 {
		ids = append(ids, p.in("POST", "/overflow-places", heap(fmt.Sprintf("Heap %d", i))).want(201).text("id"))
	}
	if got := p.pages("/overflow-places", 2); !slices.Equal(got, ids) {
		t.Errorf("paged %v, want %v", got, ids)
	}
	at := "/overflow-places/" + ids[0]
	changed := p.in("PATCH", at, doc{"active": false, "weekly_room_g": nil, "browns_ratio": nil}, "If-Match", `"1"`).want(200)
	if changed.Body["weekly_room_g"] != nil || changed.Body["active"] != false || changed.grams("version") != 2 {
		t.Errorf("changed to %s", changed.Raw)
	}
	if got := p.pages("/overflow-places?active=true", 2); !slices.Equal(got, ids[1:]) {
		t.Errorf("in use: %v", got)
	}
	p.in("PATCH", at, doc{"name": "x"}, "If-Match", `"1"`).refused(412, "version.stale", "")
	p.in("PATCH", at, doc{"name": "Heap 1"}, "If-Match", `"2"`).refused(409, "overflow.name_taken", "/name")
	p.in("PATCH", at, doc{"name": " "}, "If-Match", `"2"`).refused(422, "overflow.invalid", "/name")
	p.in("PATCH", at, doc{"weekly_room_g": 200_000_000}, "If-Match", `"2"`).refused(422, "overflow.invalid", "/weekly_room_g")
	stranger.in("PATCH", at, doc{"name": "mine"}, "If-Match", `"2"`).refused(404, "overflow.not_found", "")
	keeper, donor := p.with("keeper", "bo@lowfield.example"), p.with("donor", "di@lowfield.example")
	keeper.in("GET", "/overflow-places", nil).want(200)
	keeper.in("POST", "/overflow-places", heap("Mine")).refused(403, "role.forbidden", "")
	donor.in("GET", "/overflow-places", nil).refused(403, "role.forbidden", "")
}

func TestALotIsCountedInAContainerOfTheGarden(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	id := p.in("POST", "/containers", bucket()).want(201).text("id")
	theirs := stranger.in("POST", "/containers", bucket()).want(201).text("id")
	site := p.madeSites(1)[0]
	lot := func(amount doc) *answer {
		return p.in("POST", "/lots", doc{"material": p.scrap(), "site_id": site, "amount": amount})
	}
	// 2 × 18.927 L at half × 400 g/L, the gallon as in NIST Handbook 44, Appendix C.
	counted := lot(doc{"method": "container", "container_id": id, "count": 2, "fill_percent": 50, "density_g_per_l": 400}).want(201)
	if counted.grams("mass_g") != 7571 || counted.Body["amount"].(map[string]any)["container_id"] != id {
		t.Errorf("counted %s", counted.Raw)
	}
	weighed := lot(doc{"method": "weighed", "container_id": id, "mass": doc{"value": "9.4", "unit": "kg"}}).want(201)
	if weighed.grams("mass_g") != 8500 {
		t.Errorf("weighed %s", weighed.Raw)
	}
	lot(doc{"method": "container", "container_id": theirs}).refused(404, "container.not_found", "/amount/container_id")
	lot(doc{"method": "container", "container_id": id, "container": doc{"value": "5", "unit": "L"}}).refused(422, "mass.invalid", "/amount/container")
	lot(doc{"method": "weighed", "mass": doc{"value": "9", "unit": "L"}}).refused(422, "mass.invalid", "/amount/mass")
	lot(doc{"method": "weighed", "mass": doc{"value": "9", "unit": "kg"}, "fill_percent": 50}).refused(422, "mass.invalid", "/amount/fill_percent")
}
