package httpapi

import "testing"

func TestHoursAreEnteredForOneselfOrForAnybodyByACoordinator(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	donor, keeper := p.with("donor", "rui@lowfield.example"), p.with("keeper", "ines@lowfield.example")
	observer := p.with("observer", "nuno@lowfield.example")
	work := doc{"minutes": 90, "work": "shredding cardboard", "occurred_at": "2026-10-04T23:30:00Z"}
	key := `"hours-once"`
	made := donor.in("POST", "/hours", work, "Idempotency-Key", key).want(201)
	again := donor.in("POST", "/hours", work, "Idempotency-Key", key).want(201)
	// Half past midnight in Lisbon, an hour ahead of UTC until late October.
	if made.text("member_id") != donor.member || made.text("day") != "2026-10-05" || made.text("id") != again.text("id") {
		t.Errorf("entered %s, then %s", made.Raw, again.Raw)
	}
	p.in("POST", "/hours", doc{"minutes": 30, "work": "sweeping", "member_id": keeper.member}).want(201)
	p.in("POST", "/hours", doc{"minutes": 20, "work": "sweeping", "member_id": donor.member}).want(201)
	donor.in("POST", "/hours", doc{"minutes": 30, "work": "sweeping", "member_id": keeper.member}).refused(403, "role.forbidden", "/member_id")
	p.in("POST", "/hours", doc{"minutes": 30, "work": "sweeping", "member_id": p.garden}).refused(404, "member.not_found", "/member_id")
	p.in("POST", "/hours", doc{"minutes": 0, "work": "sweeping"}).refused(400, "request.malformed", "/minutes")
	p.in("POST", "/hours", doc{"minutes": 5, "work": " sweeping"}).refused(422, "hours.invalid", "/work")
	p.in("POST", "/hours", doc{"minutes": 5, "work": "sweeping", "occurred_at": "2026-10-06T10:00:00Z"}).refused(422, "day.future", "/occurred_at")
	observer.in("GET", "/hours", nil).refused(403, "role.forbidden", "")
	if ids := keeper.pages("/hours", 2); len(ids) != 3 || ids[2] != made.text("id") {
		t.Errorf("a keeper sees %v", ids)
	}
	if ids := donor.pages("/hours", 1); len(ids) != 2 || ids[1] != made.text("id") {
		t.Errorf("a donor sees %v", ids)
	}
	for query, want := range map[string]int{"?member_id=" + keeper.member: 1, "?from=2026-10-05": 3, "?from=2026-10-06": 0, "?to=2026-10-05": 0} {
		if n := len(p.in("GET", "/hours"+query, nil).want(200).items()); n != want {
			t.Errorf("%s: %d, want %d", query, n, want)
		}
	}
	if n := len(donor.in("GET", "/hours?member_id="+keeper.member, nil).want(200).items()); n != 0 {
		t.Errorf("a donor sees %d of somebody else's", n)
	}
	if n := len(e.newGarden("tove@hillside.example").in("GET", "/hours", nil).want(200).items()); n != 0 {
		t.Errorf("another garden sees %d", n)
	}
}
