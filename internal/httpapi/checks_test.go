package httpapi

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
)

func TestAFullCheckReadsBackAsItWasSeen(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	jon := p.with("keeper", "jon@lowfield.example")
	bin := p.bin("One", jon.member).text("id")
	face := p.sections(bin)[0]["id"].(string)
	seen := doc{"kind": "full", "smell": "sour", "squeeze_top": 3, "squeeze_bottom": 5, "food_left": "half", "food_left_of": []string{"bread"},
		"temperature_feed_c": 24.5, "temperature_bed_c": 19, "temperature_room_c": 17, "thermometer": "dial", "worms_leaving": true,
		"pests": []string{"rats_or_mice", "mites", "mites"}, "odd": "A few on the lid.", "occurred_at": "2026-10-04T22:30:00Z",
		"sections": []doc{{"section_id": face, "depth_mm": 240, "worms": "some", "worms_per_trowel": []int{4, 9}, "texture": "crumbly", "wet_spots": false}}}
	made := jon.in("POST", "/bins/"+bin+"/checks", seen, "Idempotency-Key", `"check"`).want(201)
	again := jon.in("POST", "/bins/"+bin+"/checks", seen, "Idempotency-Key", `"check"`).want(201)
	if string(made.Raw) != string(again.Raw) {
		t.Errorf("%s after %s", again.Raw, made.Raw)
	}
	list := p.in("GET", "/checks?bin_id="+bin, nil).want(200).items()
	if len(list) != 1 {
		t.Fatalf("%d checks", len(list))
	}
	if got, want := fmt.Sprint(list[0]), fmt.Sprint(made.Body); got != want {
		t.Errorf("listed %s\nmade %s", got, want)
	}
	// 22:30 UTC is 23:30 in Lisbon's summer time: still the same day.
	if made.text("day") != "2026-10-04" || made.text("by_member_id") != jon.member {
		t.Errorf("made %s", made.Raw)
	}
	if got := fmt.Sprint(made.Body["pests"]); got != "[mites rats_or_mice]" {
		t.Errorf("pests %s", got)
	}
	look := made.Body["sections"].([]any)[0].(map[string]any)
	if look["depth_mm"] != float64(240) || look["wet_spots"] != false || fmt.Sprint(look["worms_per_trowel"]) != "[4 9]" {
		t.Errorf("look %v", look)
	}
}

func TestChecksAreListedNewestFirstAndNarrowed(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	one, two := p.bin("One").text("id"), p.bin("Two").text("id")
	var want []string
	for i := range 5 {
		bin := []string{one, two}[i%2]
		at := noon.AddDate(0, 0, -i).Format(time.RFC3339)
		want = append(want, p.in("POST", "/bins/"+bin+"/checks", doc{"kind": "quick", "smell": "earth", "occurred_at": at}).want(201).text("id"))
	}
	if got := p.pages("/checks", 2); !slices.Equal(got, want) {
		t.Errorf("paged %v, want %v", got, want)
	}
	if got := p.pages("/checks?bin_id="+one, 1); !slices.Equal(got, []string{want[0], want[2], want[4]}) {
		t.Errorf("of one bin %v", got)
	}
	if got := p.pages("/checks?from=2026-10-02&to=2026-10-05", 10); !slices.Equal(got, want[1:4]) {
		t.Errorf("between days %v, want %v", got, want[1:4])
	}
}

func TestACheckThatCannotBeIsRefused(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	jon := p.with("keeper", "jon@lowfield.example")
	bin, other := p.bin("One").text("id"), p.bin("Two").text("id")
	face, elsewhere := p.sections(bin)[0]["id"], p.sections(other)[0]["id"]
	at := "/bins/" + bin + "/checks"
	full := func(looks ...doc) doc { return doc{"kind": "full", "sections": looks} }
	for _, c := range []struct {
		body        doc
		status      int
		code, field string
	}{
		{doc{"kind": "quick"}, 422, "check.invalid", ""},
		{doc{"kind": "quick", "squeeze_top": 6}, 400, "request.malformed", "/squeeze_top"},
		{doc{"kind": "quick", "temperature_room_c": 61}, 400, "request.malformed", "/temperature_room_c"},
		{doc{"kind": "quick", "sections": []doc{{"section_id": face}}}, 422, "check.invalid", "/sections"},
		{doc{"kind": "quick", "food_left": "none", "food_left_of": []string{"bread"}}, 422, "check.invalid", "/food_left_of"},
		{doc{"kind": "quick", "food_left": "half", "food_left_of": []string{"gravel"}}, 404, "material.not_found", "/food_left_of/0"},
		{full(doc{"section_id": elsewhere}), 404, "section.not_found", "/sections/0/section_id"},
		{full(doc{"section_id": face, "worms": "some"}, doc{"section_id": face}), 422, "check.invalid", "/sections/1/section_id"},
		{full(doc{"section_id": face, "worms": "none", "worms_per_trowel": []int{2}}), 422, "check.invalid", "/sections/0/worms"},
		{doc{"kind": "quick", "smell": "earth", "occurred_at": "2026-10-06T12:00:00Z"}, 422, "day.future", "/occurred_at"},
	} {
		p.in("POST", at, c.body).refused(c.status, c.code, c.field)
	}
	fine := doc{"kind": "quick", "smell": "earth"}
	jon.in("POST", at, fine).refused(403, "bin.not_yours", "")
	p.with("donor", "ines@lowfield.example").in("POST", at, fine).refused(403, "role.forbidden", "")
	stranger.in("POST", at, fine).refused(404, "bin.not_found", "")
	p.in("POST", "/bins/"+uuid.NewString()+"/checks", fine).refused(404, "bin.not_found", "")
	if n := len(stranger.in("GET", "/checks?bin_id="+bin, nil).want(200).items()); n != 0 {
		t.Errorf("a stranger sees %d checks", n)
	}
	own := doc{"kind": "quick", "smell": "earth", "id": uuid.NewString()}
	p.in("POST", at, own).want(201)
	p.in("POST", at, own).want(201)
	own["smell"] = "sour"
	p.in("POST", at, own).refused(409, "id.taken", "/id")
}
