package httpapi

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var lureStages = []farm.Stage{farm.Finished, farm.Feeding}

// wormy is a bed with 2 kg of worms in its finished section.
func (p *person) wormy(keepers ...string) bed {
	p.t.Helper()
	b := p.newBed(farm.Wedge, farm.BinSetUp, lureStages, keepers...)
	p.in("POST", "/worm-transfers", doc{"from": doc{"outside": "Fenwick plot"}, "to": b.at(0), "worms": live("2000"), "reason": "gift"}).want(201)
	return b
}

func TestWormsAreLuredToTheFeedingEndStepByStep(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.wormy()
	p.lies(b.id, b.sections[0], "bread", 500, "2026-09-18")
	lure := p.in("POST", "/bins/"+b.id+"/lures", doc{"section_id": b.sections[0]}, "Idempotency-Key", `"lure"`).want(201)
	p.in("POST", "/bins/"+b.id+"/lures", doc{"section_id": b.sections[0]}, "Idempotency-Key", `"lure"`).want(201)
	if lure.text("unfed_since") != "2026-09-18" || lure.text("next_step") != "dust on or after 2026-10-02, by 2026-10-16" {
		t.Errorf("begun %s", lure.Raw)
	}
	at := "/lures/" + lure.text("id") + "/steps"
	dusted := p.in("POST", at, doc{"kind": "dusted", "dusting": doc{"value": "30", "unit": "g"}}).want(201)
	if dusted.text("state") != "dusted" || dusted.text("next_step") != "look from 2026-10-07 to 2026-10-09" {
		t.Errorf("dusted %s", dusted.Raw)
	}
	p.at(noon.AddDate(0, 0, 3))
	p.token = p.signIn("maren@lowfield.example").token
	p.in("POST", at, doc{"kind": "looked", "note": "Many under the crumbs."}).want(201)
	lift := doc{"kind": "lifted", "worms": live("600"), "to_section_id": b.sections[1]}
	lifted := p.in("POST", at, lift, "Idempotency-Key", `"lift"`).want(201)
	p.in("POST", at, lift, "Idempotency-Key", `"lift"`).want(201)
	if lifted.text("state") != "waiting" || len(lifted.Body["steps"].([]any)) != 3 {
		t.Errorf("lifted %s", lifted.Raw)
	}
	moves := p.in("GET", "/worm-transfers?bin_id="+b.id, nil).want(200).items()
	step := lifted.Body["steps"].([]any)[2].(map[string]any)
	if len(moves) != 2 || moves[0]["reason"] != "lure" || moves[0]["mass_g"] != float64(600) || moves[0]["id"] != step["worm_transfer_id"] {
		t.Errorf("worms moved %v", moves)
	}
	p.in("POST", at, doc{"kind": "dusted"}).want(201)
	ended := p.in("POST", at, doc{"kind": "ended"}).want(201)
	if ended.text("state") != "ended" || ended.text("next_step") != "take leftover grain off before the harvest" {
		t.Errorf("ended %s", ended.Raw)
	}
	p.in("POST", at, doc{"kind": "dusted"}).refused(409, "lure.state", "/kind")
	p.in("POST", "/bins/"+b.id+"/lures", doc{"section_id": b.sections[0]}).want(201) // another may begin
}

func TestALiftThatTheBooksRefuseLeavesTheLureAsItWas(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	b := p.newBed(farm.Wedge, farm.BinInUse, lureStages)
	at := "/lures/" + p.in("POST", "/bins/"+b.id+"/lures", doc{"section_id": b.sections[0]}).want(201).text("id") + "/steps"
	p.in("POST", at, doc{"kind": "dusted"}).want(201)
	p.in("POST", at, doc{"kind": "lifted", "worms": live("600"), "to_section_id": b.sections[1]}).refused(409, "worms.none", "")
	got := p.in("GET", "/lures?state=dusted", nil).want(200).items()
	if len(got) != 1 || len(got[0]["steps"].([]any)) != 1 {
		t.Errorf("after the refusal %v", got)
	}
}

func TestALureThatCannotBeIsRefused(t *testing.T) {
	e := newEdge(t)
	p, stranger := e.newGarden("maren@lowfield.example"), e.newGarden("tove@hillside.example")
	jon := p.with("keeper", "jon@lowfield.example")
	b, other := p.wormy(), p.newBed(farm.Wedge, farm.BinInUse, lureStages)
	at := "/bins/" + b.id + "/lures"
	begin := doc{"section_id": b.sections[0]}
	p.in("POST", at, doc{"section_id": b.sections[1]}).refused(409, "section.stage", "/section_id")
	p.in("POST", at, doc{"section_id": other.sections[0]}).refused(404, "section.not_found", "/section_id")
	p.in("POST", at, doc{"section_id": b.sections[0], "unfed_since": "2026-10-06"}).refused(422, "lure.invalid", "/unfed_since")
	jon.in("POST", at, begin).refused(403, "bin.not_yours", "")
	p.with("donor", "ines@lowfield.example").in("POST", at, begin).refused(403, "role.forbidden", "")
	stranger.in("POST", at, begin).refused(404, "bin.not_found", "")
	steps := "/lures/" + p.in("POST", at, begin).want(201).text("id") + "/steps"
	p.in("POST", at, begin).refused(409, "lure.exists", "/section_id")

	p.in("POST", steps, doc{"kind": "looked"}).refused(409, "lure.state", "/kind")
	p.in("POST", steps, doc{"kind": "dusted", "dusting": doc{"value": "6", "unit": "kg"}}).refused(422, "lure.invalid", "/dusting")
	p.in("POST", steps, doc{"kind": "dusted", "to_section_id": b.sections[1]}).refused(422, "lure.invalid", "/to_section_id")
	p.in("POST", steps, doc{"kind": "dusted", "occurred_at": "2026-10-04T12:00:00Z"}).refused(422, "lure.invalid", "/occurred_at")
	jon.in("POST", steps, doc{"kind": "dusted"}).refused(403, "bin.not_yours", "")
	stranger.in("POST", steps, doc{"kind": "dusted"}).refused(404, "lure.not_found", "")
	p.in("POST", "/lures/"+uuid.NewString()+"/steps", doc{"kind": "dusted"}).refused(404, "lure.not_found", "")
	p.in("POST", steps, doc{"kind": "dusted"}).want(201)
	p.in("POST", steps, doc{"kind": "lifted"}).refused(422, "lure.invalid", "/worms")
	p.in("POST", steps, doc{"kind": "lifted", "worms": live("1"), "to_section_id": b.sections[0]}).refused(409, "section.stage", "/to_section_id")
	p.in("POST", steps, doc{"kind": "lifted", "worms": live("1"), "to_section_id": other.sections[1]}).refused(404, "section.not_found", "/to_section_id")
}

func TestLuresAreListedNewestFirst(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	var want []string
	for i := range 3 {
		b := p.newBed(farm.Wedge, farm.BinInUse, lureStages)
		at := noon.Add(-time.Duration(i) * time.Hour).Format(time.RFC3339)
		want = append(want, p.in("POST", "/bins/"+b.id+"/lures", doc{"section_id": b.sections[0], "occurred_at": at}).want(201).text("id"))
	}
	if got := p.pages("/lures", 2); !slices.Equal(got, want) {
		t.Errorf("paged %v, want %v", got, want)
	}
	if got := p.pages("/lures?state=ended", 2); len(got) != 0 {
		t.Errorf("ended %v", got)
	}
}
