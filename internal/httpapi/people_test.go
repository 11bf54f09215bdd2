package httpapi

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

func TestMembersAreListedByNameRoleAndStanding(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "di@lowfield.example")
	p.in("PATCH", "/members/"+donor.member, doc{"display_name": "Di Oak", "active": false}, "If-Match", `"1"`).want(200)
	for path, want := range map[string][]string{
		"/members":                    {donor.member, keeper.member, p.member}, // Di, Ines, Maren
		"/members?role=keeper":        {keeper.member},
		"/members?active=false":       {donor.member},
		"/members?active=true":        {keeper.member, p.member},
		"/members?name_prefix=INE":    {keeper.member},
		"/members?name_prefix=nobody": nil,
	} {
		if got := keeper.pages(path, 1); !slices.Equal(got, want) {
			t.Errorf("%s: got %v, want %v", path, got, want)
		}
	}
}

func TestADonorSeesOnlyThemselves(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	for _, role := range []string{"donor", "observer"} {
		q := p.with(role, role+"@lowfield.example")
		if own := q.in("GET", "/members/"+q.member, nil).want(200); own.text("role") != role {
			t.Errorf("got %s", own.Raw)
		}
		q.in("GET", "/members/"+p.member, nil).refused(403, "role.forbidden", "")
		q.in("GET", "/members/"+uuid.NewString(), nil).refused(403, "role.forbidden", "")
		q.in("GET", "/members", nil).refused(403, "role.forbidden", "")
		q.in("PATCH", "/members/"+q.member, doc{"role": "coordinator"}, "If-Match", `"1"`).refused(403, "role.forbidden", "")
		q.in("GET", "/members/"+q.member+"/availability", nil).refused(403, "role.forbidden", "")
		q.in("GET", "/households", nil).refused(403, "role.forbidden", "")
		q.in("POST", "/households", doc{"name": "Rowan"}).refused(403, "role.forbidden", "")
	}
}

func TestAMemberIsChangedByACoordinator(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	q := p.with("donor", "di@lowfield.example")
	at := "/members/" + q.member
	house := p.in("POST", "/households", doc{"name": "Rowan"}).want(201).text("id")
	changed := p.in("PATCH", at, doc{"role": "keeper", "household_id": house}, "If-Match", `"1"`).want(200)
	if changed.text("role") != "keeper" || changed.text("household_id") != house || changed.Header.Get("ETag") != `"2"` {
		t.Errorf("changed to %s", changed.Raw)
	}
	if cleared := p.in("PATCH", at, doc{"household_id": nil}, "If-Match", `"2"`).want(200); cleared.Body["household_id"] != nil {
		t.Errorf("cleared to %s", cleared.Raw)
	}
	p.in("PATCH", at, doc{"role": "donor"}, "If-Match", `"2"`).refused(412, "version.stale", "")
	p.in("PATCH", at, doc{"role": "donor"}).refused(428, "version.missing", "If-Match")
	p.in("PATCH", at, doc{"display_name": " "}, "If-Match", `"3"`).refused(422, "member.invalid", "/display_name")
	p.in("PATCH", at, doc{"household_id": uuid.NewString()}, "If-Match", `"3"`).refused(404, "household.not_found", "/household_id")
	p.in("PATCH", "/members/"+p.member, doc{"role": "donor"}, "If-Match", `"1"`).refused(409, "member.last_coordinator", "/role")
	stranger.in("GET", at, nil).refused(404, "member.not_found", "")
	stranger.in("PATCH", at, doc{"role": "donor"}, "If-Match", `"3"`).refused(404, "member.not_found", "")
	p.in("POST", "/members", doc{"email": "di@lowfield.example", "display_name": "Di", "role": "donor"}).refused(409, "member.exists", "/account_id")
	p.in("POST", "/members", doc{"email": "new@lowfield.example", "display_name": "New", "role": "donor"}).
		refused(422, "account.password_needed", "/initial_password")
}

func TestARepeatedMemberIsAddedOnceAndTheKeyTellsNothingOfThePassword(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	add := func(secret string) *answer {
		return p.in("POST", "/members", doc{"email": "di@lowfield.example", "initial_password": secret, "display_name": "Di", "role": "donor"},
			"Idempotency-Key", `"add-di-once"`)
	}
	first := add(password).want(201)
	if again := add("five cold corn cobs").want(201); string(again.Raw) != string(first.Raw) || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("got %s after %s", again.Raw, first.Raw)
	}
	p.signIn("di@lowfield.example")
}

func week(days ...string) doc {
	return doc{"weekdays": append([]string{}, days...), "exceptions": []doc{}}
}

func TestAKeeperSaysWhenTheyCanCome(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "di@lowfield.example")
	at := "/members/" + keeper.member + "/availability"
	first := keeper.in("GET", at, nil).want(200)
	if first.Header.Get("ETag") != `"0"` || len(first.Body["weekdays"].([]any)) != 7 {
		t.Errorf("who never said can come on any day: %s %s", first.Header.Get("ETag"), first.Raw)
	}
	in := doc{"weekdays": []string{"saturday", "monday"}, "exceptions": []doc{{"day": "2026-10-10", "available": false}, {"day": "2026-10-11", "available": true}}}
	said := keeper.in("PUT", at, in, "If-Match", `"0"`).want(200)
	if fmt.Sprint(said.Body["weekdays"]) != "[monday saturday]" || said.Header.Get("ETag") != `"1"` {
		t.Errorf("said %s", said.Raw)
	}
	if read := p.in("GET", at, nil).want(200); string(read.Raw) != string(said.Raw) {
		t.Errorf("read %s, said %s", read.Raw, said.Raw)
	}
	keeper.in("PUT", at, in, "If-Match", `"0"`).refused(412, "version.stale", "")
	keeper.in("PUT", at, in).refused(428, "version.missing", "If-Match")
	keeper.in("PUT", at, week("monday", "monday"), "If-Match", `"1"`).refused(422, "availability.invalid", "/weekdays/1")
	twice := doc{"weekdays": []string{}, "exceptions": []doc{{"day": "2026-10-10", "available": false}, {"day": "2026-10-10", "available": true}}}
	keeper.in("PUT", at, twice, "If-Match", `"1"`).refused(422, "availability.invalid", "/exceptions/1/day")
	keeper.in("PUT", "/members/"+p.member+"/availability", week("monday"), "If-Match", `"0"`).refused(403, "role.forbidden", "")
	p.in("PUT", at, week(), "If-Match", `"1"`).want(200)
	other := "/members/" + donor.member + "/availability"
	p.in("PUT", other, week("monday"), "If-Match", `"0"`).refused(422, "availability.not_keeper", "")
	p.in("GET", other, nil).refused(404, "availability.not_found", "")
	stranger.in("GET", at, nil).refused(404, "member.not_found", "")
	stranger.in("PUT", at, week("monday"), "If-Match", `"2"`).refused(404, "member.not_found", "")
}

func TestAHouseholdIsAddedChangedAndListed(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	keeper := p.with("keeper", "ines@lowfield.example")
	made := keeper.in("POST", "/households", doc{"name": "The Okoye-Lund kitchen", "plot": "Plot 14", "contact": "green gate", "baseline": "landfill"}).want(201)
	at := "/households/" + made.text("id")
	ids := []string{made.text("id")}
	for i := range 3 {
		ids = append(ids, keeper.in("POST", "/households", doc{"name": fmt.Sprintf("Zinnia row %d", i)}).want(201).text("id"))
	}
	if got := keeper.pages("/households", 2); !slices.Equal(got, ids) {
		t.Errorf("paged %v, want %v", got, ids)
	}
	if got := keeper.pages("/households?name_prefix=zinnia", 2); !slices.Equal(got, ids[1:]) {
		t.Errorf("by name: %v", got)
	}
	keeper.in("PATCH", at, doc{"plot": "Plot 15"}, "If-Match", `"1"`).refused(403, "role.forbidden", "")
	changed := p.in("PATCH", at, doc{"plot": "Plot 15", "contact": ""}, "If-Match", `"1"`).want(200)
	if changed.text("plot") != "Plot 15" || changed.Body["contact"] != nil || changed.text("baseline") != "landfill" {
		t.Errorf("changed to %s", changed.Raw)
	}
	p.in("PATCH", at, doc{"plot": "x"}, "If-Match", `"1"`).refused(412, "version.stale", "")
	p.in("PATCH", at, doc{"plot": "", "name": ""}, "If-Match", `"2"`).refused(422, "household.invalid", "/name")
	p.in("POST", "/households", doc{"contact": "somewhere"}).refused(422, "household.invalid", "/name")
	p.in("POST", "/households", doc{"id": made.text("id"), "name": "Another"}).refused(409, "household.exists", "/id")
	stranger.in("GET", at, nil).refused(404, "household.not_found", "")
	stranger.in("PATCH", at, doc{"plot": "x"}, "If-Match", `"2"`).refused(404, "household.not_found", "")
}

func TestAnErasedHouseholdIsForgottenEverywhere(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	made := p.in("POST", "/households", doc{"name": "The Okoye-Lund kitchen", "plot": "Plot 14", "contact": "green gate"}).want(201)
	at := "/households/" + made.text("id")
	p.with("keeper", "ines@lowfield.example").in("POST", at+"/erasure", nil, "If-Match", `"1"`).refused(403, "role.forbidden", "")
	p.in("POST", at+"/erasure", nil).refused(428, "version.missing", "If-Match")
	p.in("POST", at+"/erasure", nil, "If-Match", `"7"`).refused(412, "version.stale", "")
	if held := fmt.Sprint(p.rowsThatHold("Okoye-Lund")); held != "[households once_keys]" {
		t.Errorf("before it is erased the name stands in %s", held)
	}
	p.in("POST", at+"/erasure", nil, "If-Match", `"1"`).want(200)
	erased := p.in("POST", at+"/erasure", nil, "If-Match", `"1"`).want(200)
	if erased.text("name") != "" || erased.text("plot") != "" || erased.Body["contact"] != nil || erased.Body["erased"] != true || erased.grams("version") != 2 {
		t.Errorf("erased to %s", erased.Raw)
	}
	p.in("PATCH", at, doc{"name": "Back"}, "If-Match", `"2"`).refused(409, "household.erased", "")
	if got := p.pages("/households", 10); len(got) != 0 {
		t.Errorf("still listed: %v", got)
	}
	for _, name := range p.rowsThatHold("Okoye-Lund") {
		t.Errorf("%s still holds the name", name)
	}
}

// rowsThatHold names the garden's tables in which a text stands.
func (p *person) rowsThatHold(text string) []string {
	p.t.Helper()
	ctx := context.Background()
	var found []string
	err := pgx.BeginFunc(ctx, p.db.Owner, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `SELECT set_config('midden.garden_id', $1, true)`, p.garden); err != nil {
			return err
		}
		rows, err := tx.Query(ctx, `SELECT tablename FROM pg_tables WHERE schemaname = 'midden' ORDER BY 1`)
		if err != nil {
			return err
		}
		tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err != nil {
			return err
		}
		for _, table := range tables {
			var n int
			row := "x::text"
			if table == "once_keys" {
				row = "convert_from(x.body, 'UTF8')"
			}
			sql := `SELECT count(*) FROM midden.` + pgx.Identifier{table}.Sanitize() + ` x WHERE strpos(lower(` + row + `), $1) > 0`
			if err := tx.QueryRow(ctx, sql, strings.ToLower(text)).Scan(&n); err != nil {
				return err
			}
			if n > 0 {
				found = append(found, table)
			}
		}
		return nil
	})
	if err != nil {
		p.t.Fatal(err)
	}
	return found
}
