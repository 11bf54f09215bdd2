package httpapi

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"midden/internal/service"
)

// table is a garden with a site where scraps are taken in.
type table struct {
	*person
	site string
}

func newTable(t *testing.T) table {
	t.Helper()
	p := newEdge(t).newGarden("maren@lowfield.example")
	return table{p, p.in("POST", "/sites", doc{"name": "Potting shed", "kind": "shed"}).want(201).text("id")}
}

func reading(value, unit string) doc {
	return doc{"method": "weighed", "mass": doc{"value": value, "unit": unit}}
}

func litres(value string) doc { return doc{"value": value, "unit": "L"} }

// lot is a request to take in apples, changed by pairs of name and value.
func (p table) lot(amount any, with ...any) doc {
	d := doc{"material": "apples", "site_id": p.site, "amount": amount, "verdict": "accepted"}
	for i := 0; i+1 < len(with); i += 2 {
		d[with[i].(string)] = with[i+1]
	}
	return d
}

func (p table) takeIn(amount any, with ...any) *answer {
	p.t.Helper()
	return p.in("POST", "/lots", p.lot(amount, with...)).want(201)
}

// books runs a statement on the garden's own rows.
func (p table) books(sql string, args ...any) {
	p.t.Helper()
	if err := pgx.BeginFunc(p.t.Context(), p.db.Owner, func(tx pgx.Tx) error {
		if _, err := tx.Exec(p.t.Context(), `SELECT set_config('midden.garden_id', $1, true)`, p.garden); err != nil {
			return err
		}
		_, err := tx.Exec(p.t.Context(), sql, args...)
		return err
	}); err != nil {
		p.t.Fatal(err)
	}
}

// number reads one number from the garden's own rows.
func (p table) number(sql string, args ...any) (n int64) {
	p.t.Helper()
	if err := pgx.BeginFunc(p.t.Context(), p.db.Owner, func(tx pgx.Tx) error {
		if _, err := tx.Exec(p.t.Context(), `SELECT set_config('midden.garden_id', $1, true)`, p.garden); err != nil {
			return err
		}
		return tx.QueryRow(p.t.Context(), sql, args...).Scan(&n)
	}); err != nil {
		p.t.Fatal(err)
	}
	return n
}

func (p table) household(name string) string {
	p.t.Helper()
	id := uuid.NewString()
	p.books(`INSERT INTO midden.households (garden_id, household_id, name, name_folded, baseline, created_at, content_sha256)
		VALUES (midden.garden(), $1, $2::text, lower($2::text), 'unknown', now(), decode(repeat('00', 32), 'hex'))`, id, name)
	return id
}

func (p table) overflowPlace(name string, active bool) string {
	p.t.Helper()
	id := uuid.NewString()
	p.books(`INSERT INTO midden.overflow_places (garden_id, place_id, name, kind, active, created_at, content_sha256)
		VALUES (midden.garden(), $1, $2, 'hot_heap', $3, now(), decode(repeat('00', 32), 'hex'))`, id, name, active)
	return id
}

// reverse undoes an entry of the ledger.
func (p table) reverse(entry string) {
	p.t.Helper()
	me := service.Actor{AccountID: uuid.MustParse(p.call("GET", "/v1/me", nil).want(200).text("account_id"))}
	_, err := p.svc.ReverseEntry(p.t.Context(), me,
		uuid.MustParse(p.garden), uuid.MustParse(entry), service.Undo{Reason: "Weighed twice."}, service.Once{})
	if err != nil {
		p.t.Fatal(err)
	}
}

// balance is what an account of the garden holds of everything.
func (p table) balance(account string) int64 {
	p.t.Helper()
	return p.number(`SELECT coalesce(sum(grams), 0)::bigint FROM midden.postings WHERE garden_id = midden.garden() AND account = $1`, account)
}

// Factor: 3.8 lb of food scraps in a US gallon; U.S. EPA, Volume-to-Weight
// Conversion Factors, Office of Resource Conservation and Recovery, April
// 2016, as reprinted by ENERGY STAR Portfolio Manager. Pounds and gallons:
// NIST Handbook 44, Appendix C. 3.8 lb/gal = 455.347 g/L.
func TestBucketsCountAsThePublishedFactorsSay(t *testing.T) {
	p := newTable(t)
	gallons := func(value string, fill int) doc {
		return doc{"method": "container", "container": doc{"value": value, "unit": "gal_us"}, "fill_percent": fill, "density_g_per_l": 455.347}
	}
	for _, x := range []struct {
		what   string
		amount doc
		grams  int64
	}{
		{"a full bucket of 5 gal is 19.0 lb, 8.618 kg", gallons("5", 100), 8618},
		{"a bucket of 5 gal 70 % full is 13.3 lb, 6.033 kg", gallons("5", 70), 6033},
		{"a full pail of 3.5 gal is 13.3 lb", gallons("3.5", 100), 6033},
		{"a full pail of 2 gal is 7.6 lb, 3.447 kg", gallons("2", 100), 3447},
		// Net is gross less tare: 21.4 lb - 2.1 lb = 19.3 lb = 8,754 g.
		{"21.4 lb on the scale in a bucket of 2.1 lb", doc{"method": "weighed",
			"mass": doc{"value": "21.4", "unit": "lb"}, "tare": doc{"value": "2.1", "unit": "lb"}}, 8754},
	} {
		got := p.takeIn(x.amount)
		if got.grams("mass_g") != x.grams || got.grams("remaining_g") != x.grams {
			t.Errorf("%s: got %d g, want %d g", x.what, got.grams("mass_g"), x.grams)
		}
		read := p.in("GET", "/lots/"+got.text("id"), nil).want(200)
		if string(read.Raw) != string(got.Raw) {
			t.Errorf("%s: taken in as\n%s\nreads back as\n%s", x.what, got.Raw, read.Raw)
		}
		for name, v := range x.amount {
			if fmt.Sprint(read.Body["amount"].(map[string]any)[name]) != fmt.Sprint(plainJSON(v)) {
				t.Errorf("%s: %s was entered as %v and is kept as %v", x.what, name, v, read.Body["amount"])
			}
		}
	}
	// The catalogue's own density is that factor to the gram a litre.
	own := p.takeIn(doc{"method": "container", "container": litres("1")})
	if own.grams("mass_g") != 455 || own.Body["density_used_g_per_l"] != 455.0 {
		t.Errorf("a litre by the catalogue is %s", own.Raw)
	}
}

func plainJSON(v any) any {
	if d, ok := v.(doc); ok {
		return map[string]any(d)
	}
	return v
}

func TestALotAtTheTableSaysWhatItIs(t *testing.T) {
	p := newTable(t)
	id := uuid.NewString()
	h := p.household("Plot nine")
	got := p.takeIn(doc{"method": "weighed", "mass": doc{"value": "9.4", "unit": "kg"}, "tare": doc{"value": "0.9", "unit": "kg"}},
		"id", id, "household_id", h, "note", "Windfalls.", "occurred_at", "2026-10-05T08:30:00Z")
	if got.Header.Get("Location") != "/v1/gardens/"+p.garden+"/lots/"+id {
		t.Errorf("Location %q", got.Header.Get("Location"))
	}
	for name, want := range map[string]any{"id": id, "material": "apples", "group": "fruit", "status": "accepted", "storage": "shelf",
		"household_id": h, "by_member_id": p.member, "day": "2026-10-05", "use_by": "2026-10-12", "mass_g": 8500.0, "rel_sd_permille": 5.0, "note": "Windfalls."} {
		if got.Body[name] != want {
			t.Errorf("%s is %v, want %v", name, got.Body[name], want)
		}
	}
	if p.balance("source:household/"+h) != -8500 || p.balance("lot:"+id) != 8500 {
		t.Error("the lot must come from its household, to the gram")
	}
}

func TestWhatCannotBeALotIsRefusedAndNamed(t *testing.T) {
	p := newTable(t)
	h := p.household("Plot nine")
	for _, x := range []struct {
		what   string
		in     any
		status int
		code   string
		field  string
	}{
		{"a mass below nothing", p.lot(weighed("-1")), 400, "request.malformed", "/amount/mass/value"},
		{"no mass at all", p.lot(weighed("0")), 422, "mass.invalid", "/amount/mass"},
		{"less than half a gram", p.lot(weighed("0.0004")), 422, "mass.invalid", "/amount/mass"},
		{"more than two tonnes", p.lot(weighed("2000.001")), 422, "mass.invalid", "/amount/mass"},
		{"more than there is on Earth", p.lot(reading("9999999999999999999", "short_ton")), 422, "mass.invalid", "/amount/mass"},
		{"a scale that shows litres", p.lot(reading("3", "L")), 422, "mass.invalid", "/amount/mass"},
		{"a bucket as heavy as what is in it", p.lot(doc{"method": "weighed", "mass": doc{"value": "2", "unit": "kg"}, "tare": doc{"value": "2", "unit": "kg"}}), 422, "mass.invalid", "/amount/tare"},
		{"a bucket heavier than what is in it", p.lot(doc{"method": "weighed", "mass": doc{"value": "1", "unit": "kg"}, "tare": doc{"value": "2", "unit": "kg"}}), 422, "mass.invalid", "/amount/tare"},
		{"a scale nobody read", p.lot(doc{"method": "weighed"}), 422, "mass.invalid", "/amount/mass"},
		{"containers of no size", p.lot(doc{"method": "container", "count": 2}), 422, "mass.invalid", "/amount/container"},
		{"a container on a scale", p.lot(doc{"method": "weighed", "mass": doc{"value": "1", "unit": "kg"}, "count": 2}), 422, "mass.invalid", "/amount/count"},
		{"a guess less a tare", p.lot(doc{"method": "estimate", "mass": doc{"value": "1", "unit": "kg"}, "tare": doc{"value": "1", "unit": "g"}}), 422, "mass.invalid", "/amount/tare"},
		{"an overfull bucket", p.lot(doc{"method": "container", "container": litres("20"), "fill_percent": 101}), 400, "request.malformed", "/amount/fill_percent"},
		{"scraps as heavy as lead", p.lot(doc{"method": "container", "container": litres("20"), "density_g_per_l": 11340}), 400, "request.malformed", "/amount/density_g_per_l"},
		{"a tank of scraps", p.lot(doc{"method": "container", "container": doc{"value": "10", "unit": "m3"}}), 422, "mass.invalid", "/amount"},
		{"a material nobody knows", p.lot(weighed("1"), "material", "moon_cheese"), 404, "material.not_found", "/material"},
		{"bedding at the scraps table", p.lot(weighed("1"), "material", "corrugated_cardboard"), 404, "material.not_found", "/material"},
		{"a site nobody knows", p.lot(weighed("1"), "site_id", uuid.NewString()), 404, "site.not_found", "/site_id"},
		{"a household nobody knows", p.lot(weighed("1"), "household_id", uuid.NewString()), 404, "household.not_found", "/household_id"},
		{"a member nobody knows", p.lot(weighed("1"), "member_id", uuid.NewString()), 404, "member.not_found", "/member_id"},
		{"two givers", p.lot(weighed("1"), "household_id", h, "member_id", p.member), 422, "lot.invalid", "/household_id"},
		{"tomorrow's scraps", p.lot(weighed("1"), "occurred_at", "2026-10-06T12:00:00Z"), 422, "day.future", "/occurred_at"},
		{"eaten before it came", p.lot(weighed("1"), "use_by", "2026-10-04"), 422, "lot.invalid", "/use_by"},
		{"turned away for nothing", p.lot(weighed("1"), "verdict", "rejected"), 422, "lot.invalid", "/reason"},
		{"accepted with a reason against", p.lot(weighed("1"), "reason", "Glass."), 422, "lot.invalid", "/reason"},
		{"not judged, with a reason against", p.lot(weighed("1"), "verdict", "pending", "reason", "Glass."), 422, "lot.invalid", "/reason"},
		{"a place nobody has", p.lot(weighed("1"), "storage", "attic"), 400, "request.malformed", "/storage"},
		{"no site", doc{"material": "apples", "amount": weighed("1")}, 400, "request.malformed", ""},
		{"a field nobody knows", p.lot(weighed("1"), "colour", "red"), 400, "request.malformed", "/colour"},
	} {
		t.Log(x.what)
		p.in("POST", "/lots", x.in).refused(x.status, x.code, x.field)
	}
	if n := len(p.in("GET", "/lots", nil).want(200).items()); n != 0 {
		t.Errorf("%d lots were booked all the same", n)
	}
}

func TestScrapsBeforeTheOpenPeriodAreRefused(t *testing.T) {
	p := newTable(t)
	p.books(`UPDATE midden.gardens SET settings = jsonb_set(settings, '{open_from}', '"2026-10-01"') WHERE garden_id = midden.garden()`)
	// 23:30 UTC on 30 September is already 1 October in Lisbon's summer time.
	got := p.takeIn(weighed("1"), "occurred_at", "2026-09-30T23:30:00Z")
	if got.text("day") != "2026-10-01" {
		t.Errorf("counted on %s", got.text("day"))
	}
	p.in("POST", "/lots", p.lot(weighed("1"), "occurred_at", "2026-09-30T22:30:00Z")).refused(409, "day.closed", "/occurred_at")
	p.in("POST", "/lots/"+got.text("id")+"/spoilage", doc{"destination": "landfill", "occurred_at": "2026-09-29T10:00:00Z"}).refused(409, "day.closed", "/occurred_at")
}

func TestALotTurnedAwayStaysAway(t *testing.T) {
	p := newTable(t)
	at := "/lots/" + p.takeIn(weighed("4"), "verdict", "pending").text("id")
	if got := p.in("GET", at, nil).want(200); got.text("status") != "received" {
		t.Errorf("a lot not judged is %s", got.text("status"))
	}
	p.in("POST", at+"/verdict", doc{"verdict": "rejected"}).refused(422, "lot.invalid", "/reason")
	got := p.in("POST", at+"/verdict", doc{"verdict": "rejected", "reason": "Glass in the bucket.", "notice": "Told at the table."}).want(200)
	if got.text("status") != "rejected" || got.grams("remaining_g") != 0 || got.text("rejection_reason") != "Glass in the bucket." {
		t.Errorf("turned away as %s", got.Raw)
	}
	heap := p.overflowPlace("Hot heap", true)
	for path, in := range map[string]doc{"/verdict": {"verdict": "accepted"}, "/storage": {"storage": "fridge"},
		"/spoilage": {"destination": "landfill"}, "/overflow": {"overflow_place_id": heap},
		"/reweighing": {"amount": weighed("1"), "cause": "dried"}} {
		p.in("POST", at+path, in).refused(409, "lot.rejected", "")
	}
	if p.balance("rejected") != 4000 {
		t.Errorf("%d g rejected, want 4000", p.balance("rejected"))
	}
}

func TestWhatIsSortedOutWasNeverAccepted(t *testing.T) {
	p := newTable(t)
	at := "/lots/" + p.takeIn(weighed("4"), "verdict", "pending").text("id")
	p.in("POST", at+"/verdict", doc{"verdict": "accepted", "sorted_out": weighed("1")}).refused(422, "lot.invalid", "/sorted_out")
	p.in("POST", at+"/verdict", doc{"verdict": "accepted_after_sorting", "sorted_out": weighed("4.001")}).refused(409, "lot.empty", "/sorted_out")
	got := p.in("POST", at+"/verdict", doc{"verdict": "accepted_after_sorting", "sorted_out": weighed("0.3")}).want(200)
	if got.grams("mass_g") != 4000 || got.grams("remaining_g") != 3700 || got.text("status") != "accepted_after_sorting" {
		t.Errorf("sorted to %s", got.Raw)
	}
	// Accepted is received less rejected: 3,700 g. It is not booked as spoiled
	// too, or it would be taken off what was diverted twice.
	if p.balance("rejected") != 300 || p.balance("spoiled") != 0 {
		t.Errorf("%d g rejected and %d g spoiled, want 300 and 0", p.balance("rejected"), p.balance("spoiled"))
	}
	p.in("POST", at+"/verdict", doc{"verdict": "accepted"}).refused(409, "lot.judged", "")
}

func TestNoMoreLeavesALotThanItHolds(t *testing.T) {
	p := newTable(t)
	heap, idle := p.overflowPlace("Hot heap", true), p.overflowPlace("Old heap", false)
	id := p.takeIn(weighed("5")).text("id")
	at := "/lots/" + id
	p.in("POST", at+"/spoilage", doc{"destination": "landfill", "amount": weighed("5.001")}).refused(409, "lot.empty", "/amount")
	p.in("POST", at+"/overflow", doc{"overflow_place_id": heap, "amount": weighed("6")}).refused(409, "lot.empty", "/amount")
	p.in("POST", at+"/overflow", doc{"overflow_place_id": idle}).refused(409, "overflow.inactive", "/overflow_place_id")
	p.in("POST", at+"/overflow", doc{"overflow_place_id": uuid.NewString()}).refused(404, "overflow.not_found", "")
	p.in("POST", at+"/storage", doc{"storage": "freezer", "part": weighed("5.5")}).refused(409, "lot.empty", "/part")
	p.in("POST", at+"/storage", doc{"storage": "freezer", "site_id": uuid.NewString()}).refused(404, "site.not_found", "/site_id")
	p.in("POST", at+"/spoilage", doc{"destination": "landfill", "occurred_at": "2026-10-04T12:00:00Z"}).refused(422, "lot.not_yet", "/occurred_at")
	p.in("POST", at+"/reweighing", doc{"amount": doc{"method": "estimate", "mass": doc{"value": "4", "unit": "kg"}}, "cause": "dried"}).refused(422, "lot.invalid", "/amount/method")
	if got := p.in("POST", at+"/overflow", doc{"overflow_place_id": heap, "amount": weighed("2"), "note": "No room."}).want(200); got.grams("remaining_g") != 3000 {
		t.Errorf("after overflow %s", got.Raw)
	}
	if got := p.in("POST", at+"/reweighing", doc{"amount": weighed("2.6"), "cause": "drained"}).want(200); got.grams("remaining_g") != 2600 {
		t.Errorf("after draining %s", got.Raw)
	}
	if got := p.in("POST", at+"/spoilage", doc{"destination": "elsewhere", "note": "Dug into a bed."}).want(200); got.grams("remaining_g") != 0 {
		t.Errorf("after spoiling %s", got.Raw)
	}
	p.in("POST", at+"/spoilage", doc{"destination": "landfill"}).refused(409, "lot.empty", "")
	p.in("POST", at+"/storage", doc{"storage": "fridge"}).refused(409, "lot.empty", "")
	for account, want := range map[string]int64{"lot:" + id: 0, "overflow:" + heap: 2000, "water:" + id: 400, "spoiled": 2600} {
		if got := p.balance(account); got != want {
			t.Errorf("%s holds %d g, want %d", account, got, want)
		}
	}
	if n := p.number(`SELECT count(*) FROM midden.entry_notes WHERE garden_id = midden.garden() AND note IN ('No room.', 'drained', 'Dug into a bed.')`); n != 3 {
		t.Errorf("%d notes kept with their entries, want 3", n)
	}
}

func TestAPartThatIsFrozenBecomesALot(t *testing.T) {
	p := newTable(t)
	at := "/lots/" + p.takeIn(weighed("5")).text("id")
	part := uuid.NewString()
	in := doc{"storage": "freezer", "part": weighed("3"), "part_lot_id": part}
	got := p.in("POST", at+"/storage", in).want(200)
	again := p.in("POST", at+"/storage", in).want(200) // another key, the same client-made id
	if got.text("id") != part || string(got.Raw) != string(again.Raw) || "/lots/"+got.text("parent_lot_id") != at {
		t.Errorf("froze %s, then %s", got.Raw, again.Raw)
	}
	if got.text("storage") != "freezer" || got.text("use_by") != "2027-04-03" || got.grams("remaining_g") != 3000 {
		t.Errorf("froze %s", got.Raw) // 180 days: common practice, no source
	}
	in["part"] = weighed("1")
	p.in("POST", at+"/storage", in).refused(409, "lot.exists", "/id")
	if rest := p.in("GET", at, nil).want(200); rest.grams("remaining_g") != 2000 || rest.text("storage") != "shelf" {
		t.Errorf("left %s", rest.Raw)
	}
}

func TestALotSentAgainIsBookedOnce(t *testing.T) {
	p := newTable(t)
	key := `"a-slow-phone"`
	in := p.lot(weighed("2"), "id", uuid.NewString())
	first := p.in("POST", "/lots", in, "Idempotency-Key", key).want(201)
	replay := p.in("POST", "/lots", in, "Idempotency-Key", key).want(201)
	other := p.in("POST", "/lots", in).want(201) // a new key, the same client-made id
	if string(first.Raw) != string(replay.Raw) || replay.Header.Get("Idempotency-Replayed") != "true" || replay.Header.Get("Location") != first.Header.Get("Location") {
		t.Errorf("replayed %s after %s", replay.Raw, first.Raw)
	}
	if string(first.Raw) != string(other.Raw) || other.Header.Get("Idempotency-Replayed") != "" {
		t.Errorf("the same id gave %s after %s", other.Raw, first.Raw)
	}
	in["amount"] = weighed("3")
	p.in("POST", "/lots", in).refused(409, "lot.exists", "/id")
	p.in("POST", "/lots", in, "Idempotency-Key", key).refused(422, "request.key_reused", "")
	if n := len(p.in("GET", "/lots", nil).want(200).items()); n != 1 {
		t.Errorf("%d lots, want 1", n)
	}
	at := "/lots/" + first.text("id")
	spoil := doc{"destination": "landfill", "amount": weighed("0.5")}
	p.in("POST", at+"/spoilage", spoil, "Idempotency-Key", `"twice"`).want(200)
	p.in("POST", at+"/spoilage", spoil, "Idempotency-Key", `"twice"`).want(200)
	if left := p.in("GET", at, nil).grams("remaining_g"); left != 1500 {
		t.Errorf("%d g left, want 1500", left)
	}
}

func TestOnlyOneTakerGetsTheLastGrams(t *testing.T) {
	p := newTable(t)
	at := "/lots/" + p.takeIn(weighed("3")).text("id")
	heap := p.overflowPlace("Hot heap", true)
	takers := []func() *answer{
		func() *answer {
			return p.in("POST", at+"/spoilage", doc{"destination": "landfill", "amount": weighed("2")})
		},
		func() *answer {
			return p.in("POST", at+"/overflow", doc{"overflow_place_id": heap, "amount": weighed("2")})
		},
		func() *answer {
			return p.in("POST", at+"/storage", doc{"storage": "freezer", "part": weighed("2")})
		},
	}
	answers := make([]*answer, len(takers))
	var wg sync.WaitGroup
	for i, take := range takers {
		wg.Go(func() { answers[i] = take() })
	}
	wg.Wait()
	got := 0
	for _, a := range answers {
		if a.Status == http.StatusOK {
			got++
			continue
		}
		a.refused(409, "lot.empty", "")
	}
	if left := p.in("GET", at, nil).want(200).grams("remaining_g"); got != 1 || left != 1000 {
		t.Errorf("%d takers of 2 kg each were served from 3 kg; %d g left", got, left)
	}
}

func TestLotsPageLatestFirst(t *testing.T) {
	p := newTable(t)
	other := p.in("POST", "/sites", doc{"name": "Basement", "kind": "basement"}).want(201).text("id")
	var made []string
	for i := range 7 {
		made = append([]string{p.takeIn(weighed("1"), "occurred_at", fmt.Sprintf("2026-10-0%dT09:00:00Z", 1+i/2)).text("id")}, made...)
	}
	got := p.pages("/lots", 3)
	if len(got) != 7 || got[0] != made[0] {
		t.Errorf("paged %v, made (latest first) %v", got, made)
	}
	gone := p.takeIn(weighed("1"), "site_id", other, "material", "citrus_peel").text("id")
	p.in("POST", "/lots/"+gone+"/spoilage", doc{"destination": "landfill"}).want(200)
	for query, want := range map[string]int{"in_stock=true": 7, "site_id=" + other: 1, "material=citrus_peel": 1, "status=received": 0,
		"from=2026-10-02&to=2026-10-04": 4, "from=2026-10-04": 2, "window_id=" + uuid.NewString(): 0} {
		if n := len(p.in("GET", "/lots?"+query, nil).want(200).items()); n != want {
			t.Errorf("%s lists %d lots, want %d", query, n, want)
		}
	}
	next := p.in("GET", "/lots?limit=3", nil).want(200).text("next_cursor")
	p.in("GET", "/lots?limit=3&status=accepted&cursor="+next, nil).refused(400, "cursor.invalid", "/cursor")
	p.in("GET", "/lots?limit=201", nil).refused(400, "request.malformed", "limit")
}

func TestLotsBelongToTheirGardenAndItsKeepers(t *testing.T) {
	p := newTable(t)
	at := "/lots/" + p.takeIn(weighed("1")).text("id")
	stranger := table{p.newGarden("tove@hillside.example"), ""}
	theirs := stranger.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	stranger.site = theirs
	stranger.in("GET", at, nil).refused(404, "lot.not_found", "")
	moves := map[string]doc{"/verdict": {"verdict": "accepted"}, "/storage": {"storage": "fridge"}, "/spoilage": {"destination": "landfill"},
		"/overflow": {"overflow_place_id": stranger.overflowPlace("Heap", true)}, "/reweighing": {"amount": weighed("1"), "cause": "dried"}}
	for path, in := range moves {
		stranger.in("POST", at+path, in).refused(404, "lot.not_found", "")
	}
	for name, id := range map[string]string{"site_id": theirs, "household_id": stranger.household("Plot one"), "member_id": stranger.member} {
		thing, _, _ := strings.Cut(name, "_id")
		p.in("POST", "/lots", p.lot(weighed("1"), name, id)).refused(404, thing+".not_found", "/"+name)
	}
	p.in("POST", at+"/overflow", doc{"overflow_place_id": stranger.overflowPlace("Other heap", true)}).refused(404, "overflow.not_found", "")
	keeper := p.with("keeper", "ola@lowfield.example")
	keeper.in("GET", at, nil).want(200)
	keeper.in("POST", "/lots", p.lot(weighed("1"))).want(201)
	for _, role := range []string{"donor", "observer"} {
		q := p.with(role, role+"@lowfield.example")
		q.in("GET", "/lots", nil).refused(403, "role.forbidden", "")
		q.in("GET", at, nil).refused(403, "role.forbidden", "")
		q.in("POST", "/lots", p.lot(weighed("1"))).refused(403, "role.forbidden", "")
		for path, in := range moves {
			q.in("POST", at+path, in).refused(403, "role.forbidden", "")
		}
	}
}
