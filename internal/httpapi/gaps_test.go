package httpapi

import (
	"net/http"
	"testing"
)

func TestShiftsAndBinsWithoutCoverShowFourteenDaysAhead(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "rui@lowfield.example")
	kept, orphan := p.bin("North", keeper.member), p.bin("South")
	open, full := p.shift("host", "2026-10-18", 1), p.shift("bedding", "2026-10-08", 1)
	p.shift("host", "2026-10-19", 1) // beyond the fourteen days
	donor.in("POST", "/shifts/"+full.text("id")+"/moves", doc{"move": "claim"}).want(200)
	keeper.in("PUT", "/members/"+keeper.member+"/availability", doc{"weekdays": []string{"monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"},
		"exceptions": []doc{{"day": "2026-10-10", "available": false}, {"day": "2026-10-11", "available": false}}}, "If-Match", `"0"`).want(200)

	got := keeper.in("GET", "/gaps", nil).want(http.StatusOK)
	if got.text("from") != "2026-10-05" || got.text("to") != "2026-10-19" {
		t.Errorf("looked at %s to %s", got.text("from"), got.text("to"))
	}
	if l := got.list("open_shifts"); len(l) != 1 || l[0]["id"] != open.text("id") || l[0]["state"] != "open" {
		t.Errorf("open shifts %v", l)
	}
	want := map[any]string{kept.text("id"): "2026-10-10 2026-10-12 its only keeper is away", orphan.text("id"): "2026-10-05 2026-10-19 it has no keeper"}
	l := got.list("uncovered_bins")
	for _, b := range l {
		if is := b["from"].(string) + " " + b["to"].(string) + " " + b["why"].(string); is != want[b["bin_id"]] {
			t.Errorf("bin %v: %q, want %q", b["bin_id"], is, want[b["bin_id"]])
		}
	}
	if len(l) != len(want) {
		t.Errorf("%d bins without cover, want %d", len(l), len(want))
	}

	keeper.in("POST", "/covers", doc{"keeper_member_id": keeper.member, "stand_in_member_id": p.member, "from": "2026-10-10", "to": "2026-10-12"}).want(201)
	if l := p.in("GET", "/gaps", nil).want(200).list("uncovered_bins"); len(l) != 1 || l[0]["bin_id"] != orphan.text("id") {
		t.Errorf("with a stand-in there is still %v", l)
	}
	donor.in("GET", "/gaps", nil).refused(403, "role.forbidden", "")
}

// list is a list member of the answer.
func (a *answer) list(name string) []map[string]any {
	a.t.Helper()
	list, ok := a.Body[name].([]any)
	if !ok {
		a.t.Fatalf("%s: no list %q in %s", a.what, name, a.Raw)
	}
	out := make([]map[string]any, len(list))
	for i := range list {
		out[i], _ = list[i].(map[string]any)
	}
	return out
}
