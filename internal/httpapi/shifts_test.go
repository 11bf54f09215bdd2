package httpapi

import (
	"testing"
	"time"
)

// shift adds a shift of a kind on a day, nine to eleven in UTC.
func (p *person) shift(kind, day string, places int) *answer {
	p.t.Helper()
	return p.in("POST", "/shifts", doc{"kind": kind, "site_id": p.shed(), "starts_at": day + "T09:00:00Z",
		"ends_at": day + "T11:00:00Z", "places": places}).want(201)
}

// shed is the garden's shed, made when it isn't there.
func (p *person) shed() string {
	p.t.Helper()
	for _, s := range p.in("GET", "/sites", nil).want(200).items() {
		if s["name"] == "Shed" {
			return s["id"].(string)
		}
	}
	return p.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
}

func (a *answer) claims() map[string]string {
	out := map[string]string{}
	for _, c := range a.Body["claims"].([]any) {
		m := c.(map[string]any)
		out[m["member_id"].(string)] = m["state"].(string)
	}
	return out
}

func TestAShiftIsClaimedUntilItsPlacesAreTaken(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a, b := p.with("donor", "rui@lowfield.example"), p.with("donor", "ana@lowfield.example")
	made := p.shift("bedding", "2026-10-10", 1)
	at := "/shifts/" + made.text("id")
	moves := at + "/moves"
	key := `"claim-once"`
	first := a.in("POST", moves, doc{"move": "claim"}, "Idempotency-Key", key).want(200)
	again := a.in("POST", moves, doc{"move": "claim"}, "Idempotency-Key", key).want(200)
	if first.text("state") != "claimed" || first.claims()[a.member] != "claimed" || string(first.Raw) != string(again.Raw) {
		t.Errorf("claimed %s, then %s", first.Raw, again.Raw)
	}
	a.in("POST", moves, doc{"move": "claim"}).refused(409, "claim.exists", "/member_id")
	b.in("POST", moves, doc{"move": "claim"}).refused(409, "shift.full", "/move")
	b.in("POST", moves, doc{"move": "release"}).refused(409, "claim.none", "/member_id")
	b.in("POST", moves, doc{"move": "release", "member_id": a.member}).refused(403, "role.forbidden", "/member_id")
	p.in("PATCH", at, doc{"kind": "wash_up"}, "If-Match", made.Header.Get("ETag")).refused(412, "version.stale", "")
	if got := a.in("POST", moves, doc{"move": "release", "reason": "Away that week."}).want(200); got.text("state") != "open" || got.claims()[a.member] != "released" {
		t.Errorf("released %s", got.Raw)
	}
	p.in("POST", moves, doc{"move": "claim", "member_id": b.member}).want(200)
	got := b.in("POST", moves, doc{"move": "swap", "to_member_id": a.member}).want(200)
	if c := got.claims(); c[a.member] != "claimed" || c[b.member] != "swapped" {
		t.Errorf("swapped %s", got.Raw)
	}
	a.in("POST", moves, doc{"move": "swap"}).refused(422, "shift.invalid", "/to_member_id")
	a.in("POST", moves, doc{"move": "done"}).refused(403, "role.forbidden", "/move")
	p.in("POST", moves, doc{"move": "done", "member_id": a.member}).refused(409, "shift.state", "/move")
	round := "/shifts/" + p.shift("keeper_round", "2026-10-11", 2).text("id") + "/moves"
	a.in("POST", round, doc{"move": "claim"}).refused(403, "role.forbidden", "/member_id")
	p.in("POST", round, doc{"move": "claim"}).want(200)
}

func TestAPastShiftCannotBeClaimedAndItsHostSaysWhatWasDone(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	host, helper := p.with("keeper", "ines@lowfield.example"), p.with("donor", "rui@lowfield.example")
	hosting, wash := p.shift("host", "2026-10-06", 1), p.shift("wash_up", "2026-10-06", 2)
	moves := "/shifts/" + wash.text("id") + "/moves"
	host.in("POST", "/shifts/"+hosting.text("id")+"/moves", doc{"move": "claim"}).want(200)
	helper.in("POST", moves, doc{"move": "claim"}).want(200)
	p.at(time.Date(2026, 10, 6, 12, 0, 0, 0, time.UTC))
	host, helper, p = p.signInAgain(host, "ines@lowfield.example"), p.signInAgain(helper, "rui@lowfield.example"), p.signInAgain(p, "maren@lowfield.example")
	host.in("POST", moves, doc{"move": "claim"}).refused(409, "shift.state", "/move")
	helper.in("POST", moves, doc{"move": "release"}).refused(409, "shift.state", "/move")
	helper.in("POST", moves, doc{"move": "done"}).refused(403, "role.forbidden", "/move")
	host.in("POST", moves, doc{"move": "missed", "member_id": helper.member}).want(200)
	got := host.in("POST", moves, doc{"move": "done", "member_id": helper.member}).want(200)
	if got.text("state") != "done" || got.claims()[helper.member] != "done" {
		t.Errorf("marked %s", got.Raw)
	}
	p.in("POST", moves, doc{"move": "done", "member_id": host.member}).refused(409, "claim.none", "/member_id")
	p.in("PATCH", "/shifts/"+wash.text("id"), doc{"cancelled": true}, "If-Match", `"4"`).refused(409, "shift.state", "/cancelled")
}

// signInAgain gives a person a fresh token after the clock has moved.
func (e *edge) signInAgain(p *person, email string) *person {
	e.t.Helper()
	q := e.signIn(email)
	q.garden, q.member = p.garden, p.member
	return q
}

func TestShiftsAreListedSoonestFirst(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	observer := p.with("observer", "nuno@lowfield.example")
	late, soon := p.shift("host", "2026-10-12", 2), p.shift("bedding", "2026-10-08", 2)
	if ids := p.pages("/shifts", 1); len(ids) != 2 || ids[0] != soon.text("id") || ids[1] != late.text("id") {
		t.Errorf("listed %v", ids)
	}
	got := p.in("PATCH", "/shifts/"+late.text("id"), doc{"cancelled": true, "note": "Storm."}, "If-Match", late.Header.Get("ETag")).want(200)
	if got.text("state") != "cancelled" || got.text("note") != "Storm." {
		t.Errorf("called off %s", got.Raw)
	}
	p.in("POST", "/shifts/"+late.text("id")+"/moves", doc{"move": "claim"}).refused(409, "shift.state", "/move")
	for query, want := range map[string]int{"?state=open": 1, "?state=cancelled": 1, "?kind=host": 1, "?from=2026-10-08&to=2026-10-12": 1, "?from=2026-10-13": 0, "?state=done": 0} {
		if n := len(p.in("GET", "/shifts"+query, nil).want(200).items()); n != want {
			t.Errorf("%s: %d shifts, want %d", query, n, want)
		}
	}
	observer.in("GET", "/shifts", nil).refused(403, "role.forbidden", "")
	stranger.in("GET", "/shifts/"+soon.text("id"), nil).refused(404, "shift.not_found", "")
	stranger.in("POST", "/shifts/"+soon.text("id")+"/moves", doc{"move": "claim"}).refused(404, "shift.not_found", "")
	p.in("POST", "/shifts", doc{"kind": "host", "site_id": p.shed(), "starts_at": "2026-10-08T09:00:00Z", "ends_at": "2026-10-08T09:00:00Z",
		"places": 1}).refused(422, "shift.invalid", "/ends_at")
	p.in("POST", "/shifts", doc{"kind": "host", "site_id": p.garden, "starts_at": "2026-10-08T09:00:00Z", "ends_at": "2026-10-08T10:00:00Z",
		"places": 1}).refused(404, "site.not_found", "/site_id")
}
