package httpapi

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
)

func lowfield(name string) doc {
	return doc{"name": name, "time_zone": "Europe/Lisbon", "hemisphere": "north", "units": "metric"}
}

func TestOnlyWhoMayFoundsAGarden(t *testing.T) {
	e := newEdge(t)
	p := e.founder("maren@lowfield.example")
	made := p.call("POST", "/v1/gardens", lowfield("Lowfield Terrace Garden")).want(201)
	if made.Header.Get("Location") != "/v1/gardens/"+made.text("id") || made.Header.Get("ETag") != `"1"` {
		t.Errorf("Location %q, ETag %q", made.Header.Get("Location"), made.Header.Get("ETag"))
	}
	if _, err := e.svc.NewAccount(context.Background(), "bo@lowfield.example", "Bo Hazel", password, false); err != nil {
		t.Fatal(err)
	}
	e.signIn("bo@lowfield.example").call("POST", "/v1/gardens", lowfield("Mine")).refused(403, "role.forbidden", "")
	zone := lowfield("Nowhere")
	zone["time_zone"] = "Lowfield/Terrace"
	p.call("POST", "/v1/gardens", zone).refused(422, "garden.time_zone", "/time_zone")
	sited := lowfield("Sited")
	sited["settings"] = doc{"default_site_id": uuid.NewString()}
	p.call("POST", "/v1/gardens", sited).refused(422, "garden.invalid", "/settings/default_site_id")
	taken := lowfield("Again")
	taken["id"] = made.text("id")
	p.call("POST", "/v1/gardens", taken).refused(409, "garden.exists", "/id")
}

func TestMyGardensArePagedByName(t *testing.T) {
	e := newEdge(t)
	e.newGarden("tove@hillside.example")
	p := e.founder("maren@lowfield.example")
	var want []string
	for i := range 5 {
		want = append(want, p.call("POST", "/v1/gardens", lowfield(fmt.Sprintf("Garden %d", i))).want(201).text("id"))
	}
	var got []string
	path := "/v1/gardens?limit=2"
	for path != "" {
		a := p.call("GET", path, nil).want(200)
		for _, g := range a.items() {
			got = append(got, g["id"].(string))
		}
		path, _, _ = strings.Cut(strings.TrimPrefix(a.Header.Get("Link"), "<"), ">")
	}
	if !slices.Equal(got, want) {
		t.Errorf("paged %v, want %v", got, want)
	}
}

func TestAGardenIsChangedAtTheVersionThatWasRead(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	read := p.in("GET", "", nil).want(200)
	changed := p.in("PATCH", "", doc{"units": "us", "settings": doc{"cover_mm": 60, "open_from": "2026-09-01"}},
		"If-Match", read.Header.Get("ETag")).want(200)
	settings := changed.Body["settings"].(map[string]any)
	if changed.text("units") != "us" || settings["cover_mm"] != 60.0 || settings["open_from"] != "2026-09-01" ||
		settings["heat_open_c"] != 30.0 || changed.Header.Get("ETag") != `"2"` {
		t.Errorf("changed to %s", changed.Raw)
	}
	cleared := p.in("PATCH", "", doc{"settings": doc{"open_from": nil}}, "If-Match", `"2"`).want(200)
	if cleared.Body["settings"].(map[string]any)["open_from"] != nil {
		t.Errorf("cleared to %s", cleared.Raw)
	}
	p.in("PATCH", "", doc{"units": "us"}, "If-Match", `"2"`).refused(412, "version.stale", "")
	p.in("PATCH", "", doc{"units": "us"}).refused(428, "version.missing", "If-Match")
	p.in("PATCH", "", doc{"settings": doc{"default_site_id": uuid.NewString()}}, "If-Match", `"3"`).
		refused(404, "site.not_found", "/settings/default_site_id")
	site := p.madeSites(1)[0]
	p.in("PATCH", "", doc{"settings": doc{"default_site_id": site}}, "If-Match", `"3"`).want(200)
	p.with("keeper", "bo@lowfield.example").in("PATCH", "", doc{"units": "us"}, "If-Match", `"4"`).refused(403, "role.forbidden", "")
}

func TestASettingOutOfBoundsIsNamedAsItWasSent(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	prices := func(change doc) doc {
		d := doc{"per_kg_eaten": 10000, "per_visit": 0, "per_100m_kg": 20, "hold_per_kg_day": 10, "thaw_per_kg": 100, "load_slopes": []int{0, 50, 200, 800}}
		for k, v := range change {
			d[k] = v
		}
		return doc{"plan_prices": d}
	}
	season := func(key, start, end string) doc { return doc{"key": key, "label": key, "start": start, "end": end} }
	calendar := func(seasons ...doc) doc {
		return doc{"calendar": doc{"kind": "custom", "seasons": append([]doc{}, seasons...)}}
	}
	// What a schema can't say is a rule: 422. What it can is refused before: 400.
	for _, x := range []struct {
		field    string
		settings doc
	}{
		{"/settings/heat_open_c", doc{"heat_open_c": 20}},
		{"/settings/heat_call_c", doc{"heat_call_c": 28}},
		{"/settings/moisture_drained_percent", doc{"moisture_drained_percent": doc{"low": 80, "high": 70}}},
		{"/settings/moisture_drained_percent/low", doc{"moisture_drained_percent": doc{"low": 0, "high": 70}}},
		{"/settings/moisture_undrained_percent/high", doc{"moisture_undrained_percent": doc{"low": 60, "high": 100}}},
		{"/settings/carbon_to_nitrogen/high", doc{"carbon_to_nitrogen": doc{"low": 30, "high": 20}}},
		{"/settings/carbon_to_nitrogen/low", doc{"carbon_to_nitrogen": doc{"low": 0, "high": 20}}},
		{"/settings/plan_prices/load_slopes/2", prices(doc{"load_slopes": []int{0, 50, 20, 800}})},
		{"/settings/calendar/seasons", calendar()},
		{"/settings/calendar/seasons/0/end", calendar(season("a", "2026-05-01", "2026-05-01"))},
		{"/settings/calendar/seasons/1/key", calendar(season("a", "2026-05-01", "2026-06-01"), season("a", "2026-06-01", "2026-07-01"))},
		{"/settings/calendar/seasons/1/start", calendar(season("a", "2026-05-01", "2026-06-01"), season("b", "2026-05-31", "2026-07-01"))},
		{"/settings/weekly_limit_g", doc{"weekly_limit_g": int64(1e9) + 1}},
		{"/settings/dry_bedding_reserve_g", doc{"dry_bedding_reserve_g": int64(1e8) + 1}},
	} {
		p.in("PATCH", "", doc{"settings": x.settings}, "If-Match", `"1"`).refused(422, "garden.invalid", x.field)
	}
	for field, v := range map[string]any{"bedding_age_days": 366, "cover_mm": 501, "heat_no_feed_c": 46, "cold_feed_little_c": 21,
		"volume_limit_l": 10_000_001, "area_limit_m2": 1_000_001, "estimate_sd_percent": 201, "container_sd_percent": 201,
		"scale_sd_permille": 201, "limits_note": strings.Repeat("x", 1001), "accept_without_tag": "yes"} {
		p.in("PATCH", "", doc{"settings": doc{field: v}}, "If-Match", `"1"`).refused(400, "request.malformed", "/settings/"+field)
	}
	if v := p.in("GET", "", nil).want(200).grams("version"); v != 1 {
		t.Errorf("a refusal changed the garden to version %d", v)
	}
}

func TestAnotherPersonsGardenIsNotThere(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	stranger.garden = p.garden
	stranger.in("GET", "", nil).refused(404, "garden.not_found", "")
	stranger.in("PATCH", "", doc{"units": "us"}, "If-Match", `"1"`).refused(404, "garden.not_found", "")
}
