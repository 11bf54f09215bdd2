package httpapi

import (
	"context"
	"net/http"
	"sync"
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/service"
	"midden/internal/store"
)

// bed is a bin for the tests of worms and castings: its sections by position.
type bed struct {
	id       string
	sections []string
}

// newBed puts a bin of a method and status into the garden, with sections of
// the stages named, kept by the members named.
func (p *person) newBed(method farm.Method, status farm.BinStatus, stages []farm.Stage, keepers ...string) bed {
	p.t.Helper()
	site := p.in("POST", "/sites", doc{"name": "Shed " + uuid.NewString(), "kind": "shed"}).want(201).text("id")
	b := farm.Bin{ID: uuid.Must(uuid.NewV7()), SiteID: uuid.MustParse(site), Method: method, Ventilation: farm.AirHoles,
		Shape:   farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 500},
		Species: farm.Eisenia, Status: status, CreatedAt: p.now(), Version: 1}
	if method == farm.Trays {
		b.Shape.Kind, b.Shape.Count = farm.Stack, 4
	}
	b.Name = "Bin " + b.ID.String()
	for _, k := range keepers {
		b.Keepers = append(b.Keepers, uuid.MustParse(k))
	}
	out := bed{id: b.ID.String()}
	err := p.svc.Store().InTx(context.Background(), store.Scope{Garden: uuid.MustParse(p.garden)}, func(tx *store.Tx) error {
		tx.InsertBin(b, [32]byte{})
		for i, stage := range stages {
			s := farm.Section{ID: uuid.Must(uuid.NewV7()), BinID: b.ID, Name: string(stage), Position: i, Stage: stage, CreatedAt: p.now()}
			tx.InsertSection(s, [32]byte{})
			out.sections = append(out.sections, s.ID.String())
		}
		return nil
	})
	if err != nil {
		p.t.Fatal(err)
	}
	return out
}

var oneFeeding = []farm.Stage{farm.Feeding}

func (b bed) at(i int) doc { return doc{"bin_id": b.id, "section_id": b.sections[i]} }

func live(grams string) doc {
	return doc{"method": "weighed", "live_mass": doc{"value": grams, "unit": "g"}}
}

func outside(who string) doc { return doc{"outside": who} }

// move records worms moved.
func (p *person) move(from, to, worms doc, more ...doc) *answer {
	p.t.Helper()
	body := doc{"from": from, "to": to, "worms": worms}
	for _, m := range more {
		for k, v := range m {
			body[k] = v
		}
	}
	return p.in("POST", "/worm-transfers", body)
}

// sound fails the test when the garden's ledger does not agree with itself.
func (p *person) sound() {
	p.t.Helper()
	faults, err := p.svc.Store().CheckLedger(context.Background(), uuid.MustParse(p.garden))
	if err != nil {
		p.t.Fatal(err)
	}
	for _, f := range faults {
		p.t.Error(f)
	}
}

// reverse undoes an entry.
func (p *person) reverse(entry string) {
	p.t.Helper()
	if _, err := p.svc.ReverseEntry(context.Background(), service.Actor{AccountID: p.account()}, uuid.MustParse(p.garden),
		uuid.MustParse(entry), service.Undo{Reason: "wrong bin"}, service.Once{}); err != nil {
		p.t.Fatal(err)
	}
}

// account is the person's account.
func (p *person) account() uuid.UUID {
	p.t.Helper()
	return uuid.MustParse(p.call("GET", "/v1/me", nil).want(200).text("account_id"))
}

func TestWormsMoveFromQuarantineToABinAndOn(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	q := p.newBed(farm.Batch, farm.BinQuarantine, oneFeeding)
	b := p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	in := p.move(outside("a neighbour's bin"), q.at(0), live("1000"), doc{"lost": doc{"value": "40", "unit": "g"}, "reason": "gift"}).want(201)
	if in.text("species") != "eisenia" || in.grams("mass_g") != 1000 || in.grams("found_g") != 0 || in.text("day") != "2026-10-05" {
		t.Errorf("came in as %s", in.Raw)
	}
	if want := "/v1/gardens/" + p.garden + "/worm-transfers/" + in.text("id"); in.Header.Get("Location") != want {
		t.Errorf("Location %q, want %q", in.Header.Get("Location"), want)
	}
	half := p.move(q.at(0), b.at(0), doc{"method": "share", "share_percent": 50}, doc{"reason": "split"}).want(201)
	if half.grams("mass_g") != 480 || half.grams("rel_sd_permille") != 400 {
		t.Errorf("half of 960 g is %s", half.Raw)
	}
	// A sample of 8 % in 2.5 kg of worm-rich bedding is 200 g.
	sampled := p.move(q.at(0), b.at(0), doc{"method": "sampled", "material_mass": doc{"value": "2.5", "unit": "kg"}, "worm_fraction_percent": 8}).want(201)
	if sampled.grams("mass_g") != 200 || sampled.text("reason") != "other" {
		t.Errorf("sampled %s", sampled.Raw)
	}
	// About 1000 worms of a mixed lot weigh a pound (extension guidance).
	counted := p.move(q.at(0), outside("the school's bin"), doc{"method": "counted", "count": 500}).want(201)
	if counted.grams("mass_g") != 227 {
		t.Errorf("500 worms weigh %s", counted.Raw)
	}
	if n := len(p.in("GET", "/worm-transfers?bin_id="+b.id, nil).want(200).items()); n != 2 {
		t.Errorf("%d transfers of the second bin", n)
	}
	if ids := p.pages("/worm-transfers", 3); len(ids) != 4 || ids[0] != counted.text("id") {
		t.Errorf("listed %v", ids)
	}
	p.sound()
}

func TestWormsBeyondTheBooksAreFoundWhenMeasured(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a, b := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding), p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	p.move(a.at(0), b.at(0), live("300")).refused(409, "worms.none", "/worms")
	p.move(outside("a breeder"), a.at(0), live("500")).want(201)
	p.move(a.at(0), b.at(0), doc{"method": "sampled", "material_mass": doc{"value": "10", "unit": "kg"}, "worm_fraction_percent": 8}).
		refused(409, "worms.none", "/worms")
	got := p.move(a.at(0), b.at(0), live("800")).want(201)
	if got.grams("found_g") != 300 {
		t.Errorf("found %s", got.Raw)
	}
	p.move(a.at(0), b.at(0), doc{"method": "share", "share_percent": 10}).refused(409, "worms.none", "/worms/share_percent")
	if got := p.move(a.at(0), b.at(0), doc{"method": "counted", "count": 100, "mean_worm_mg": 550}).want(201); got.grams("found_g") != 55 {
		t.Errorf("found %s", got.Raw)
	}
	p.move(a.at(0), b.at(0), live("10"), doc{"species": "perionyx"}).refused(409, "worms.none", "/worms")
	// Nothing was there before the first ones came.
	p.move(a.at(0), b.at(0), live("10"), doc{"occurred_at": "2026-10-03T09:00:00Z"}).refused(409, "worms.none", "/worms")
	p.sound()
}

func TestATransferThatMakesNoSenseIsRefused(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a, b := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding), p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	closed := p.newBed(farm.Batch, farm.BinClosed, oneFeeding)
	p.move(outside("a breeder"), a.at(0), live("500")).want(201)
	p.move(a.at(0), a.at(0), live("10")).refused(422, "transfer.same_section", "/to/section_id")
	p.move(outside("a breeder"), outside("a school"), live("10")).refused(422, "transfer.invalid", "/to/outside")
	p.move(outside("a breeder"), b.at(0), live("10")).refused(409, "transfer.quarantine", "/to/bin_id")
	p.move(a.at(0), closed.at(0), live("10")).refused(409, "bin.state", "/to/bin_id")
	p.move(a.at(0), doc{}, live("10")).refused(422, "transfer.invalid", "/to/bin_id")
	p.move(a.at(0), doc{"bin_id": b.id}, live("10")).refused(422, "transfer.invalid", "/to/section_id")
	p.move(a.at(0), doc{"bin_id": b.id, "section_id": closed.sections[0]}, live("10")).refused(404, "section.not_found", "/to/section_id")
	p.move(a.at(0), doc{"bin_id": b.id, "section_id": uuid.NewString()}, live("10")).refused(404, "section.not_found", "/to/section_id")
	p.move(a.at(0), doc{"bin_id": uuid.NewString(), "section_id": uuid.NewString()}, live("10")).refused(404, "bin.not_found", "/to/bin_id")
	p.move(a.at(0), b.at(0), live("0")).refused(422, "worms.invalid", "/worms/live_mass")
	p.move(a.at(0), b.at(0), doc{"method": "weighed"}).refused(422, "worms.invalid", "/worms/live_mass")
	p.move(a.at(0), b.at(0), doc{"method": "counted"}).refused(422, "worms.invalid", "/worms/count")
	p.move(a.at(0), b.at(0), doc{"method": "counted", "count": 3, "share_percent": 20}).refused(422, "worms.invalid", "/worms/share_percent")
	p.move(a.at(0), b.at(0), live("10"), doc{"lost": doc{"value": "11", "unit": "g"}}).refused(422, "transfer.invalid", "/lost")
	p.move(a.at(0), b.at(0), live("10"), doc{"bedding_along": doc{"method": "weighed"}}).refused(422, "mass.invalid", "/bedding_along/mass")
	p.move(a.at(0), b.at(0), live("10"), doc{"occurred_at": "2026-10-05T13:00:00Z"}).refused(422, "day.future", "/occurred_at")
	p.move(outside("a breeder"), a.at(0), doc{"method": "share", "share_percent": 20}).refused(422, "worms.invalid", "/worms/method")
	p.sound()
}

func TestAKeeperMovesWormsOnlyBetweenBinsInTheirCare(t *testing.T) {
	e := newEdge(t)
	p := e.newGarden("maren@lowfield.example")
	keeper, donor := p.with("keeper", "ines@lowfield.example"), p.with("donor", "bo@lowfield.example")
	mine := p.newBed(farm.Batch, farm.BinSetUp, []farm.Stage{farm.Feeding, farm.Finished}, keeper.member)
	other := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding)
	keeper.move(outside("a breeder"), mine.at(0), live("500")).want(201)
	keeper.move(mine.at(0), mine.at(1), live("100")).want(201)
	keeper.move(mine.at(0), other.at(0), live("100")).refused(403, "bin.not_yours", "")
	keeper.move(outside("a breeder"), other.at(0), live("100")).refused(403, "bin.not_yours", "")
	donor.move(mine.at(0), mine.at(1), live("1")).refused(403, "role.forbidden", "")
	donor.in("GET", "/worm-transfers", nil).refused(403, "role.forbidden", "")
	stranger := e.newGarden("tove@hillside.example")
	far := stranger.newBed(farm.Batch, farm.BinSetUp, oneFeeding)
	p.move(mine.at(0), far.at(0), live("1")).refused(404, "bin.not_found", "/to/bin_id")
	stranger.move(mine.at(0), far.at(0), live("1")).refused(404, "bin.not_found", "/from/bin_id")
	stranger.in("GET", "/bins/"+mine.id+"/lineage", nil).refused(404, "bin.not_found", "")
	if n := len(stranger.in("GET", "/worm-transfers", nil).want(200).items()); n != 0 {
		t.Errorf("a stranger sees %d transfers", n)
	}
}

func TestATransferSentTwiceCountsOnce(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding)
	body := doc{"id": uuid.NewString(), "from": outside("a breeder"), "to": a.at(0), "worms": live("500")}
	first := p.in("POST", "/worm-transfers", body, "Idempotency-Key", `"tap"`).want(201)
	replay := p.in("POST", "/worm-transfers", body, "Idempotency-Key", `"tap"`).want(201)
	if string(first.Raw) != string(replay.Raw) || replay.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("replayed %s", replay.Raw)
	}
	p.in("POST", "/worm-transfers", body).want(201) // the same thing under its own id
	body["worms"] = live("501")
	p.in("POST", "/worm-transfers", body).refused(409, "id.taken", "/id")
	if n := len(p.pages("/worm-transfers", 10)); n != 1 {
		t.Errorf("%d transfers", n)
	}
	p.sound()
}

func TestAPestIsTracedThroughTransfers(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	q := p.newBed(farm.Batch, farm.BinQuarantine, oneFeeding)
	a, b := p.newBed(farm.Batch, farm.BinInUse, oneFeeding), p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	on := func(day string) doc { return doc{"occurred_at": "2026-09-" + day + "T09:00:00Z"} }
	p.move(outside("a breeder"), q.at(0), live("900"), on("01")).want(201)
	p.move(q.at(0), a.at(0), live("500"), on("20")).want(201)
	onward := p.move(a.at(0), b.at(0), live("200"), on("22")).want(201)
	back := p.move(b.at(0), a.at(0), live("50"), on("23")).want(201)
	late := p.move(q.at(0), a.at(0), live("100"), on("25")).want(201) // after the worms of a went on to b

	steps := p.in("GET", "/bins/"+b.id+"/lineage?direction=back", nil).want(200).items()
	if len(steps) != 3 || steps[0]["transfer_id"] != onward.text("id") || steps[2]["outside"] != "a breeder" || steps[2]["depth"] != 3.0 {
		t.Errorf("back from b: %v", steps)
	}
	for _, s := range steps {
		if s["transfer_id"] == late.text("id") {
			t.Error("worms that came later are no ancestors")
		}
	}
	steps = p.in("GET", "/bins/"+q.id+"/lineage?direction=forward", nil).want(200).items()
	if len(steps) != 4 || steps[0]["depth"] != 1.0 || steps[3]["depth"] != 3.0 {
		t.Errorf("forward from quarantine: %v", steps)
	}
	p.reverse(back.text("entry_id"))
	p.reverse(onward.text("entry_id"))
	if steps = p.in("GET", "/bins/"+b.id+"/lineage", nil).want(200).items(); len(steps) != 0 {
		t.Errorf("a transfer that was undone is no way back: %v", steps)
	}
	p.in("GET", "/bins/"+uuid.NewString()+"/lineage", nil).refused(404, "bin.not_found", "")
}

func TestTheLastWormsLeaveASectionOnce(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a, b := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding), p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	p.move(outside("a breeder"), a.at(0), live("500"), doc{"occurred_at": "2026-10-01T09:00:00Z"}).want(201)
	sample := doc{"method": "sampled", "material_mass": doc{"value": "400", "unit": "g"}, "worm_fraction_percent": 100}
	var wait sync.WaitGroup
	got := make([]*answer, 4)
	for i := range got {
		wait.Go(func() { got[i] = p.move(a.at(0), b.at(0), sample) })
	}
	wait.Wait()
	made := 0
	for _, g := range got {
		switch g.Status {
		case http.StatusCreated:
			made++
		case http.StatusConflict:
			g.refused(409, "worms.none", "")
		default:
			t.Errorf("%d %s", g.Status, g.Raw)
		}
	}
	if made != 1 {
		t.Errorf("%d of 4 got the last worms", made)
	}
	// 100 g are left; a backdated sample may not take what left later.
	sample["material_mass"] = doc{"value": "150", "unit": "g"}
	p.move(a.at(0), b.at(0), sample, doc{"occurred_at": "2026-10-02T09:00:00Z"}).refused(409, "worms.none", "")
	// A weighed one shows that there were more: 50 g.
	if back := p.move(a.at(0), b.at(0), live("150"), doc{"occurred_at": "2026-10-02T09:00:00Z"}).want(201); back.grams("found_g") != 50 {
		t.Errorf("found %s", back.Raw)
	}
	p.sound()
}

func TestASectionWhereTheLastLookSawNoWormsGivesNone(t *testing.T) {
	p := newEdge(t).newGarden("maren@lowfield.example")
	a, b := p.newBed(farm.Batch, farm.BinSetUp, oneFeeding), p.newBed(farm.Batch, farm.BinInUse, oneFeeding)
	look := func(worms, at string) {
		p.in("POST", "/bins/"+a.id+"/checks", doc{"kind": "full", "occurred_at": at,
			"sections": []doc{{"section_id": a.sections[0], "worms": worms}}}).want(201)
	}
	p.move(outside("a breeder"), a.at(0), live("500"), doc{"occurred_at": "2026-10-01T09:00:00Z"}).want(201)
	look("none", "2026-10-03T09:00:00Z")
	p.move(a.at(0), b.at(0), live("100")).refused(409, "worms.none", "/worms")
	p.move(a.at(0), b.at(0), live("100"), doc{"occurred_at": "2026-10-02T09:00:00Z"}).want(201) // before the look
	look("few", "2026-10-04T09:00:00Z")                                                         // they were only deep down
	p.move(a.at(0), b.at(0), live("100")).want(201)
	look("none", "2026-10-05T09:00:00Z")
	p.move(outside("a breeder"), a.at(0), live("50"), doc{"occurred_at": "2026-10-05T10:00:00Z"}).want(201)
	p.move(a.at(0), b.at(0), live("40")).want(201) // they came after the look
	p.sound()
}
