package httpapi

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/season"
)

// gardenIn founds a garden in a zone, with a site for scraps.
func gardenIn(t *testing.T, zone, hemisphere string, now time.Time) table {
	t.Helper()
	e := newEdge(t)
	e.at(now)
	p := e.founder("maren@lowfield.example")
	p.garden = p.call("POST", "/v1/gardens", doc{"name": "Lowfield Terrace Garden", "time_zone": zone,
		"hemisphere": hemisphere, "units": "metric"}).want(201).text("id")
	for _, m := range p.call("GET", "/v1/me", nil).want(200).Body["memberships"].([]any) {
		p.member = m.(map[string]any)["member_id"].(string)
	}
	return table{p, p.in("POST", "/sites", doc{"name": "Potting shed", "kind": "shed"}).want(201).text("id")}
}

// spring2026 enters a small season in New York, worked out by hand below.
// Clocks go forward there on 8 March 2026.
func spring2026(t *testing.T) table {
	t.Helper()
	p := gardenIn(t, "America/New_York", "north", time.Date(2026, 6, 2, 16, 0, 0, 0, time.UTC))
	home := p.household("Rowan")
	take := func(at, material string, amount any, with ...any) string {
		return p.takeIn(amount, append([]any{"occurred_at", at, "material", material}, with...)...).text("id")
	}
	winter := take("2026-03-01T02:00:00Z", "apples", weighed("3")) // 28 February, 21:00
	coffee := take("2026-03-01T05:00:00Z", "coffee_grounds", weighed("12.5"), "household_id", home)
	apples := take("2026-03-08T06:30:00Z", "apples", weighed("4.25"), "member_id", p.member)
	pounds := take("2026-04-09T15:00:00Z", "apples", reading("20", "lb"))
	mixed := take("2026-04-09T15:00:00Z", "mixed_kitchen_scraps", weighed("6"), "verdict", "pending")
	take("2026-06-01T03:59:00Z", "bread", weighed("2"), "household_id", home, "verdict", "rejected", "reason", "Wrapped in foil.")
	take("2026-06-01T04:00:00Z", "apples", weighed("9")) // 1 June, midnight
	slip := p.takeIn(weighed("7"), "occurred_at", "2026-04-02T15:00:00Z")
	p.reverse(slip.text("entry_id"))

	const on, day = "2026-04-10T15:00:00Z", "2026-04-10"
	p.in("POST", "/lots/"+mixed+"/verdict", doc{"verdict": "accepted_after_sorting", "sorted_out": weighed("0.75"), "occurred_at": on}).want(200)
	p.in("POST", "/lots/"+coffee+"/overflow", doc{"overflow_place_id": p.overflowPlace("Hot heap", true), "amount": weighed("2"), "occurred_at": on}).want(200)
	p.in("POST", "/lots/"+apples+"/spoilage", doc{"destination": "landfill", "amount": weighed("1.2"), "occurred_at": on}).want(200)
	p.in("POST", "/lots/"+apples+"/spoilage", doc{"destination": "elsewhere", "amount": weighed("0.3"), "occurred_at": on}).want(200)
	p.in("POST", "/lots/"+pounds+"/reweighing", doc{"amount": weighed("8.9"), "cause": "drained", "occurred_at": on}).want(200)
	p.in("POST", "/lots/"+mixed+"/reweighing", doc{"amount": weighed("5.3"), "cause": "thawed", "occurred_at": on}).want(200)

	bin := p.in("POST", "/bins", wedge("Long wedge", p.site)).want(201).text("id")
	face := p.sections(bin)[0]["id"]
	p.in("POST", "/feedings", doc{"bin_id": bin, "section_id": face, "occurred_at": on,
		"lots": []doc{{"lot_id": winter}, {"lot_id": coffee, "amount": weighed("8")}}}).want(201)
	heap := p.overflowPlace("Old heap", true)
	for to, kg := range map[string]string{"landfill": "0.4", "overflow": "0.1"} {
		d := doc{"kind": "food_removed", "section_id": face, "removed": weighed(kg), "removed_material": "coffee_grounds", "removed_to": to, "occurred_at": on}
		if to == "overflow" {
			d["overflow_place_id"] = heap
		}
		p.in("POST", "/bins/"+bin+"/care-events", d).want(201)
	}
	box := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding)
	p.move(outside("a worm farm"), box.at(0), live("800"), doc{"occurred_at": on, "reason": "gift"}).want(201)
	bed := doc{"bin_id": bin, "section_id": face}
	p.move(box.at(0), bed, live("300"), doc{"occurred_at": on, "reason": "split"}).want(201)
	castings := p.harvest(box, 0, "3", doc{"occurred_at": on}).want(201).text("castings_lot_id")
	p.step(castings, doc{"stage": "resting", "occurred_at": "2026-04-11T15:00:00Z"}).want(201)
	p.in("POST", "/giveaways", doc{"castings_lot_id": castings, "amount": weighed("1.25"), "to": "bed", "recipient_class": "Herbs",
		"occurred_at": "2026-04-12T15:00:00Z"}).want(201)
	p.in("POST", "/hours", doc{"member_id": p.member, "minutes": 90, "work": "Fed the wedge.", "occurred_at": on}).want(201)
	return p
}

// Pounds: NIST Handbook 44, Appendix C: 20 lb = 9,071.8474 g, so 9,072 g.
func TestASeasonWorkedByHandComesOutToTheGram(t *testing.T) {
	p := spring2026(t)
	made := p.in("POST", "/season-reports", doc{"season": "2026-spring"}).want(201)
	got := p.in("GET", "/season-reports/"+made.text("id"), nil).want(200)
	if string(got.Raw) != string(made.Raw) || made.Header.Get("Location") != "/v1/gardens/"+p.garden+"/season-reports/"+made.text("id") {
		t.Errorf("made %s, then read %s", made.Raw, got.Raw)
	}
	flows := got.Body["flows"].(map[string]any)
	for name, want := range map[string]float64{
		"on_hand_start_g":    3_000,                                  // the lot of 28 February
		"received_g":         12_500 + 4_250 + 9_072 + 6_000 + 2_000, // not the slip, not 1 June
		"rejected_g":         2_000 + 750,                            //
		"accepted_g":         31_072,                                 // 33,822 less 2,750
		"fed_g":              3_000 + 8_000,                          //
		"overflow_g":         2_000,                                  //
		"spoiled_landfill_g": 1_200, "spoiled_elsewhere_g": 300,      //
		"water_loss_g": 9_072 - 8_900, "water_gain_g": 5_300 - 5_250, //
		"on_hand_end_g":     2_500 + 2_750 + 8_900 + 5_300, // 3,000 + 31,072 + 50 less 14,672
		"bin_to_landfill_g": 400, "bin_to_elsewhere_g": 100, "difference_g": 0,
	} {
		if flows[name] != want {
			t.Errorf("%s %v, want %v", name, flows[name], want)
		}
	}
	lines := func(by string) map[string]map[string]any {
		out := map[string]map[string]any{}
		for _, x := range got.Body[by].([]any) {
			m := x.(map[string]any)
			out[m["label"].(string)] = m
		}
		return out
	}
	for _, c := range []struct {
		by, label, name string
		want            float64
	}{
		{"by_month", "2026-03", "received_g", 16_750}, {"by_month", "2026-04", "received_g", 15_072}, {"by_month", "2026-05", "rejected_g", 2_000},
		{"by_material", "Apples and cores", "received_g", 13_322}, {"by_material", "Coffee grounds", "taken_out_g", 500},
		{"by_material", "Coffee grounds", "diverted_g", 12_100}, {"by_site", "Potting shed", "received_g", 33_822},
		{"by_donor_class", "households", "received_g", 14_500}, {"by_donor_class", "members", "received_g", 4_250},
		{"by_donor_class", "unknown givers", "received_g", 15_072}, {"by_bin", "Long wedge", "fed_g", 11_000}, {"by_bin", "Long wedge", "taken_out_g", 500},
	} {
		if l := lines(c.by)[c.label]; l[c.name] != c.want {
			t.Errorf("%s %s %s %v, want %v", c.by, c.label, c.name, l[c.name], c.want)
		}
	}
	// Accepted less landfill, from lots and out of the bin: 31,072 - 1,200 - 400.
	diversion := got.Body["diversion"].(map[string]any)
	if diversion["diverted_g"] != 29_472.0 || diversion["measured_percent"] != 100.0 {
		t.Errorf("diversion %v", diversion)
	}
	// 29.472 kg x 0.55277 kg CO2e/kg = 16.3 kg.
	if e := got.Body["emissions"].(map[string]any); e["avoided_kg_co2e"] != "16" || e["factor_id"] != "us-epa-warm" || e["version"] != "16" {
		t.Errorf("emissions %v", e)
	}
	people := got.Body["people"].(map[string]any)
	if people["households"] != 1.0 || people["members"] != 1.0 || people["minutes"] != 90.0 || people["bins_in_use"] != 2.0 {
		t.Errorf("people %v", people)
	}
	castings := got.Body["castings"].(map[string]any)
	if castings["harvested_g"] != 3000.0 || castings["given_g"] != 1250.0 || castings["on_hand_end_g"] != 1750.0 || got.grams("worms_moved_g") != 1100 {
		t.Errorf("castings %v, worms %d g", castings, got.grams("worms_moved_g"))
	}
	// Records on 1 and 8 March, 9 and 10 April, 31 May: 87 of 92 days had none.
	if got.grams("records") != 16 || got.grams("days_without_records") != 87 || got.text("interval") != "2026-03-01/2026-06-01" {
		t.Errorf("%d records, %d days without, %s", got.grams("records"), got.grams("days_without_records"), got.text("interval"))
	}
	if strings.Contains(string(got.Raw), "Rowan") || strings.Contains(string(got.Raw), "Maren") {
		t.Errorf("the report names a person: %s", got.Raw)
	}
}

// RFC 4180: CRLF after every record, the header first, every record as long.
func TestAReportIsATableToo(t *testing.T) {
	p := spring2026(t)
	id := p.in("POST", "/season-reports", doc{"season": "2026-spring"}).want(201).text("id")
	got := p.in("GET", "/season-reports/"+id+"/csv", nil).want(200)
	if got.Header.Get("Content-Type") != "text/csv; charset=utf-8; header=present" ||
		got.Header.Get("Content-Disposition") != "attachment; filename=midden-2026-spring-r1.csv" {
		t.Errorf("headers %v", got.Header)
	}
	text := string(got.Raw)
	if strings.Count(text, "\n") != strings.Count(text, "\r\n") || !strings.HasSuffix(text, "\r\n") {
		t.Error("a record does not end with CRLF")
	}
	records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(records[0], []string{"section", "item", "label", "figure", "value", "unit"}) {
		t.Errorf("header %q", records[0])
	}
	for _, want := range [][]string{{"balance", "", "", "diverted", "29472", "g"}, {"effort", "", "", "households", "1", ""}} {
		if !slices.ContainsFunc(records, func(r []string) bool { return slices.Equal(r, want) }) {
			t.Errorf("no record %q", want)
		}
	}
	if strings.Contains(text, "Rowan") || strings.Contains(text, "Maren") {
		t.Error("the table names a person")
	}
}

func TestAPreparedReportStaysWhateverComesLater(t *testing.T) {
	p := spring2026(t)
	key, want := `"first-of-june"`, doc{"season": "2026-spring"}
	first := p.in("POST", "/season-reports", want, "Idempotency-Key", key).want(201)
	replay := p.in("POST", "/season-reports", want, "Idempotency-Key", key).want(201)
	if string(replay.Raw) != string(first.Raw) || replay.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("replayed as %s", replay.Raw)
	}
	p.takeIn(weighed("1"), "occurred_at", "2026-05-01T15:00:00Z")
	id := uuid.NewString()
	second := p.in("POST", "/season-reports", doc{"season": "2026-spring", "id": id}).want(201)
	if second.grams("revision") != 2 || second.Body["flows"].(map[string]any)["received_g"] != 34_822.0 {
		t.Errorf("second %s", second.Raw)
	}
	if again := p.in("POST", "/season-reports", doc{"season": "2026-spring", "id": id}).want(201); string(again.Raw) != string(second.Raw) {
		t.Errorf("the same id again gives %s", again.Raw)
	}
	p.in("POST", "/season-reports", doc{"season": "2026-summer", "id": id}).refused(409, "report.exists", "/id")
	if kept := p.in("GET", "/season-reports/"+first.text("id"), nil).want(200); string(kept.Raw) != string(first.Raw) {
		t.Errorf("the first report became %s", kept.Raw)
	}
	p.in("POST", "/season-reports", doc{"season": "2026-summer"}).want(201)
	ids := p.pages("/season-reports", 1)
	if len(ids) != 3 || len(p.pages("/season-reports?season=2026-spring", 1)) != 2 || !slices.Contains(ids, id) {
		t.Errorf("listed %v", ids)
	}
}

func TestReportsAreForAllToReadAndForKeepersToPrepare(t *testing.T) {
	p := spring2026(t)
	id := p.with("keeper", "keeper@lowfield.example").in("POST", "/season-reports", doc{"season": "2026-spring"}).want(201).text("id")
	for _, role := range []string{"donor", "observer"} {
		q := p.with(role, role+"@lowfield.example")
		q.in("GET", "/season-reports/"+id, nil).want(200)
		q.in("GET", "/season-reports/"+id+"/csv", nil).want(200)
		q.in("GET", "/season-reports", nil).want(200)
		q.in("GET", "/seasons", nil).want(200)
		q.in("POST", "/season-reports", doc{"season": "2026-spring"}).refused(403, "role.forbidden", "")
	}
	p.in("POST", "/season-reports", doc{"season": "2026-mud"}).refused(422, "season.unknown", "/season")
	p.in("POST", "/season-reports", doc{"season": "2026-autumn"}).refused(422, "season.not_begun", "/season")
	p.in("GET", "/season-reports/"+uuid.NewString(), nil).refused(404, "report.not_found", "")
	other := p.edge.newGarden("tove@hillside.example")
	other.in("GET", "/season-reports/"+id, nil).refused(404, "report.not_found", "")
	other.in("GET", "/season-reports/"+id+"/csv", nil).refused(404, "report.not_found", "")
	other.garden = p.garden
	other.in("POST", "/season-reports", doc{"season": "2026-spring"}).refused(404, "garden.not_found", "")
}

func TestAReportWhoseBytesChangedIsNotShown(t *testing.T) {
	p := spring2026(t)
	id := p.in("POST", "/season-reports", doc{"season": "2026-spring"}).want(201).text("id")
	for _, sql := range []string{`ALTER TABLE midden.season_reports DISABLE TRIGGER reports_stay`,
		`ALTER TABLE midden.season_reports DROP CONSTRAINT season_reports_check1`} {
		if _, err := p.db.Owner.Exec(t.Context(), sql); err != nil {
			t.Fatal(err)
		}
	}
	p.books(`UPDATE midden.season_reports SET canonical = convert_to(replace(convert_from(canonical, 'UTF8'), '29472', '99472'), 'UTF8')
		WHERE garden_id = midden.garden()`)
	p.in("GET", "/season-reports/"+id, nil).refused(500, "report.altered", "")
	// Nor with a digest to match: the sums no longer follow.
	p.books(`UPDATE midden.season_reports SET sha256 = sha256(canonical) WHERE garden_id = midden.garden()`)
	p.in("GET", "/season-reports/"+id, nil).refused(500, "report.altered", "")
}

// Factors, from memory of a public transcription: US EPA, Waste Reduction Model
// (WARM) version 16, December 2023, summary data, food waste: landfilled
// +0.50146, composted -0.15213 MTCO2E per short ton. Short ton: NIST Handbook
// 44, Appendix C. 1,250 kg are 1.37789 short tons, 2,400 lb are 1.2.
func TestEmissionsFollowThePublishedFactors(t *testing.T) {
	for _, c := range []struct {
		value, unit      string
		avoided          string
		landfill, credit float64 // change in kg CO2e
	}{
		{"1250", "kg", "690", -690.956, -900.575},
		{"2400", "lb", "600", -601.752, -784.308},
	} {
		t.Run(c.value+" "+c.unit, func(t *testing.T) {
			p := gardenIn(t, "America/New_York", "north", noon)
			p.takeIn(reading(c.value, c.unit))
			got := p.in("POST", "/season-reports", doc{"season": "2026-autumn"}).want(201)
			e := got.Body["emissions"].(map[string]any)
			if e["avoided_kg_co2e"] != c.avoided || math.Abs(e["kg_co2e_per_kg"].(float64)-0.50146/0.90718474) > 1e-12 || len(e["caveats"].([]any)) < 5 {
				t.Errorf("emissions %v", e)
			}
			mass := measure.Grams(got.Body["diversion"].(map[string]any)["diverted_g"].(float64))
			for credit, want := range map[season.Credit]float64{season.LandfillOnly: c.landfill, season.CompostCredit: c.credit} {
				factor, err := season.WARM16.Change(season.FoodWasteMix, credit)
				if err != nil {
					t.Fatal(err)
				}
				if g, _ := season.Emissions(mass, factor).Float64(); math.Abs(g/1000-want) > 0.001 {
					t.Errorf("%s: %.3f kg, want %.3f", credit, g/1000, want)
				}
			}
		})
	}
}

// Meteorological seasons: NOAA NCEI, "Meteorological versus astronomical
// seasons". Zones: IANA time zone database.
func TestSeasonsFollowTheGardensZoneAndHemisphere(t *testing.T) {
	for _, c := range []struct{ name, zone, hemisphere, founded, now, keys string }{
		{"the last evening of winter in New York", "America/New_York", "north", "2025-12-20T12:00:00Z", "2026-03-01T02:00:00Z", "2025-26-winter"},
		{"the first midnight of spring in New York", "America/New_York", "north", "2025-12-20T12:00:00Z", "2026-03-01T05:00:00Z", "2026-spring 2025-26-winter"},
		{"the day clocks go forward", "America/New_York", "north", "2026-03-08T04:59:59Z", "2026-03-08T07:00:00Z", "2026-spring"},
		{"the last night of spring, in summer time", "America/New_York", "north", "2026-05-01T12:00:00Z", "2026-06-01T03:59:59Z", "2026-spring"},
		{"the last minute of winter in Sydney", "Australia/Sydney", "south", "2026-07-01T12:00:00Z", "2026-08-31T13:59:59Z", "2026-winter"},
		{"the first minute of spring in Sydney", "Australia/Sydney", "south", "2026-07-01T12:00:00Z", "2026-08-31T14:00:00Z", "2026-spring 2026-winter"},
		{"a year in the south", "Australia/Sydney", "south", "2025-12-01T00:00:00Z", "2026-12-01T00:00:00Z",
			"2026-27-summer 2026-spring 2026-winter 2026-autumn 2025-26-summer"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := newEdge(t)
			e.at(instant(t, c.founded))
			p := e.founder("maren@lowfield.example")
			p.garden = p.call("POST", "/v1/gardens", doc{"name": "Lowfield", "time_zone": c.zone, "hemisphere": c.hemisphere, "units": "metric"}).want(201).text("id")
			e.at(instant(t, c.now))
			p = e.signIn("maren@lowfield.example").inGarden(p.garden)
			var keys []string
			for i, s := range p.in("GET", "/seasons", nil).want(200).items() {
				keys = append(keys, s["key"].(string))
				if s["current"] != (i == 0) {
					t.Errorf("season %v", s)
				}
			}
			if got := strings.Join(keys, " "); got != c.keys {
				t.Errorf("got %s, want %s", got, c.keys)
			}
		})
	}
}

func TestAGardensOwnSeasonsAreKept(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	g := p.in("GET", "", nil).want(200)
	settings := doc{"calendar": doc{"kind": "custom", "seasons": []doc{{"key": "drop-off-2026", "label": "Drop-off 2026", "start": "2026-04-01", "end": "2026-11-01"}}}}
	p.in("PATCH", "", doc{"settings": settings}, "If-Match", g.Header.Get("ETag")).want(200)
	list := p.in("GET", "/seasons", nil).want(200).items()
	if len(list) != 1 || list[0]["label"] != "Drop-off 2026" || list[0]["current"] != true {
		t.Errorf("seasons %v", list)
	}
	p.in("POST", "/season-reports", doc{"season": "2026-autumn"}).refused(422, "season.unknown", "/season")
	got := p.in("POST", "/season-reports", doc{"season": "drop-off-2026"}).want(201)
	// Nothing was brought: zeros, not an error.
	if b, _ := json.Marshal(got.Body["by_month"]); string(b) != "[]" || got.grams("records") != 0 {
		t.Errorf("report %s", got.Raw)
	}
}

func instant(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func (p *person) inGarden(id string) *person {
	p.garden = id
	return p
}
