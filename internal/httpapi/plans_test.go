package httpapi

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"

	"midden/internal/planner"
)

// fortnight is a garden with one shed, one kept bin, aged bedding and scraps.
type fortnight struct {
	*person
	site, bin string
}

func newFortnight(t *testing.T) fortnight {
	t.Helper()
	p := newEdge(t).newGarden("maren@lowfield.example")
	f := fortnight{person: p, site: p.in("POST", "/sites", doc{"name": "Potting shed", "kind": "shed", "freezer_l": 100}).want(201).text("id")}
	f.bin = p.in("POST", "/bins", wedge("Bin 3", f.site, p.member)).want(201).text("id")
	card := p.in("POST", "/dry-bedding", doc{"material": "corrugated_cardboard", "site_id": f.site, "amount": weighed("60"),
		"occurred_at": "2026-09-08T09:00:00Z"}).want(201).text("id")
	batch := p.in("POST", "/bedding-batches", doc{"site_id": f.site, "water": doc{"value": "40", "unit": "L"},
		"parts": []doc{{"dry_bedding_id": card, "amount": weighed("40")}}, "occurred_at": "2026-09-10T09:00:00Z"}).want(201).text("id")
	p.in("POST", "/bedding-batches/"+batch+"/looks", doc{"temperature_c": 16, "room_c": 16, "squeeze": 3, "smell": "earth"}).want(201)
	return f
}

func (f fortnight) takeIn(material, kg string) string {
	f.t.Helper()
	return f.in("POST", "/lots", doc{"material": material, "site_id": f.site, "amount": weighed(kg), "verdict": "accepted"}).want(201).text("id")
}

func (f fortnight) plan(with ...any) *answer {
	f.t.Helper()
	d := doc{"days": 14, "expected_supply": false}
	for i := 0; i+1 < len(with); i += 2 {
		d[with[i].(string)] = with[i+1]
	}
	return f.in("POST", "/plans", d).want(201)
}

// tasks are a plan's tasks of some kinds; of all when none is named.
func (a *answer) tasks(kinds ...string) []map[string]any {
	a.t.Helper()
	var out []map[string]any
	for _, one := range a.Body["tasks"].([]any) {
		task := one.(map[string]any)
		if len(kinds) == 0 || strings.Contains(strings.Join(kinds, " "), task["kind"].(string)) {
			out = append(out, task)
		}
	}
	return out
}

func sumOf(tasks []map[string]any, field string) (g int64) {
	for _, t := range tasks {
		n, _ := t[field].(float64)
		g += int64(n)
	}
	return g
}

func (a *answer) total(name string) int64 {
	a.t.Helper()
	return int64(a.Body["totals"].(map[string]any)[name].(float64))
}

func TestEveryGramOfTheSupplyHasATask(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "3.217")
	f.takeIn("coffee_grounds", "2.5")
	f.takeIn("apples", "80")
	p := f.plan()
	went := sumOf(p.tasks("feed", "thaw_and_feed", "overflow", "turn_away"), "mass_g")
	if p.total("supply_g") != 85_717 || went+p.total("frozen_at_end_g") != 85_717 || p.total("fed_g") == 0 {
		t.Errorf("totals %v, tasks sum to %d", p.Body["totals"], went)
	}
	if got := sumOf(p.tasks("feed", "thaw_and_feed"), "mass_g"); got != p.total("fed_g") {
		t.Errorf("%d g in feedings, %d g in the totals", got, p.total("fed_g"))
	}
	if got := sumOf(p.tasks(), "bedding_g"); got != p.total("bedding_g") || got == 0 {
		t.Errorf("%d g of bedding in tasks, %d g in the totals", got, p.total("bedding_g"))
	}
	for _, task := range p.tasks("feed") {
		if task["bin_id"] != f.bin || task["section_id"] == nil || task["bedding_batch_id"] == nil || len(task["keeper_ids"].([]any)) != 1 {
			t.Errorf("task %v", task)
		}
		if !strings.Contains(task["why"].(string), "Bin 3") {
			t.Errorf("why: %v", task["why"])
		}
	}
	proof := p.Body["proof"].(map[string]any)
	if proof["proven_optimal"] != true || proof["value"] != proof["lower_bound"] || proof["engine"] != "flow-1" {
		t.Errorf("proof %v", proof)
	}
	got := f.in("GET", "/plans/"+p.text("id"), nil).want(200)
	if string(got.Raw) != string(p.Raw) {
		t.Errorf("reads back as\n%s\nafter\n%s", got.Raw, p.Raw)
	}
}

// Others can solve the problem again: its bytes have the digest that the plan
// states, and the planner's own check agrees with what was stored.
func TestTheProblemBehindAPlanCanBeSolvedAgain(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "6")
	p := f.plan()
	raw := f.in("GET", "/plans/"+p.text("id")+"/problem", nil).want(200).Raw
	sum := sha256.Sum256(raw)
	proof := p.Body["proof"].(map[string]any)
	if hex.EncodeToString(sum[:]) != proof["input_sha256"] {
		t.Errorf("the problem's digest is not %v", proof["input_sha256"])
	}
	problem, err := planner.Parse(raw)
	if err != nil {
		t.Fatal(err)
	}
	r, err := planner.Solve(t.Context(), problem, planner.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if float64(r.Value) != proof["value"] || r.Totals.Fed != p.total("fed_g") || problem.UnitG != 1 {
		t.Errorf("solved again: %d, fed %d; the plan says %v, %d", r.Value, r.Totals.Fed, proof["value"], p.total("fed_g"))
	}
	if problem.Lots[0].Label != "apples and cores" || problem.DayLabels[0] != "Monday 5 October" {
		t.Errorf("labels %q, %q", problem.Lots[0].Label, problem.DayLabels[0])
	}
}

func TestTheSameRecordsGiveTheSamePlan(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "12")
	f.takeIn("citrus_peel", "3")
	plain := func(a *answer) string {
		tasks := a.tasks()
		for _, task := range tasks {
			delete(task, "id")
		}
		b, err := json.Marshal([]any{tasks, a.Body["proof"], a.Body["totals"], a.Body["bindings"], a.Body["notes"]})
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if a, b := plain(f.plan()), plain(f.plan()); a != b {
		t.Errorf("two plans from the same records:\n%s\n%s", a, b)
	}
}

func TestARestingBinGetsNothing(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "5")
	rest := wedge("Bin 4", f.site, f.member)
	rest["status"] = "resting"
	f.in("POST", "/bins", rest).want(201)
	lone := f.in("POST", "/bins", wedge("Bin 5", f.site)).want(201).text("id")
	p := f.plan()
	for _, task := range p.tasks("feed", "thaw_and_feed") {
		if task["bin_id"] != f.bin {
			t.Errorf("a bin that rests or has no keeper is fed: %v", task)
		}
	}
	notes := fmt.Sprint(p.Body["notes"])
	if !strings.Contains(notes, "Bin 4 is resting") || !strings.Contains(notes, "Bin 5 has no keeper") {
		t.Errorf("notes %s (bin %s)", notes, lone)
	}
}

func TestAFeedingKeepsToTheGoEasyShares(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("citrus_peel", "30")
	f.takeIn("vegetable_trimmings", "30")
	p := f.plan("days", 7)
	problem, err := planner.Parse(f.in("GET", "/plans/"+p.text("id")+"/problem", nil).want(200).Raw)
	if err != nil {
		t.Fatal(err)
	}
	fed := map[string]int64{}
	for _, task := range p.tasks("feed") {
		if task["material"] == "citrus_peel" {
			fed[task["day"].(string)] += int64(task["mass_g"].(float64))
		}
	}
	if len(fed) == 0 {
		t.Fatal("no citrus is fed at all")
	}
	// "Limit citrus": Cornell Composting, USDA; a tenth of a feeding is common practice, no source.
	for i, room := range problem.Bins[0].Room {
		day := fmt.Sprintf("2026-10-%02d", 5+i)
		if fed[day] > room/10 {
			t.Errorf("%s: %d g of citrus with room for %d g", day, fed[day], room)
		}
	}
}

func TestAPlanIsPublishedUnlessTheRecordsMovedOn(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "5")
	f.in("GET", "/published-plan", nil).refused(404, "plan.not_found", "")
	first, second := f.plan(), f.plan()
	done := f.in("POST", "/plans/"+first.text("id")+"/publication", nil).want(200)
	if done.text("state") != "published" || done.Body["published_at"] == nil {
		t.Errorf("published: %s", done.Raw)
	}
	again := f.in("POST", "/plans/"+first.text("id")+"/publication", nil).want(200)
	if again.text("published_at") != done.text("published_at") {
		t.Error("publishing the garden's plan again changed it")
	}
	f.in("POST", "/plans/"+second.text("id")+"/publication", nil).want(200)
	if got := f.in("GET", "/published-plan", nil).want(200); got.text("id") != second.text("id") || len(got.tasks()) != len(second.tasks()) {
		t.Errorf("the garden's plan is %s", got.Raw)
	}
	if got := f.in("GET", "/plans/"+first.text("id"), nil).want(200).text("state"); got != "replaced" {
		t.Errorf("the former plan is %s", got)
	}
	f.in("POST", "/plans/"+first.text("id")+"/publication", nil).refused(409, "plan.state", "")

	third := f.plan()
	f.takeIn("apples", "2")
	stale := f.in("POST", "/plans/"+third.text("id")+"/publication", nil).refused(409, "plan.stale", "")
	if !strings.Contains(stale.text("detail"), "1 lot or pledge") {
		t.Errorf("what changed: %s", stale.text("detail"))
	}
	if got := f.in("GET", "/published-plan", nil).want(200).text("id"); got != second.text("id") {
		t.Error("a stale plan replaced the garden's")
	}
}

func TestOfPlansPublishedAtOnceExactlyOneIsTheGardens(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "5")
	var ids []string
	for range 4 {
		ids = append(ids, f.plan().text("id"))
	}
	var wg sync.WaitGroup
	status := make([]int, len(ids))
	for i, id := range ids {
		wg.Go(func() { status[i] = f.in("POST", "/plans/"+id+"/publication", nil).Status })
	}
	wg.Wait()
	for i, s := range status {
		if s != 200 && s != 409 {
			t.Errorf("publication %d: status %d", i, s)
		}
	}
	if got := f.pages("/plans?state=published", 10); len(got) != 1 {
		t.Errorf("published: %v", got)
	}
}

func TestAPlanIsForThoseWhoCareForBins(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "5")
	made := f.plan()
	keeper, donor := f.with("keeper", "ines@lowfield.example"), f.with("donor", "teo@lowfield.example")
	keeper.in("POST", "/plans", doc{"days": 7}).want(201)
	keeper.in("GET", "/plans/"+made.text("id"), nil).want(200)
	keeper.in("POST", "/plans/"+made.text("id")+"/publication", nil).refused(403, "role.forbidden", "")
	for _, path := range []string{"/plans", "/plans/" + made.text("id"), "/plans/" + made.text("id") + "/problem", "/published-plan"} {
		donor.in("GET", path, nil).refused(403, "role.forbidden", "")
	}
	donor.in("POST", "/plans", doc{"days": 7}).refused(403, "role.forbidden", "")
	f.in("GET", "/plans/"+uuid.NewString(), nil).refused(404, "plan.not_found", "")
	other := f.newGarden("elsewhere@lowfield.example")
	other.in("GET", "/plans/"+made.text("id"), nil).refused(404, "plan.not_found", "")
	other.in("GET", "/plans/"+made.text("id")+"/problem", nil).refused(404, "plan.not_found", "")
	other.in("POST", "/plans/"+made.text("id")+"/publication", nil).refused(404, "plan.not_found", "")
	other.garden = f.garden
	other.in("POST", "/plans", doc{"days": 7}).refused(404, "garden.not_found", "")
}

// From the table to the bin: scraps come in, a plan is worked out and
// published, a keeper feeds what it says, and the task shows that it was done.
func TestAFeedingDoesATaskOfTheGardensPlan(t *testing.T) {
	f := newFortnight(t)
	lot := f.takeIn("apples", "2")
	made := f.plan()
	f.in("POST", "/plans/"+made.text("id")+"/publication", nil).want(200)
	task := made.tasks("feed")[0]
	if task["lot_id"] != lot || task["day"] != "2026-10-05" || task["done_by_feeding_id"] != nil {
		t.Fatalf("task %v", task)
	}
	feeding := doc{"bin_id": task["bin_id"], "section_id": task["section_id"], "plan_task_id": task["id"],
		"lots":    []doc{{"lot_id": lot, "amount": weighed(fmt.Sprintf("%.3f", task["mass_g"].(float64)/1000))}},
		"bedding": []doc{{"bedding_batch_id": task["bedding_batch_id"], "amount": weighed(fmt.Sprintf("%.3f", task["bedding_g"].(float64)/1000))}}}
	fed := f.in("POST", "/feedings", feeding).want(201)
	done := f.in("GET", "/published-plan", nil).want(200).tasks("feed")[0]
	if done["id"] != task["id"] || done["done_by_feeding_id"] != fed.text("id") || fed.grams("mass_g") != int64(task["mass_g"].(float64)) {
		t.Errorf("task %v after feeding %s", done, fed.Raw)
	}

	small := func(bin, section, task any) doc {
		return doc{"bin_id": bin, "section_id": section, "plan_task_id": task,
			"unrecorded": []doc{{"material": "apples", "amount": doc{"method": "estimate", "mass": doc{"value": "1", "unit": "kg"}}}}}
	}
	f.in("POST", "/feedings", small(f.bin, task["section_id"], uuid.NewString())).refused(404, "plan_task.not_found", "/plan_task_id")
	other := f.in("POST", "/bins", wedge("Bin 4", f.site, f.member)).want(201).text("id")
	face := f.sections(other)[0]["id"]
	f.in("POST", "/feedings", small(other, face, task["id"])).refused(404, "plan_task.not_found", "/plan_task_id")

	f.in("POST", "/entries/"+fed.text("entry_id")+"/reversal", doc{"reason": "Fed to the wrong bin."}).want(201)
	if undone := f.in("GET", "/plans/"+made.text("id"), nil).want(200).tasks("feed")[0]; undone["done_by_feeding_id"] != nil {
		t.Errorf("a task is done by a feeding that was undone: %v", undone)
	}
}

// What keepers record of a bin reaches its room: more worms eat more, and what
// was fed today and still lies there leaves less.
func TestABinsRecordsDecideItsRoom(t *testing.T) {
	f := newFortnight(t)
	face := f.sections(f.bin)[0]["id"]
	room := func() int64 {
		problem, err := planner.Parse(f.in("GET", "/plans/"+f.plan().text("id")+"/problem", nil).want(200).Raw)
		if err != nil {
			t.Fatal(err)
		}
		return problem.Bins[0].Room[0]
	}
	worms := func(grams string) {
		f.move(outside("a friend of the garden"), doc{"bin_id": f.bin, "section_id": face}, live(grams), doc{"reason": "gift"}).want(201)
	}
	now := f.in("GET", "/bins/"+f.bin, nil).want(200)
	f.in("PATCH", "/bins/"+f.bin, doc{"status": "being_set_up"}, "If-Match", now.Header.Get("ETag")).want(200)
	worms("500")
	few := room()
	worms("1500")
	many := room()
	f.in("POST", "/feedings", doc{"bin_id": f.bin, "section_id": face, "unrecorded": []doc{{"material": "apples",
		"amount": doc{"method": "estimate", "mass": doc{"value": "0.8", "unit": "kg"}}}}}).want(201)
	if fed := room(); few <= 0 || many <= few || fed >= many {
		t.Errorf("room with 0.5 kg of worms %d g, with 2 kg %d g, after a feeding %d g", few, many, fed)
	}
}

func TestPledgesAreReckonedWithOnTheirDay(t *testing.T) {
	f := newFortnight(t)
	pledge := f.in("POST", "/pledges", doc{"material": "apples", "site_id": f.site, "expected_on": "2026-10-08",
		"amount": doc{"method": "estimate", "mass": doc{"value": "1.5", "unit": "kg"}}}).want(201).text("id")
	p := f.plan()
	var mass int64
	for _, task := range p.tasks() {
		if task["pledge_id"] != pledge || task["lot_id"] != nil || task["day"].(string) < "2026-10-08" {
			t.Errorf("task %v", task)
		}
		if task["kind"] == "feed" {
			mass += int64(task["mass_g"].(float64))
		}
	}
	if mass == 0 || p.total("supply_g") != 1500 {
		t.Errorf("%d g of the pledge are fed; totals %v", mass, p.Body["totals"])
	}
	f.in("POST", "/plans/"+p.text("id")+"/publication", nil).want(200)
}

func TestAKeeperWhoIsAwayIsGivenNothingThatDay(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("vegetable_trimmings", "30")
	away := func(days ...string) []doc {
		var out []doc
		for _, d := range days {
			out = append(out, doc{"day": d, "available": false})
		}
		return out
	}
	who := "/members/" + f.member + "/availability"
	now := f.in("GET", who, nil).want(200)
	f.in("PUT", who, doc{"weekdays": []string{"monday", "thursday"}, "exceptions": away("2026-10-08")}, "If-Match", now.Header.Get("ETag")).want(200)
	days := map[any]bool{}
	for _, task := range f.plan().tasks("feed", "thaw_and_feed") {
		days[task["day"]] = true
	}
	if len(days) == 0 || days["2026-10-08"] {
		t.Errorf("feedings on %v", days)
	}
	for day := range days {
		if day != "2026-10-05" && day != "2026-10-12" && day != "2026-10-15" {
			t.Errorf("feedings on %v", day)
		}
	}
}

func TestAPlanLooksAheadOnly(t *testing.T) {
	f := newFortnight(t)
	f.in("POST", "/plans", doc{"days": 7, "from": "2026-10-04"}).refused(422, "plan.invalid", "/from")
	f.in("POST", "/plans", doc{"days": 7, "from": "2027-10-04"}).refused(422, "plan.invalid", "/from")
	p := f.plan("from", "2026-10-08", "days", 3)
	if p.text("from") != "2026-10-08" || len(p.tasks()) != 0 {
		t.Errorf("plan %s", p.Raw)
	}
}

func TestAPlanAskedForTwiceIsMadeOnce(t *testing.T) {
	f := newFortnight(t)
	f.takeIn("apples", "5")
	key := `"` + uuid.NewString() + `"`
	a := f.in("POST", "/plans", doc{"days": 7}, "Idempotency-Key", key).want(201)
	b := f.in("POST", "/plans", doc{"days": 7}, "Idempotency-Key", key).want(201)
	if string(a.Raw) != string(b.Raw) || b.Header.Get("Idempotency-Replayed") != "true" {
		t.Error("the retry got another answer")
	}
	for range 2 {
		f.plan()
	}
	if got := f.pages("/plans", 2); len(got) != 3 {
		t.Errorf("%d plans, want 3", len(got))
	}
}
