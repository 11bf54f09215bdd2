package httpapi

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
)

// pledge is a promise of apples, changed by pairs of name and value.
func pledge(mass string, with ...any) doc {
	d := doc{"material": "apples", "amount": doc{"method": "estimate", "mass": kilos(mass)}}
	for i := 0; i+1 < len(with); i += 2 {
		d[with[i].(string)] = with[i+1]
	}
	return d
}

func (p *person) decide(id, decision string, with ...any) *answer {
	p.t.Helper()
	d := doc{"decision": decision}
	for i := 0; i+1 < len(with); i += 2 {
		d[with[i].(string)] = with[i+1]
	}
	return p.in("POST", "/pledges/"+id+"/decision", d)
}

func TestADonorPledgesForAWindow(t *testing.T) {
	p := newTable(t)
	donor := p.with("donor", "donor@lowfield.example")
	win := p.openWindow("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z", "capacity", kilos("40"))
	made := donor.in("POST", "/pledges", pledge("15", "window_id", win, "note", "Windfalls.")).want(201)
	for name, want := range map[string]any{"window_id": win, "expected_on": "2026-10-10", "site_id": p.site, "member_id": donor.member,
		"by_member_id": donor.member, "status": "offered", "mass_g": 15000.0, "day": "2026-10-05", "repeat_weeks": 1.0, "note": "Windfalls."} {
		if made.Body[name] != want {
			t.Errorf("%s is %v, want %v", name, made.Body[name], want)
		}
	}
	at := "/pledges/" + made.text("id")
	if made.Header.Get("Location") != "/v1/gardens/"+p.garden+at {
		t.Errorf("Location %q", made.Header.Get("Location"))
	}
	if read := donor.in("GET", at, nil).want(200); string(read.Raw) != string(made.Raw) {
		t.Errorf("made\n%s\nreads\n%s", made.Raw, read.Raw)
	}
	if got := p.in("GET", "/drop-off-windows/"+win, nil); got.grams("pledged_g") != 15000 {
		t.Errorf("the window has %d g pledged", got.grams("pledged_g"))
	}
	// A window that is moved takes its open pledges along.
	p.in("PATCH", "/drop-off-windows/"+win, doc{"status": "moved", "starts_at": "2026-10-11T09:00:00Z", "ends_at": "2026-10-11T11:00:00Z"}, "If-Match", `"1"`).want(200)
	if got := donor.in("GET", at, nil); got.text("expected_on") != "2026-10-11" {
		t.Errorf("expected on %s after the window moved", got.text("expected_on"))
	}
}

func TestNobodyPledgesForAWindowThatIsClosedFullOrOver(t *testing.T) {
	p := newTable(t)
	const from, to = "2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z"
	over := p.openWindow("2026-10-05T09:00:00Z", "2026-10-05T12:00:00Z") // it ends now
	closed, full := p.openWindow(from, to), p.openWindow(from, to)
	p.in("PATCH", "/drop-off-windows/"+closed, doc{"status": "closed"}, "If-Match", `"1"`).want(200)
	p.in("PATCH", "/drop-off-windows/"+full, doc{"status": "full"}, "If-Match", `"1"`).want(200)
	small := p.openWindow(from, to, "capacity", kilos("20"))
	p.in("POST", "/pledges", pledge("1", "window_id", over)).refused(409, "window.closed", "/window_id")
	p.in("POST", "/pledges", pledge("1", "window_id", closed)).refused(409, "window.closed", "/window_id")
	p.in("POST", "/pledges", pledge("1", "window_id", full)).refused(409, "window.full", "/window_id")
	first := p.in("POST", "/pledges", pledge("12", "window_id", small)).want(201).text("id")
	p.in("POST", "/pledges", pledge("8.001", "window_id", small)).refused(409, "window.full", "/window_id")
	p.in("POST", "/pledges", pledge("8", "window_id", small)).want(201)
	p.decide(first, "decline", "reason", "No room for apples this week.").want(200)
	p.in("POST", "/pledges", pledge("12", "window_id", small)).want(201)
	p.in("POST", "/pledges", pledge("1", "window_id", uuid.NewString())).refused(404, "window.not_found", "")
}

func TestAWindowIsNotPledgedBeyondItsCapacityAtOnce(t *testing.T) {
	p := newTable(t)
	win := p.openWindow("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z", "capacity", kilos("20"))
	answers := make([]*answer, 6)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i] = p.in("POST", "/pledges", pledge("8", "window_id", win)) })
	}
	wg.Wait()
	taken := 0
	for _, a := range answers {
		if a.Status == 201 {
			taken++
			continue
		}
		a.refused(409, "window.full", "/window_id")
	}
	if got := p.in("GET", "/drop-off-windows/"+win, nil).grams("pledged_g"); taken != 2 || got != 16000 {
		t.Errorf("%d pledges of 8 kg taken, %d g in all, by a window of 20 kg", taken, got)
	}
}

func TestAPledgeMayRepeatWeekByWeek(t *testing.T) {
	p := newTable(t)
	first := p.in("POST", "/pledges", pledge("3", "expected_on", "2026-10-20", "site_id", p.site, "repeat_weeks", 4)).want(201)
	list := p.in("GET", "/pledges", nil).want(200).items()
	var days []string
	for _, x := range list {
		days = append(days, x["expected_on"].(string))
		if x["series_id"] != first.text("id") || x["repeat_weeks"] != 4.0 || x["mass_g"] != 3000.0 {
			t.Errorf("one of the series is %v", x)
		}
	}
	// The clocks go back on 25 October in Lisbon; the weeks stay whole.
	slices.Sort(days)
	if want := []string{"2026-10-20", "2026-10-27", "2026-11-03", "2026-11-10"}; !slices.Equal(days, want) {
		t.Errorf("expected on %v, want %v", days, want)
	}
	// Each week is decided by itself.
	p.decide(first.text("id"), "withdraw").want(200)
	if n := len(p.in("GET", "/pledges?status=offered", nil).items()); n != 3 {
		t.Errorf("%d weeks still offered, want 3", n)
	}
	if n := len(p.in("GET", "/pledges?from=2026-10-27&to=2026-11-10", nil).items()); n != 2 {
		t.Errorf("%d expected from 27 October up to 9 November, want 2", n)
	}
}

func TestWhatCannotBeAPledgeIsRefusedAndNamed(t *testing.T) {
	p := newTable(t)
	win := p.openWindow("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z")
	donor := p.with("donor", "donor@lowfield.example")
	h := p.household("Plot nine")
	stranger := table{p.newGarden("tove@hillside.example"), ""}
	stranger.site = stranger.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	on := func(mass string, with ...any) doc {
		return pledge(mass, append([]any{"expected_on", "2026-10-10", "site_id", p.site}, with...)...)
	}
	for _, x := range []struct {
		what   string
		by     *person
		in     doc
		status int
		code   string
		field  string
	}{
		{"nowhere and never", p.person, pledge("1"), 422, "pledge.invalid", "/expected_on"},
		{"a day without a site", p.person, pledge("1", "expected_on", "2026-10-10"), 422, "pledge.invalid", "/site_id"},
		{"a window and a day", p.person, pledge("1", "window_id", win, "expected_on", "2026-10-10"), 422, "pledge.invalid", "/window_id"},
		{"a window week after week", p.person, pledge("1", "window_id", win, "repeat_weeks", 2), 422, "pledge.invalid", "/repeat_weeks"},
		{"yesterday", p.person, on("1", "expected_on", "2026-10-04"), 422, "pledge.invalid", "/expected_on"},
		{"in years", p.person, on("1", "expected_on", "2027-10-07"), 422, "pledge.invalid", "/expected_on"},
		{"for longer than a year", p.person, on("1", "repeat_weeks", 53), 400, "request.malformed", "/repeat_weeks"},
		{"nothing", p.person, on("0"), 422, "mass.invalid", "/amount/mass"},
		{"less than nothing", p.person, on("-1"), 400, "request.malformed", "/amount/mass/value"},
		{"more than two tonnes", p.person, on("2001"), 422, "mass.invalid", "/amount/mass"},
		{"moon cheese", p.person, on("1", "material", "moon_cheese"), 404, "material.not_found", "/material"},
		{"promised tomorrow", p.person, on("1", "occurred_at", "2026-10-06T12:00:00Z"), 422, "day.future", "/occurred_at"},
		{"at another garden's site", p.person, on("1", "site_id", stranger.site), 404, "site.not_found", "/site_id"},
		{"for another garden's household", p.person, on("1", "household_id", stranger.household("Plot one")), 404, "household.not_found", "/household_id"},
		{"at another garden's window", stranger.person, pledge("1", "window_id", win), 404, "window.not_found", ""},
		{"a donor for a household", donor, on("1", "household_id", h), 403, "role.forbidden", "/household_id"},
		{"an observer", p.with("observer", "observer@lowfield.example"), on("1"), 403, "role.forbidden", ""},
	} {
		t.Log(x.what)
		x.by.in("POST", "/pledges", x.in).refused(x.status, x.code, x.field)
	}
	got := p.with("keeper", "ola@lowfield.example").in("POST", "/pledges", on("1", "household_id", h)).want(201)
	if got.text("household_id") != h || got.Body["member_id"] != nil {
		t.Errorf("a keeper's note of a household's promise is %s", got.Raw)
	}
}

func TestAPledgeSentAgainIsMadeOnce(t *testing.T) {
	p := newTable(t)
	in := pledge("2", "id", uuid.NewString(), "expected_on", "2026-10-10", "site_id", p.site, "repeat_weeks", 3)
	first := p.in("POST", "/pledges", in, "Idempotency-Key", `"k"`).want(201)
	replay := p.in("POST", "/pledges", in, "Idempotency-Key", `"k"`).want(201)
	again := p.in("POST", "/pledges", in).want(201)
	if string(first.Raw) != string(replay.Raw) || string(first.Raw) != string(again.Raw) || replay.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("first %s, replay %s, again %s", first.Raw, replay.Raw, again.Raw)
	}
	in["note"] = "More."
	p.in("POST", "/pledges", in).refused(409, "pledge.exists", "/id")
	if n := len(p.in("GET", "/pledges", nil).items()); n != 3 {
		t.Errorf("%d pledges, want the three weeks once", n)
	}
}

func TestWhoMayDecideAPledge(t *testing.T) {
	p := newTable(t)
	keeper, donor, other := p.with("keeper", "ola@lowfield.example"), p.with("donor", "donor@lowfield.example"), p.with("donor", "other@lowfield.example")
	offer := func() string {
		return donor.in("POST", "/pledges", pledge("2", "expected_on", "2026-10-10", "site_id", p.site)).want(201).text("id")
	}
	id := offer()
	for _, d := range []string{"accept", "decline", "miss"} {
		donor.decide(id, d).refused(403, "role.forbidden", "/decision")
	}
	keeper.decide(id, "withdraw").refused(403, "role.forbidden", "/decision")
	for _, d := range []string{"accept", "decline", "withdraw", "miss"} {
		other.decide(id, d).refused(404, "pledge.not_found", "")
		p.newDecider(t).decide(id, d).refused(404, "pledge.not_found", "")
	}
	p.with("observer", "observer@lowfield.example").decide(id, "withdraw").refused(403, "role.forbidden", "")
	if got := keeper.decide(id, "accept").want(200); got.text("status") != "accepted" {
		t.Errorf("accepted as %s", got.Raw)
	}
	if got := donor.decide(id, "withdraw", "reason", "Frost.").want(200); got.text("status") != "withdrawn" || got.text("reason") != "Frost." {
		t.Errorf("withdrawn as %s", got.Raw)
	}
	for _, d := range []string{"accept", "decline", "withdraw", "miss"} {
		p.decide(id, d).refused(409, "pledge.state", "/decision")
	}
	p.decide(offer(), "withdraw").want(200) // the coordinator, for them
	accepted := offer()
	p.decide(accepted, "accept").want(200)
	p.decide(accepted, "accept").refused(409, "pledge.state", "/decision")
	keeper.decide(accepted, "decline").want(200)
	missed := offer()
	p.decide(missed, "miss").refused(422, "pledge.not_due", "/decision")
	p.at(time.Date(2026, 10, 10, 22, 59, 0, 0, time.UTC)) // still the 10th in Lisbon
	p.sameDay(t, keeper)
	keeper.decide(missed, "miss").refused(422, "pledge.not_due", "/decision")
	p.at(time.Date(2026, 10, 10, 23, 0, 0, 0, time.UTC)) // midnight in Lisbon
	p.sameDay(t, keeper)
	if got := keeper.decide(missed, "miss").want(200); got.text("status") != "missed" {
		t.Errorf("missed as %s", got.Raw)
	}
	p.decide(uuid.NewString(), "accept").refused(404, "pledge.not_found", "")
	p.decide(missed, "forget").refused(400, "request.malformed", "/decision")
}

// newDecider is a coordinator of a garden of their own.
func (p table) newDecider(t *testing.T) *person {
	t.Helper()
	return p.newGarden(fmt.Sprintf("%s@hillside.example", uuid.NewString()[:8]))
}

// sameDay signs a person in anew: access tokens do not outlive a moved clock.
func (p table) sameDay(t *testing.T, q *person) {
	t.Helper()
	q.token = p.signIn("ola@lowfield.example").token
	p.person.token = p.signIn("maren@lowfield.example").token
}

func TestADonorSeesTheirOwnPledges(t *testing.T) {
	p := newTable(t)
	donor, other := p.with("donor", "donor@lowfield.example"), p.with("donor", "other@lowfield.example")
	h := p.household("Plot nine")
	p.books(`UPDATE midden.memberships SET household_id = $1 WHERE garden_id = midden.garden() AND member_id = $2`, h, donor.member)
	on := []any{"expected_on", "2026-10-10", "site_id", p.site}
	mine := donor.in("POST", "/pledges", pledge("1", on...)).want(201).text("id")
	ours := p.in("POST", "/pledges", pledge("2", append(on, "household_id", h)...)).want(201).text("id")
	theirs := other.in("POST", "/pledges", pledge("3", on...)).want(201).text("id")
	sorted := func(ids ...string) []string { slices.Sort(ids); return ids }
	if got := sorted(donor.pages("/pledges", 1)...); !slices.Equal(got, sorted(mine, ours)) {
		t.Errorf("a donor sees %v, want %v", got, sorted(mine, ours))
	}
	if got := p.pages("/pledges", 2); len(got) != 3 {
		t.Errorf("the coordinator sees %v", got)
	}
	donor.in("GET", "/pledges/"+ours, nil).want(200)
	donor.in("GET", "/pledges/"+theirs, nil).refused(404, "pledge.not_found", "")
	p.in("GET", "/pledges/"+theirs, nil).want(200)
	p.newDecider(t).in("GET", "/pledges/"+mine, nil).refused(404, "pledge.not_found", "")
	p.with("observer", "observer@lowfield.example").in("GET", "/pledges", nil).refused(403, "role.forbidden", "")
}

func TestScrapsThatComeKeepThePledge(t *testing.T) {
	p := newTable(t)
	donor := p.with("donor", "donor@lowfield.example")
	win := p.openWindow("2026-10-05T12:00:00Z", "2026-10-05T14:00:00Z")
	id := donor.in("POST", "/pledges", pledge("5", "window_id", win)).want(201).text("id")
	p.in("POST", "/lots", p.lot(weighed("4"), "pledge_id", id, "member_id", p.member)).refused(422, "lot.invalid", "/pledge_id")
	p.in("POST", "/lots", p.lot(weighed("4"), "pledge_id", uuid.NewString())).refused(404, "pledge.not_found", "/pledge_id")
	lot := p.takeIn(weighed("4.2"), "pledge_id", id)
	if lot.text("member_id") != donor.member || lot.text("window_id") != win || lot.text("pledge_id") != id {
		t.Errorf("a lot that keeps a pledge takes its giver and window; got %s", lot.Raw)
	}
	if got := donor.in("GET", "/pledges/"+id, nil).want(200); got.text("status") != "kept" {
		t.Errorf("the pledge is %s", got.text("status"))
	}
	p.decide(id, "miss").refused(409, "pledge.state", "/decision")
	if got := p.in("GET", "/drop-off-windows/"+win, nil); got.grams("pledged_g") != 0 || got.grams("received_g") != 4200 {
		t.Errorf("the window is %s", got.Raw)
	}
	p.takeIn(weighed("1"), "pledge_id", id) // a second bucket of the same promise
	stranger := table{p.newDecider(t), ""}
	stranger.site = stranger.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	stranger.in("POST", "/lots", stranger.lot(weighed("1"), "pledge_id", id)).refused(404, "pledge.not_found", "/pledge_id")
	if strings.Contains(string(p.in("GET", "/lots", nil).Raw), stranger.site) {
		t.Error("another garden's lot is listed")
	}
}
