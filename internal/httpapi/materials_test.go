package httpapi

import (
	"slices"
	"testing"
)

func (p *person) keys(path string) []string {
	p.t.Helper()
	var keys []string
	cursor := ""
	for {
		a := p.in("GET", path+cursor, nil).want(200)
		for _, m := range a.items() {
			keys = append(keys, m["key"].(string))
		}
		next, more := a.Body["next_cursor"].(string)
		if !more {
			return keys
		}
		cursor = "&cursor=" + next
	}
}

func TestTheCatalogueIsPagedAndSortedOutByUseAndGroup(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example").with("donor", "di@lowfield.example")
	all := p.keys("/materials?limit=200")
	if paged := p.keys("/materials?limit=7"); len(all) < 20 || !slices.Equal(paged, all) {
		t.Errorf("paged %v, want %v", paged, all)
	}
	scraps, bedding := p.keys("/materials?limit=5&use=scrap"), p.keys("/materials?limit=5&use=bedding")
	if len(scraps)+len(bedding) != len(all) || len(bedding) == 0 {
		t.Errorf("%d scraps and %d bedding of %d", len(scraps), len(bedding), len(all))
	}
	n := 0
	for _, group := range []string{"plain", "fruit", "coffee", "citrus", "onion_family", "bread_grain", "salty_oily", "very_wet"} {
		n += len(p.keys("/materials?limit=50&group=" + group))
	}
	if n != len(all) {
		t.Errorf("the groups hold %d of %d materials", n, len(all))
	}
	p.in("GET", "/materials/moon_dust", nil).refused(404, "material.not_found", "")
}

func TestAGardensOwnFiguresStandBesideThePublishedOnes(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	at := "/materials/" + p.scrap()
	published := p.in("GET", at, nil).want(200)
	if published.Header.Get("ETag") != `"0"` || published.Body["overridden"] != false || published.Body["published"] != nil {
		t.Errorf("published: %s", published.Raw)
	}
	figure := func(a *answer, name string) any { return a.Body[name].(map[string]any)["value"] }
	own := p.in("PUT", at+"/override", doc{"density_g_per_l": 432, "moisture_percent": 81, "note": "Weighed twenty buckets."}, "If-Match", `"0"`).want(200)
	if figure(own, "density_g_per_l") != 432.0 || figure(own, "moisture_percent") != 81.0 || own.Header.Get("ETag") != `"1"` {
		t.Errorf("own: %s", own.Raw)
	}
	was := own.Body["published"].(map[string]any)["density_g_per_l"].(map[string]any)["value"]
	if was != figure(published, "density_g_per_l") {
		t.Errorf("published %v beside the own, was %v", was, figure(published, "density_g_per_l"))
	}
	back := p.in("PUT", at+"/override", doc{"moisture_percent": 80}, "If-Match", `"1"`).want(200)
	if figure(back, "density_g_per_l") != figure(published, "density_g_per_l") || figure(back, "moisture_percent") != 80.0 {
		t.Errorf("a figure left out goes back: %s", back.Raw)
	}
	plain := p.in("PUT", at+"/override", doc{}, "If-Match", `"2"`).want(200)
	if plain.Body["overridden"] != false || plain.Header.Get("ETag") != `"3"` {
		t.Errorf("nothing said: %s", plain.Raw)
	}
	p.in("PUT", at+"/override", doc{}, "If-Match", `"0"`).refused(412, "version.stale", "")
	p.in("PUT", at+"/override", doc{}).refused(428, "version.missing", "If-Match")
	p.in("PUT", at+"/override", doc{"nitrogen_percent": 0}, "If-Match", `"3"`).refused(422, "material.invalid", "/nitrogen_percent")
	p.in("PUT", at+"/override", doc{"carbon_to_nitrogen": 1500}, "If-Match", `"3"`).refused(422, "material.invalid", "/carbon_to_nitrogen")
	p.in("PUT", at+"/override", doc{"density_g_per_l": 6}, "If-Match", `"3"`).refused(422, "material.invalid", "/density_g_per_l")
	p.in("PUT", at+"/override", doc{"use": "bedding"}, "If-Match", `"3"`).refused(422, "material.invalid", "/use")
	p.with("keeper", "ines@lowfield.example").in("PUT", at+"/override", doc{}, "If-Match", `"3"`).refused(403, "role.forbidden", "")
	if other := stranger.in("GET", at, nil).want(200); other.Header.Get("ETag") != `"0"` {
		t.Errorf("another garden reads %s", other.Raw)
	}
}

func TestAGardenAddsAMaterialOfItsOwn(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	at := "/materials/apple_pulp"
	p.in("PUT", at+"/override", doc{"name": "apple pulp", "use": "scrap"}, "If-Match", `"0"`).refused(422, "material.invalid", "/carbon_to_nitrogen")
	made := p.in("PUT", at+"/override", doc{"name": "apple pulp", "use": "scrap", "group": "fruit", "nitrogen_percent": 1.1, "carbon_to_nitrogen": 48,
		"moisture_percent": 88, "density_g_per_l": 900, "note": "From the press."}, "If-Match", `"0"`).want(200)
	if made.text("name") != "apple pulp" || made.Body["published"] != nil || made.Body["overridden"] != true {
		t.Errorf("made %s", made.Raw)
	}
	if keys := p.keys("/materials?limit=7&group=fruit"); !slices.Contains(keys, "apple_pulp") {
		t.Errorf("fruit: %v", keys)
	}
	if keys := p.keys("/materials?limit=7"); keys[len(keys)-1] != "apple_pulp" {
		t.Errorf("the garden's own come last: %v", keys)
	}
}
