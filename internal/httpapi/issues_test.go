package httpapi

import (
	"testing"

	"github.com/google/uuid"
)

func TestIssuesAreRecordedAnsweredAndKept(t *testing.T) {
	for path, kinds := range map[string][2]string{"complaint": {"smell", "noise"}, "incident": {"spill", "pest"}, "official_visit": {"inspection", "advice"}} {
		t.Run(path, func(t *testing.T) { issuesAreKept(t, path, kinds) })
	}
}

func issuesAreKept(t *testing.T, class string, kinds [2]string) {
	at := "/" + map[string]string{"complaint": "complaints", "incident": "incidents", "official_visit": "official-visits"}[class]
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "rui@lowfield.example")
	key := `"issue-once"`
	in := doc{"kind": kinds[0], "what": "By the gate on Saturday evening.", "site_id": p.shed(), "occurred_at": "2026-10-03T18:00:00Z"}
	made := keeper.in("POST", at, in, "Idempotency-Key", key).want(201)
	again := keeper.in("POST", at, in, "Idempotency-Key", key).want(201)
	if string(made.Raw) != string(again.Raw) || made.text("day") != "2026-10-03" || made.text("by_member_id") != keeper.member {
		t.Errorf("recorded %s, then %s", made.Raw, again.Raw)
	}
	one := at + "/" + made.text("id")
	if made.Header.Get("Location") != "/v1/gardens/"+p.garden+one {
		t.Errorf("Location %q", made.Header.Get("Location"))
	}
	keeper.in("PATCH", one, doc{"closed_on": "2026-10-02"}, "If-Match", `"1"`).refused(422, class+".invalid", "/closed_on")
	keeper.in("PATCH", one, doc{"closed_on": "2026-10-06"}, "If-Match", `"1"`).refused(422, class+".invalid", "/closed_on")
	keeper.in("PATCH", one, doc{"bin_id": p.garden}, "If-Match", `"1"`).refused(404, "bin.not_found", "/bin_id")
	keeper.in("PATCH", one, doc{"action_by_member_id": p.garden}, "If-Match", `"1"`).refused(404, "member.not_found", "/action_by_member_id")
	got := keeper.in("PATCH", one, doc{"action": "Turned out the wet bin.", "action_by_member_id": p.member, "closed_on": "2026-10-05",
		"site_id": nil}, "If-Match", made.Header.Get("ETag")).want(200)
	if got.text("closed_on") != "2026-10-05" || got.Body["site_id"] != nil || got.Header.Get("ETag") != `"2"` {
		t.Errorf("answered %s", got.Raw)
	}
	keeper.in("PATCH", one, doc{"closed_on": nil}, "If-Match", `"1"`).refused(412, "version.stale", "")
	keeper.in("PATCH", one, doc{"closed_on": nil}).refused(428, "version.missing", "If-Match")
	if string(p.in("GET", one, nil).want(200).Raw) != string(got.Raw) {
		t.Error("shown otherwise than answered")
	}
	p.in("POST", at, doc{"kind": kinds[1], "what": "Again."}).want(201)
	p.in("POST", at, doc{"kind": "crater", "what": "Again."}).refused(400, "request.malformed", "/kind")
	p.in("POST", at, doc{"kind": kinds[1], "what": "Again.", "site_id": uuid.NewString()}).refused(404, "site.not_found", "/site_id")
	if ids := keeper.pages(at, 1); len(ids) != 2 || ids[1] != made.text("id") {
		t.Errorf("listed %v", ids)
	}
	for query, want := range map[string]int{"?open=true": 1, "?open=false": 1, "?from=2026-10-04": 1, "?to=2026-10-04": 1, "?to=2026-10-03": 0} {
		if n := len(p.in("GET", at+query, nil).want(200).items()); n != want {
			t.Errorf("%s: %d, want %d", query, n, want)
		}
	}
	donor.in("GET", at, nil).refused(403, "role.forbidden", "")
	donor.in("GET", one, nil).refused(403, "role.forbidden", "")
	donor.in("PATCH", one, doc{"closed_on": nil}, "If-Match", `"2"`).refused(403, "role.forbidden", "")
	if raise := donor.in("POST", at, doc{"kind": kinds[0], "what": "A smell."}); class == "official_visit" {
		raise.refused(403, "role.forbidden", "")
	} else {
		raise.want(201)
	}
	stranger.in("GET", one, nil).refused(404, class+".not_found", "")
	stranger.in("PATCH", one, doc{"closed_on": nil}, "If-Match", `"2"`).refused(404, class+".not_found", "")
}

func TestAnIncidentIsNotAComplaint(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	id := p.in("POST", "/incidents", doc{"kind": "other", "what": "A fall."}).want(201).text("id")
	p.in("GET", "/complaints/"+id, nil).refused(404, "complaint.not_found", "")
	p.in("POST", "/complaints", doc{"id": id, "kind": "other", "what": "A fall."}).refused(409, "id.taken", "/id")
	p.in("POST", "/incidents", doc{"id": id, "kind": "other", "what": "Another fall."}).refused(409, "incident.exists", "/id")
}
