package httpapi

import (
	"fmt"
	"testing"
	"time"
)

// scrap is the key of some scrap material.
func (p *person) scrap() string {
	p.t.Helper()
	return p.in("GET", "/materials?use=scrap&limit=1", nil).want(200).items()[0]["key"].(string)
}

func TestEveryVersionOfTheAcceptanceListStays(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	list := func(from string) doc {
		return doc{"accepted_materials": []string{p.scrap()}, "refused": []string{"meat and fish"}, "valid_from": from, "note": "Cut large pieces."}
	}
	for i := range 3 {
		made := p.in("POST", "/acceptance-lists", list(fmt.Sprintf("2026-09-0%d", i+1))).want(201)
		if made.grams("version") != int64(i+1) {
			t.Errorf("version %d of %s", i+1, made.Raw)
		}
	}
	donor := p.with("donor", "di@lowfield.example")
	var versions []string
	cursor := ""
	for {
		page := donor.in("GET", "/acceptance-lists?limit=2"+cursor, nil).want(200)
		for _, row := range page.items() {
			versions = append(versions, fmt.Sprint(row["version"], " ", row["valid_from"]))
		}
		next, more := page.Body["next_cursor"].(string)
		if !more {
			break
		}
		cursor = "&cursor=" + next
	}
	if got := fmt.Sprint(versions); got != "[3 2026-09-03 2 2026-09-02 1 2026-09-01]" {
		t.Errorf("got %s", got)
	}
	donor.in("POST", "/acceptance-lists", list("2026-09-04")).refused(403, "role.forbidden", "")
	twice := list("2026-09-04")
	twice["accepted_materials"] = []string{p.scrap(), p.scrap()}
	p.in("POST", "/acceptance-lists", twice).refused(422, "acceptance.invalid", "/accepted_materials/1")
	unknown := list("2026-09-04")
	unknown["accepted_materials"] = []string{p.scrap(), "moon_dust"}
	p.in("POST", "/acceptance-lists", unknown).refused(404, "material.not_found", "/accepted_materials/1")
	bedding := p.in("GET", "/materials?use=bedding&limit=1", nil).want(200).items()[0]["key"]
	unknown["accepted_materials"] = []any{bedding}
	p.in("POST", "/acceptance-lists", unknown).refused(404, "material.not_found", "/accepted_materials/0")
	key := `"one-tap-too-many"`
	first := p.in("POST", "/acceptance-lists", list("2026-10-01"), "Idempotency-Key", key).want(201)
	if again := p.in("POST", "/acceptance-lists", list("2026-10-01"), "Idempotency-Key", key).want(201); string(again.Raw) != string(first.Raw) {
		t.Errorf("got %s after %s", again.Raw, first.Raw)
	}
	stranger := e.newGarden("tove@hillside.example")
	if n := len(stranger.in("GET", "/acceptance-lists", nil).want(200).items()); n != 0 {
		t.Errorf("a stranger sees %d versions", n)
	}
}

func TestGroupsAreNotTakenUntilTheirDayHasPassed(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "di@lowfield.example")
	if first := donor.in("GET", "/not-today", nil).want(200); first.Header.Get("ETag") != `"0"` || len(first.Body["groups"].([]any)) != 0 {
		t.Errorf("never said: %s %s", first.Header.Get("ETag"), first.Raw)
	}
	in := doc{"groups": []string{"citrus", "onion_family"}, "until": "2026-10-06"}
	said := keeper.in("PUT", "/not-today", in, "If-Match", `"0"`).want(200)
	if said.Header.Get("ETag") != `"1"` || said.text("until") != "2026-10-06" {
		t.Errorf("said %s", said.Raw)
	}
	keeper.in("PUT", "/not-today", in, "If-Match", `"0"`).refused(412, "version.stale", "")
	keeper.in("PUT", "/not-today", in).refused(428, "version.missing", "If-Match")
	keeper.in("PUT", "/not-today", doc{"groups": []string{"citrus", "citrus"}}, "If-Match", `"1"`).refused(422, "not_today.invalid", "/groups/1")
	keeper.in("PUT", "/not-today", doc{"groups": []string{"citrus"}, "until": "2026-10-04"}, "If-Match", `"1"`).refused(422, "not_today.invalid", "/until")
	donor.in("PUT", "/not-today", in, "If-Match", `"1"`).refused(403, "role.forbidden", "")
	e.at(time.Date(2026, 10, 6, 22, 59, 0, 0, time.UTC)) // 23:59 in Lisbon, WEST
	holds := keeper.signIn("ines@lowfield.example")
	holds.garden = p.garden
	if got := holds.in("GET", "/not-today", nil).want(200); len(got.Body["groups"].([]any)) != 2 {
		t.Errorf("on the last day: %s", got.Raw)
	}
	e.at(time.Date(2026, 10, 6, 23, 1, 0, 0, time.UTC))
	if got := holds.in("GET", "/not-today", nil).want(200); len(got.Body["groups"].([]any)) != 0 || got.Header.Get("ETag") != `"1"` {
		t.Errorf("the day after: %s %s", got.Header.Get("ETag"), got.Raw)
	}
	holds.in("PUT", "/not-today", doc{"groups": []string{}}, "If-Match", `"1"`).want(200)
}
