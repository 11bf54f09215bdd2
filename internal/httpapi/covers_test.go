package httpapi

import (
	"testing"

	"github.com/google/uuid"
)

func TestAKeeperNamesAStandInForTheirOwnBinsAndACoordinatorForAnybodys(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	keeper, other := p.with("keeper", "ines@lowfield.example"), p.with("keeper", "joao@lowfield.example")
	donor := p.with("donor", "rui@lowfield.example")
	of := func(who, standIn *person, from, to string) doc {
		return doc{"keeper_member_id": who.member, "stand_in_member_id": standIn.member, "from": from, "to": to, "handover": "Bin 3 is wet."}
	}
	key := `"cover-once"`
	made := keeper.in("POST", "/covers", of(keeper, other, "2026-10-20", "2026-11-03"), "Idempotency-Key", key).want(201)
	again := keeper.in("POST", "/covers", of(keeper, other, "2026-10-20", "2026-11-03"), "Idempotency-Key", key).want(201)
	if made.text("id") != again.text("id") || again.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("retried as %s after %s", again.Raw, made.Raw)
	}
	p.in("POST", "/covers", of(other, p, "2026-10-10", "2026-10-12")).want(201)
	keeper.in("POST", "/covers", of(other, keeper, "2026-12-01", "2026-12-02")).refused(403, "role.forbidden", "/keeper_member_id")
	donor.in("POST", "/covers", of(keeper, other, "2026-12-01", "2026-12-02")).refused(403, "role.forbidden", "")
	keeper.in("POST", "/covers", of(keeper, other, "2026-11-02", "2026-11-05")).refused(409, "cover.taken", "/from")
	keeper.in("POST", "/covers", of(keeper, other, "2026-11-03", "2026-11-05")).want(201)
	keeper.in("POST", "/covers", of(keeper, keeper, "2026-12-01", "2026-12-02")).refused(422, "cover.invalid", "/stand_in_member_id")
	keeper.in("POST", "/covers", of(keeper, donor, "2026-12-01", "2026-12-02")).refused(422, "cover.invalid", "/stand_in_member_id")
	keeper.in("POST", "/covers", of(keeper, other, "2026-12-02", "2026-12-02")).refused(422, "cover.invalid", "/to")
	keeper.in("POST", "/covers", of(keeper, other, "2026-10-01", "2026-10-05")).refused(422, "cover.invalid", "/to")
	stranger := of(keeper, other, "2026-12-01", "2026-12-02")
	stranger["stand_in_member_id"] = uuid.NewString()
	keeper.in("POST", "/covers", stranger).refused(404, "member.not_found", "/stand_in_member_id")

	if ids := p.pages("/covers", 1); len(ids) != 3 {
		t.Errorf("listed %v", ids)
	}
	soonest := p.in("GET", "/covers", nil).want(200).items()
	if soonest[0]["from"] != "2026-10-10" || soonest[2]["from"] != "2026-11-03" {
		t.Errorf("listed %v", soonest)
	}
	if n := len(p.in("GET", "/covers?keeper_id="+keeper.member+"&from=2026-11-03&to=2026-11-04", nil).want(200).items()); n != 1 {
		t.Errorf("%d covers on that day", n)
	}
	donor.in("GET", "/covers", nil).refused(403, "role.forbidden", "")
}

func TestACoverIsChangedAtTheVersionThatWasRead(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	keeper, other := p.with("keeper", "ines@lowfield.example"), p.with("keeper", "joao@lowfield.example")
	made := keeper.in("POST", "/covers", doc{"keeper_member_id": keeper.member, "stand_in_member_id": other.member,
		"from": "2026-10-20", "to": "2026-11-03", "handover": "Bin 3 is wet."}).want(201)
	next := keeper.in("POST", "/covers", doc{"keeper_member_id": keeper.member, "stand_in_member_id": other.member,
		"from": "2026-11-10", "to": "2026-11-12"}).want(201)
	at, tag := "/covers/"+made.text("id"), made.Header.Get("ETag")
	got := keeper.in("PATCH", at, doc{"to": "2026-11-05", "handover": nil}, "If-Match", tag).want(200)
	if got.text("to") != "2026-11-05" || got.Body["handover"] != nil || got.grams("version") != 2 {
		t.Errorf("changed to %s", got.Raw)
	}
	keeper.in("PATCH", at, doc{"to": "2026-11-06"}, "If-Match", tag).refused(412, "version.stale", "")
	keeper.in("PATCH", at, doc{"to": "2026-11-06"}).refused(428, "version.missing", "If-Match")
	keeper.in("PATCH", at, doc{"to": "2026-11-11"}, "If-Match", `"2"`).refused(409, "cover.taken", "/from")
	other.in("PATCH", at, doc{"to": "2026-11-06"}, "If-Match", `"2"`).refused(403, "role.forbidden", "/keeper_member_id")
	keeper.in("PATCH", at, doc{"stand_in_member_id": p.member}, "If-Match", `"2"`).want(200)
	stranger.in("PATCH", "/covers/"+next.text("id"), doc{"to": "2026-11-13"}, "If-Match", `"1"`).refused(404, "cover.not_found", "")
}
