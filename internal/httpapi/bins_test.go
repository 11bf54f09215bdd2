package httpapi

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/uuid"
)

// wedge is a new wedge bin at a site.
func wedge(name, site string, keepers ...string) doc {
	return doc{"name": name, "site_id": site, "method": "wedge", "drained": false, "species": "eisenia", "status": "in_use",
		"shape": doc{"kind": "box", "length_mm": 1200, "width_mm": 600, "depth_mm": 450}, "keeper_ids": append([]string{}, keepers...)}
}

// site notes a site and gives its id.
func (p *person) site(name string) string {
	p.t.Helper()
	return p.in("POST", "/sites", doc{"name": name, "kind": "shed"}).want(201).text("id")
}

// bin adds a wedge and gives the answer.
func (p *person) bin(name string, keepers ...string) *answer {
	p.t.Helper()
	return p.in("POST", "/bins", wedge(name, p.site(name+"'s shed"), keepers...)).want(201)
}

// sections are a bin's sections, in order.
func (p *person) sections(bin string) []map[string]any {
	p.t.Helper()
	return p.in("GET", "/bins/"+bin+"/sections", nil).want(200).items()
}

func TestABinBeginsWithTheSectionsOfItsMethod(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	shed := p.site("Shed")
	box := doc{"kind": "box", "length_mm": 1000, "width_mm": 500, "depth_mm": 400}
	stack := doc{"kind": "stack", "length_mm": 400, "width_mm": 400, "depth_mm": 150, "count": 4}
	for _, c := range []struct {
		method string
		shape  doc
		stages []string
	}{
		{"wedge", box, []string{"feeding"}},
		{"windrow", box, []string{"feeding"}},
		{"flow_through", box, []string{"maturing", "feeding"}},
		{"stacked_trays", stack, []string{"feeding"}},
		{"batch", box, []string{"feeding"}},
	} {
		made := p.in("POST", "/bins", doc{"name": "Bin of " + c.method, "site_id": shed, "method": c.method, "drained": true,
			"species": "eisenia", "shape": c.shape}).want(201)
		if made.text("status") != "being_set_up" || made.Header.Get("ETag") != `"1"` {
			t.Errorf("%s: %s, tag %s", c.method, made.Raw, made.Header.Get("ETag"))
		}
		if want := "/v1/gardens/" + p.garden + "/bins/" + made.text("id"); made.Header.Get("Location") != want {
			t.Errorf("Location %s, want %s", made.Header.Get("Location"), want)
		}
		var got []string
		for i, s := range p.sections(made.text("id")) {
			got = append(got, s["stage"].(string))
			if s["position"] != float64(i) {
				t.Errorf("%s: section %d stands at %v", c.method, i, s["position"])
			}
		}
		if !slices.Equal(got, c.stages) {
			t.Errorf("%s begins with %v, want %v", c.method, got, c.stages)
		}
	}
}

func TestABinThatCannotBeIsRefused(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	donor := p.with("donor", "ines@lowfield.example")
	shed := p.site("Shed")
	p.in("POST", "/bins", wedge("One", shed)).want(201)
	with := func(field string, v any) doc {
		d := wedge("Two", shed)
		d[field] = v
		return d
	}
	for _, c := range []struct {
		body        doc
		status      int
		code, field string
	}{
		{with("name", "ONE"), 409, "bin.name_taken", "/name"},
		{with("site_id", uuid.NewString()), 404, "site.not_found", "/site_id"},
		{with("shape", doc{"kind": "trough", "length_mm": 900}), 422, "bin.invalid", "/shape/radius_mm"},
		{with("shape", doc{"kind": "stack", "length_mm": 400, "width_mm": 400, "depth_mm": 150, "count": 3}), 422, "bin.invalid", "/shape/kind"},
		{with("set_up", doc{"bedding_laid_on": "2026-05-10", "worms_laid_on": "2026-05-01"}), 422, "bin.invalid", "/set_up/worms_laid_on"},
		{with("keeper_ids", []string{uuid.NewString()}), 404, "member.not_found", "/keeper_ids"},
		{with("keeper_ids", []string{donor.member}), 422, "bin.keeper", "/keeper_ids"},
		{with("method", "heap"), 400, "request.malformed", "/method"},
	} {
		p.in("POST", "/bins", c.body).refused(c.status, c.code, c.field)
	}
	donor.in("GET", "/bins", nil).refused(403, "role.forbidden", "")
	p.with("keeper", "jon@lowfield.example").in("POST", "/bins", wedge("Two", shed)).refused(403, "role.forbidden", "")
}

func TestABinSentTwiceIsOneBin(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	d := wedge("One", p.site("Shed"))
	first := p.in("POST", "/bins", d, "Idempotency-Key", `"twice"`).want(201)
	second := p.in("POST", "/bins", d, "Idempotency-Key", `"twice"`).want(201)
	if string(first.Raw) != string(second.Raw) || second.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("%s after %s", second.Raw, first.Raw)
	}
	own := wedge("Two", d["site_id"].(string))
	own["id"] = uuid.NewString()
	p.in("POST", "/bins", own).want(201)
	p.in("POST", "/bins", own).want(201) // another key, the same bin
	own["name"] = "Three"
	p.in("POST", "/bins", own).refused(409, "id.taken", "/id")
	if n := len(p.in("GET", "/bins", nil).want(200).items()); n != 2 {
		t.Errorf("%d bins", n)
	}
}

func TestBinsAreListedByNameAndNarrowed(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	jon := p.with("keeper", "jon@lowfield.example")
	shed, barn := p.site("Shed"), p.site("Barn")
	var want []string
	for i := range 5 {
		d := wedge(fmt.Sprintf("Bin %d", i), shed)
		if i%2 == 1 {
			d["site_id"], d["keeper_ids"], d["status"] = barn, []string{jon.member, jon.member}, "resting"
		}
		want = append(want, p.in("POST", "/bins", d).want(201).text("id"))
	}
	if got := jon.pages("/bins", 2); !slices.Equal(got, want) {
		t.Errorf("paged %v, want %v", got, want)
	}
	odd := []string{want[1], want[3]}
	for _, q := range []string{"site_id=" + barn, "status=resting", "keeper_id=" + jon.member} {
		if got := p.pages("/bins?"+q, 1); !slices.Equal(got, odd) {
			t.Errorf("%s: %v, want %v", q, got, odd)
		}
	}
	if got := p.in("GET", "/bins/"+want[1], nil).want(200).Body["keeper_ids"]; fmt.Sprint(got) != "["+jon.member+"]" {
		t.Errorf("kept by %v", got)
	}
}

func TestAKeeperChangesOnlyTheirOwnBins(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	jon := p.with("keeper", "jon@lowfield.example")
	mine, other := p.bin("One", jon.member).text("id"), p.bin("Two").text("id")
	changed := jon.in("PATCH", "/bins/"+mine, doc{"status": "resting", "note": "Too warm.", "shape": doc{"kind": "box", "depth_mm": 400},
		"set_up": doc{"grit_added": true}}, "If-Match", `"1"`).want(200)
	shape := changed.Body["shape"].(map[string]any)
	if changed.text("status") != "resting" || changed.text("note") != "Too warm." || shape["depth_mm"] != float64(400) || shape["length_mm"] != float64(1200) {
		t.Errorf("changed to %s", changed.Raw)
	}
	if n := changed.grams("version"); n != 2 || changed.Header.Get("ETag") != `"2"` {
		t.Errorf("version %d, tag %s", n, changed.Header.Get("ETag"))
	}
	jon.in("PATCH", "/bins/"+mine, doc{"keeper_ids": []string{}}, "If-Match", `"2"`).refused(403, "bin.not_yours", "/keeper_ids")
	jon.in("PATCH", "/bins/"+other, doc{"note": "x"}, "If-Match", `"1"`).refused(403, "bin.not_yours", "")
	jon.in("POST", "/bins/"+other+"/sections", doc{"name": "end", "position": 1, "stage": "working"}).refused(403, "bin.not_yours", "")
	p.in("PATCH", "/bins/"+mine, doc{"note": nil}, "If-Match", `"1"`).refused(412, "version.stale", "")
	p.in("PATCH", "/bins/"+mine, doc{"note": nil}).refused(428, "version.missing", "If-Match")
	cleared := p.in("PATCH", "/bins/"+mine, doc{"note": nil, "keeper_ids": []string{p.member}}, "If-Match", `"2"`).want(200)
	if cleared.Body["note"] != nil || fmt.Sprint(cleared.Body["keeper_ids"]) != "["+p.member+"]" {
		t.Errorf("cleared to %s", cleared.Raw)
	}
	p.in("PATCH", "/bins/"+mine, doc{"status": "closed"}, "If-Match", `"3"`).want(200) // no worms: it may close
}

func TestAnotherGardensBinsAreNotThere(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	bin := p.bin("One").text("id")
	section := p.sections(bin)[0]["id"].(string)
	stranger.in("GET", "/bins/"+bin, nil).refused(404, "bin.not_found", "")
	stranger.in("PATCH", "/bins/"+bin, doc{"note": "x"}, "If-Match", `"1"`).refused(404, "bin.not_found", "")
	stranger.in("GET", "/bins/"+bin+"/sections", nil).refused(404, "bin.not_found", "")
	stranger.in("POST", "/bins/"+bin+"/sections", doc{"name": "end", "position": 1, "stage": "working"}).refused(404, "bin.not_found", "")
	stranger.in("PATCH", "/bins/"+bin+"/sections/"+section, doc{"name": "x"}, "If-Match", `"1"`).refused(404, "bin.not_found", "")
	p.in("PATCH", "/bins/"+bin+"/sections/"+uuid.NewString(), doc{"name": "x"}, "If-Match", `"1"`).refused(404, "section.not_found", "")
}

func TestAWedgeHasOneFeedingSection(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	bin := p.bin("One").text("id")
	at := "/bins/" + bin + "/sections"
	face := p.sections(bin)[0]["id"].(string)
	second := doc{"name": "new face", "position": 1, "stage": "feeding"}
	p.in("POST", at, second).refused(409, "section.taken", "/stage")
	p.in("PATCH", at+"/"+face, doc{"stage": "working"}, "If-Match", `"1"`).want(200)
	made := p.in("POST", at, second, "Idempotency-Key", `"face"`).want(201)
	again := p.in("POST", at, second, "Idempotency-Key", `"face"`).want(201)
	if made.text("id") != again.text("id") || made.Header.Get("Location") != "/v1/gardens/"+p.garden+at+"/"+made.text("id") {
		t.Errorf("%s after %s at %s", again.Raw, made.Raw, made.Header.Get("Location"))
	}
	p.in("PATCH", at+"/"+face, doc{"stage": "feeding"}, "If-Match", `"2"`).refused(409, "section.stage", "/stage")
	p.in("PATCH", at+"/"+face, doc{"stage": "maturing", "name": "start", "position": 0}, "If-Match", `"2"`).want(200)
	p.in("PATCH", at+"/"+face, doc{"stage": "working"}, "If-Match", `"3"`).refused(409, "section.stage", "/stage")
	p.in("PATCH", at+"/"+face, doc{"name": "x"}, "If-Match", `"2"`).refused(412, "version.stale", "")
	if got := p.pages(at, 1); !slices.Equal(got, []string{face, made.text("id")}) {
		t.Errorf("in order %v", got)
	}
}

func TestABatchBinAndATrayStackHaveOnlySoManySections(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	shed := p.site("Shed")
	batch := wedge("Batch", shed)
	batch["method"] = "batch"
	id := p.in("POST", "/bins", batch).want(201).text("id")
	p.in("POST", "/bins/"+id+"/sections", doc{"name": "more", "position": 1, "stage": "working"}).refused(409, "section.full", "")
	trays := doc{"name": "Trays", "site_id": shed, "method": "stacked_trays", "drained": true, "species": "eisenia",
		"shape": doc{"kind": "stack", "length_mm": 400, "width_mm": 400, "depth_mm": 150, "count": 2}}
	id = p.in("POST", "/bins", trays).want(201).text("id")
	at := "/bins/" + id + "/sections"
	p.in("PATCH", at+"/"+p.sections(id)[0]["id"].(string), doc{"stage": "working"}, "If-Match", `"1"`).want(200)
	p.in("POST", at, doc{"name": "tray 2", "position": 1, "stage": "feeding"}).want(201)
	p.in("POST", at, doc{"name": "tray 3", "position": 2, "stage": "working"}).refused(409, "section.full", "")
}
