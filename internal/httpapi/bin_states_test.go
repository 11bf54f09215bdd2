package httpapi

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

// estimate reads an interval of the answer and holds its ends in order.
func (a *answer) estimate(name string) float64 {
	a.t.Helper()
	m, ok := a.Body[name].(map[string]any)
	if !ok {
		a.t.Fatalf("%s: no interval %q in %s", a.what, name, a.Raw)
	}
	at := func(k string) float64 { return m[k].(float64) }
	if at("low90") > at("low50") || at("low50") > at("high50") || at("high50") > at("high90") {
		a.t.Errorf("%s: the ends of %s are out of order: %v", a.what, name, m)
	}
	return at("mean")
}

func TestABinsStateFollowsFromItsRecords(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.wormy()
	day := func(ago int) string { return noon.AddDate(0, 0, -ago).Format(time.RFC3339) }
	fresh := p.in("GET", "/bins/"+b.id+"/state", nil).want(200)
	if fresh.Body["worms_recorded"] != true || fresh.text("temperature_from") != "assumed: nobody measured of late" || fresh.estimate("worm_stock_g") < 1500 {
		t.Errorf("fresh %s", fresh.Raw)
	}
	p.in("POST", "/feedings", doc{"bin_id": b.id, "section_id": b.sections[1], "occurred_at": day(1),
		"unrecorded": []doc{{"material": "bread", "amount": weighedKg("2")}, {"material": "apples", "amount": weighedKg("3")}}}).want(201)
	p.in("POST", "/bins/"+b.id+"/checks", doc{"kind": "quick", "squeeze_top": 3, "squeeze_bottom": 5, "smell": "rotten", "temperature_bed_c": 29,
		"occurred_at": day(0)}).want(201)
	got := p.in("GET", "/bins/"+b.id+"/state", nil).want(200)
	if n := got.grams("backlog_g"); n < 3000 || n > 5000 {
		t.Errorf("5 kg fed yesterday left %d g", n)
	}
	groups := map[string]bool{}
	for _, x := range got.Body["backlog"].([]any) {
		groups[fmt.Sprint(x.(map[string]any)["group"])] = true
	}
	if !groups["bread_grain"] || len(groups) != 2 {
		t.Errorf("backlog by group %v", got.Body["backlog"])
	}
	advice := got.Body["advice"].([]any)
	if len(advice) == 0 || len(advice) > 3 || advice[0].(map[string]any)["urgency"] != "now" {
		t.Errorf("a sour wet bed at 29 °C gets %v", advice)
	}
	if got.text("temperature_from") != "bed reading of 2026-10-05" || got.Body["temperature_c"] != float64(29) {
		t.Errorf("temperature %v from %v", got.Body["temperature_c"], got.Body["temperature_from"])
	}
	before := p.in("GET", "/bins/"+b.id+"/state?day=2026-10-03", nil).want(200)
	if before.grams("backlog_g") != 0 || before.text("day") != "2026-10-03" {
		t.Errorf("before the feeding %s", before.Raw)
	}
	p.in("GET", "/bins/"+b.id+"/state?day=2026-10-06", nil).refused(422, "day.future", "/day")
}

func TestAForecastRunsTheBinForwardDayByDay(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.wormy()
	p.in("POST", "/feedings", doc{"bin_id": b.id, "section_id": b.sections[1], "unrecorded": []doc{{"material": "apples", "amount": weighedKg("3")}}}).want(201)
	got := p.in("GET", "/bins/"+b.id+"/forecast?days=28", nil).want(200)
	days := got.Body["days"].([]any)
	if len(days) != 28 || got.text("from") != "2026-10-05" {
		t.Fatalf("%d days from %s", len(days), got.text("from"))
	}
	last := math.Inf(1)
	for i, d := range days {
		m := d.(map[string]any)
		left := m["backlog_g"].(map[string]any)["mean"].(float64)
		if want := noon.AddDate(0, 0, i+1).Format(time.DateOnly); m["day"] != want || left > last {
			t.Errorf("day %v (want %s) has %g g left after %g g", m["day"], want, left, last)
		}
		last = left
	}
	if n := len(p.in("GET", "/bins/"+b.id+"/forecast", nil).want(200).Body["days"].([]any)); n != 14 {
		t.Errorf("%d days when nobody said", n)
	}
	p.in("GET", "/bins/"+b.id+"/forecast?days=61", nil).refused(400, "request.malformed", "days")
}

// Moisture and C:N of a mix by the formulas of NRAES-54 (On-Farm Composting
// Handbook, chapter 5), worked again here from the catalogue's figures. A new
// garden's band, C:N 20 to 60, is the wide one of The Composting Handbook
// (2022), Table 4.2 (secondary copy).
func TestARecipeMeetsTheGardensBandsByTheHandbooksFormulas(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	bin := p.bin("One").text("id")
	figures := func(key string) (moisture, nitrogen, ratio float64) {
		m := p.in("GET", "/materials/"+key, nil).want(200)
		of := func(name string) float64 { return m.Body[name].(map[string]any)["value"].(float64) }
		return of("moisture_percent"), of("nitrogen_percent"), of("carbon_to_nitrogen")
	}
	wish := doc{"food": []doc{{"material": "apples", "amount": weighedKg("4")}, {"material": "coffee_grounds", "amount": weighedKg("2")}},
		"bedding": []doc{{"material": "corrugated_cardboard", "stock": doc{"value": "20", "unit": "kg"}}}, "fed_area_m2": 0.4}
	got := p.in("POST", "/bins/"+bin+"/recipes", wish, "Idempotency-Key", "").want(200)
	if got.Body["reached"] != true || len(got.Body["bedding"].([]any)) != 1 {
		t.Fatalf("recipe %s", got.Raw)
	}
	g := map[string]float64{"apples": 4000, "coffee_grounds": 2000}
	g["corrugated_cardboard"] = got.Body["bedding"].([]any)[0].(map[string]any)["mass_g"].(float64)
	wet, water, carbon, nitrogen := float64(got.grams("water_g")), float64(got.grams("water_g")), 0.0, 0.0
	for key, mass := range g {
		m, n, r := figures(key)
		dryN := mass * (100 - m) / 100 * n / 100
		wet, water, nitrogen, carbon = wet+mass, water+mass*m/100, nitrogen+dryN, carbon+dryN*r
	}
	if pct := 100 * water / wet; math.Abs(pct-got.Body["moisture_percent"].(float64)) > 0.1 || pct < 64.9 || pct > 75.1 {
		t.Errorf("moisture %g %%, said %v, wanted 65 to 75", pct, got.Body["moisture_percent"])
	}
	if r := carbon / nitrogen; math.Abs(r-got.Body["carbon_to_nitrogen"].(float64)) > 0.2 || r < 20 || r > 60 {
		t.Errorf("C:N %g, said %v, wanted 20 to 60", r, got.Body["carbon_to_nitrogen"])
	}
}

func TestARecipeWithoutAStockReckonsWithTheBooks(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	made := p.bin("One")
	at := "/bins/" + made.text("id") + "/recipes"
	wish := doc{"food": []doc{{"material": "coffee_grounds", "amount": weighedKg("6")}}, "bedding": []doc{{"material": "corrugated_cardboard"}}, "fed_area_m2": 0.1}
	none := p.in("POST", at, wish).want(200)
	if none.Body["reached"] != false || len(none.Body["bedding"].([]any)) != 0 || len(none.Body["unreached"].([]any)) == 0 {
		t.Errorf("without bedding %s", none.Raw)
	}
	dry := p.in("POST", "/dry-bedding", doc{"material": "corrugated_cardboard", "site_id": made.text("site_id"), "amount": weighedKg("20")}).want(201).text("id")
	p.in("POST", "/bedding-batches", doc{"site_id": made.text("site_id"), "parts": []doc{{"dry_bedding_id": dry, "amount": weighedKg("5")}},
		"water": doc{"value": "8", "unit": "L"}}).want(201)
	some := p.in("POST", at, wish).want(200)
	if some.Body["reached"] != true || len(some.Body["bedding"].([]any)) != 1 {
		t.Errorf("with 15 kg dry and 13 kg aged %s", some.Raw)
	}
	wish["fed_area_m2"] = 4
	if wide := p.in("POST", at, wish).want(200); wide.Body["floor_binds"] != true {
		t.Errorf("a wide bed asks for cover: %s", wide.Raw)
	}
}

func TestStatesAndRecipesThatCannotBeAreRefused(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	donor := p.with("donor", "ines@lowfield.example")
	b := p.newBed(farm.Wedge, farm.BinInUse, oneFeeding)
	wish := func(food, bedding string) doc {
		return doc{"food": []doc{{"material": food, "amount": weighedKg("1")}}, "bedding": []doc{{"material": bedding}}}
	}
	for _, path := range []string{"/bins/" + b.id + "/state", "/bins/" + b.id + "/forecast"} {
		stranger.in("GET", path, nil).refused(404, "bin.not_found", "")
		donor.in("GET", path, nil).refused(403, "role.forbidden", "")
	}
	at := "/bins/" + b.id + "/recipes"
	stranger.in("POST", at, wish("apples", "corrugated_cardboard")).refused(404, "bin.not_found", "")
	donor.in("POST", at, wish("apples", "corrugated_cardboard")).refused(403, "role.forbidden", "")
	p.in("POST", "/bins/"+uuid.NewString()+"/recipes", wish("apples", "corrugated_cardboard")).refused(404, "bin.not_found", "")
	p.in("POST", at, wish("corrugated_cardboard", "corrugated_cardboard")).refused(404, "material.not_found", "/food/0/material")
	p.in("POST", at, wish("apples", "apples")).refused(404, "material.not_found", "/bedding/0/material")
	twice := wish("apples", "corrugated_cardboard")
	twice["bedding"] = []doc{{"material": "corrugated_cardboard"}, {"material": "corrugated_cardboard"}}
	p.in("POST", at, twice).refused(422, "recipe.invalid", "/bedding/1/material")
	bad := wish("apples", "corrugated_cardboard")
	bad["food"] = []doc{{"material": "apples", "amount": doc{"method": "weighed", "mass": doc{"value": "1", "unit": "L"}}}}
	p.in("POST", at, bad).refused(422, "mass.invalid", "/food/0/amount/mass")
}
