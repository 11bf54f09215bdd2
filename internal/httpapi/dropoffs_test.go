package httpapi

import (
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/google/uuid"
)

func init() {
	openapi3filter.RegisterBodyDecoder("text/calendar", openapi3filter.PlainBodyDecoder)
}

// window is a request for a drop-off window, changed by pairs of name and value.
func (p table) window(starts, ends string, with ...any) doc {
	d := doc{"site_id": p.site, "starts_at": starts, "ends_at": ends}
	for i := 0; i+1 < len(with); i += 2 {
		d[with[i].(string)] = with[i+1]
	}
	return d
}

func (p table) openWindow(starts, ends string, with ...any) string {
	p.t.Helper()
	return p.in("POST", "/drop-off-windows", p.window(starts, ends, with...)).want(201).text("id")
}

func kilos(v string) doc { return doc{"value": v, "unit": "kg"} }

func TestACoordinatorOpensAWindowAndTheFloorChangesIt(t *testing.T) {
	p := newTable(t)
	in := p.window("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z", "host_member_id", p.member, "capacity", doc{"value": "100", "unit": "lb"}, "note", "Bring lids.")
	made := p.in("POST", "/drop-off-windows", in).want(201)
	at := "/drop-off-windows/" + made.text("id")
	// 100 lb = 45.359 237 kg (NIST Handbook 44, Appendix C).
	if made.grams("capacity_g") != 45359 || made.grams("pledged_g") != 0 || made.text("status") != "open" || made.Header.Get("Location") != "/v1/gardens/"+p.garden+at {
		t.Errorf("opened %s at %s", made.Raw, made.Header.Get("Location"))
	}
	if read := p.in("GET", at, nil).want(200); string(read.Raw) != string(made.Raw) {
		t.Errorf("made\n%s\nreads\n%s", made.Raw, read.Raw)
	}
	keeper := p.with("keeper", "ola@lowfield.example")
	full := keeper.in("PATCH", at, doc{"status": "full", "note": nil, "host_member_id": nil}, "If-Match", made.Header.Get("ETag")).want(200)
	if full.text("status") != "full" || full.Body["note"] != nil || full.Body["host_member_id"] != nil || full.grams("version") != 2 || full.grams("capacity_g") != 45359 {
		t.Errorf("filled %s", full.Raw)
	}
	keeper.in("PATCH", at, doc{"status": "open"}, "If-Match", made.Header.Get("ETag")).refused(412, "version.stale", "")
	keeper.in("PATCH", at, doc{"status": "open"}).refused(428, "version.missing", "If-Match")
	keeper.in("PATCH", at, doc{"status": "ajar"}, "If-Match", `"2"`).refused(400, "request.malformed", "/status")
	keeper.in("PATCH", at, doc{"ends_at": "2026-10-10T08:00:00Z"}, "If-Match", `"2"`).refused(422, "window.invalid", "/ends_at")
	keeper.in("PATCH", at, doc{"capacity": litres("10")}, "If-Match", `"2"`).refused(422, "window.invalid", "/capacity")
	keeper.in("PATCH", at, doc{"site_id": uuid.NewString()}, "If-Match", `"2"`).refused(404, "site.not_found", "/site_id")
	keeper.in("POST", "/drop-off-windows", in).refused(403, "role.forbidden", "")
	for _, role := range []string{"donor", "observer"} {
		q := p.with(role, role+"@lowfield.example")
		q.in("GET", at, nil).want(200)
		q.in("PATCH", at, doc{"status": "open"}, "If-Match", `"2"`).refused(403, "role.forbidden", "")
	}
}

func TestWhatCannotBeAWindowIsRefusedAndNamed(t *testing.T) {
	p := newTable(t)
	const from, to = "2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z"
	stranger := table{p.newGarden("tove@hillside.example"), ""}
	stranger.site = stranger.in("POST", "/sites", doc{"name": "Shed", "kind": "shed"}).want(201).text("id")
	for _, x := range []struct {
		in     doc
		status int
		code   string
		field  string
	}{
		{p.window(to, from), 422, "window.invalid", "/ends_at"},
		{p.window(from, from), 422, "window.invalid", "/ends_at"},
		{p.window(from, "2026-10-17T09:00:01Z"), 422, "window.invalid", "/ends_at"},
		{p.window("the tenth", to), 400, "request.malformed", "/starts_at"},
		{p.window(from, to, "capacity", kilos("0")), 422, "window.invalid", "/capacity"},
		{p.window(from, to, "capacity", litres("60")), 422, "window.invalid", "/capacity"},
		{p.window(from, to, "site_id", uuid.NewString()), 404, "site.not_found", "/site_id"},
		{p.window(from, to, "site_id", stranger.site), 404, "site.not_found", "/site_id"},
		{p.window(from, to, "host_member_id", stranger.member), 404, "member.not_found", "/host_member_id"},
	} {
		p.in("POST", "/drop-off-windows", x.in).refused(x.status, x.code, x.field)
	}
	id := p.openWindow(from, to)
	stranger.in("GET", "/drop-off-windows/"+id, nil).refused(404, "window.not_found", "")
	stranger.in("PATCH", "/drop-off-windows/"+id, doc{"status": "full"}, "If-Match", `"1"`).refused(404, "window.not_found", "")
	stranger.in("POST", "/lots", stranger.lot(weighed("1"), "window_id", id)).refused(404, "window.not_found", "/window_id")
}

func TestAWindowSentAgainIsOpenedOnce(t *testing.T) {
	p := newTable(t)
	in := p.window("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z", "id", uuid.NewString())
	first := p.in("POST", "/drop-off-windows", in, "Idempotency-Key", `"k"`).want(201)
	replay := p.in("POST", "/drop-off-windows", in, "Idempotency-Key", `"k"`).want(201)
	again := p.in("POST", "/drop-off-windows", in).want(201)
	if string(first.Raw) != string(replay.Raw) || string(first.Raw) != string(again.Raw) || replay.Header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("first %s, replay %s, again %s", first.Raw, replay.Raw, again.Raw)
	}
	in["note"] = "Another gate."
	p.in("POST", "/drop-off-windows", in).refused(409, "window.exists", "/id")
}

func TestWindowsAreListedSoonestFirst(t *testing.T) {
	p := newTable(t)
	other := p.in("POST", "/sites", doc{"name": "Basement", "kind": "basement"}).want(201).text("id")
	late := p.openWindow("2026-10-24T09:00:00Z", "2026-10-24T11:00:00Z")
	soon := p.openWindow("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z")
	// 23:30 UTC on the 16th is half past midnight on the 17th in Lisbon in summer.
	night := p.openWindow("2026-10-16T23:30:00Z", "2026-10-17T01:00:00Z", "site_id", other)
	past := p.openWindow("2026-09-26T09:00:00Z", "2026-09-26T11:00:00Z")
	if got, want := p.pages("/drop-off-windows", 1), []string{past, soon, night, late}; !slices.Equal(got, want) {
		t.Errorf("listed %v, want %v", got, want)
	}
	p.in("PATCH", "/drop-off-windows/"+soon, doc{"status": "full"}, "If-Match", `"1"`).want(200)
	for query, want := range map[string][]string{"from=2026-10-10": {soon, night, late}, "from=2026-10-17&to=2026-10-18": {night},
		"to=2026-10-17": {past, soon}, "site_id=" + other: {night}, "status=full": {soon}} {
		if got := p.pages("/drop-off-windows?"+query, 2); !slices.Equal(got, want) {
			t.Errorf("%s lists %v, want %v", query, got, want)
		}
	}
}

func TestAWindowCountsWhatCameOnce(t *testing.T) {
	p := newTable(t)
	id := p.openWindow("2026-10-05T09:00:00Z", "2026-10-05T11:00:00Z", "capacity", kilos("5"))
	lot := p.takeIn(weighed("3"), "window_id", id)
	p.in("POST", "/lots/"+lot.text("id")+"/storage", doc{"storage": "freezer", "part": weighed("1")}).want(200)
	// What happened is never refused: neither beyond the capacity, nor after closing.
	p.in("PATCH", "/drop-off-windows/"+id, doc{"status": "closed"}, "If-Match", `"1"`).want(200)
	wrong := p.takeIn(weighed("4"), "window_id", id)
	got := p.in("GET", "/drop-off-windows/"+id, nil).want(200)
	if got.grams("received_g") != 7000 {
		t.Errorf("received %d g, want 7000", got.grams("received_g"))
	}
	if n := len(p.in("GET", "/lots?window_id="+id, nil).want(200).items()); n != 3 {
		t.Errorf("%d lots of the window, want 2 and a frozen part", n)
	}
	p.reverse(wrong.text("entry_id"))
	if got := p.in("GET", "/drop-off-windows/"+id, nil).want(200); got.grams("received_g") != 3000 {
		t.Errorf("received %d g with one intake undone, want 3000", got.grams("received_g"))
	}
}

func TestTheCalendarShowsWindowsAndNoPerson(t *testing.T) {
	p := newTable(t)
	empty := p.in("GET", "/drop-off-calendar", nil).want(200)
	if !strings.HasPrefix(empty.Header.Get("Content-Type"), "text/calendar") || !strings.Contains(string(empty.Raw), "BEGIN:VTIMEZONE\r\n") {
		t.Errorf("an empty feed is\n%s", empty.Raw)
	}
	id := p.openWindow("2026-10-10T09:00:00Z", "2026-10-10T11:00:00Z", "host_member_id", p.member, "note", "Side gate; ring, then wait.")
	gone := p.openWindow("2026-09-10T09:00:00Z", "2026-09-10T11:00:00Z")
	p.openWindow("2026-09-04T09:00:00Z", "2026-09-04T11:00:00Z") // 31 days back
	p.openWindow("2027-04-04T09:00:00Z", "2027-04-04T11:00:00Z") // 181 days ahead
	p.in("PATCH", "/drop-off-windows/"+gone, doc{"status": "closed"}, "If-Match", `"1"`).want(200)
	p.in("PATCH", "/drop-off-windows/"+id, doc{"status": "full"}, "If-Match", `"1"`).want(200)
	p.in("PATCH", "/drop-off-windows/"+id, doc{"status": "moved", "starts_at": "2026-10-10T10:00:00Z"}, "If-Match", `"2"`).want(200)
	donor := p.with("donor", "donor@lowfield.example")
	feed := string(donor.in("GET", "/drop-off-calendar", nil).want(200).Raw)
	events := strings.Split(feed, "BEGIN:VEVENT\r\n")[1:]
	if len(events) != 2 {
		t.Fatalf("%d events, want 2\n%s", len(events), feed)
	}
	// RFC 5545, 3.8.7.4: SEQUENCE is 0 at first and grows with each revision;
	// 3.8.1.11: CANCELLED is an event that will not be held; 3.3.11: escapes.
	for i, want := range [][]string{
		{"UID:" + gone + "\r\n", "SEQUENCE:1\r\n", "STATUS:CANCELLED\r\n"},
		{"UID:" + id + "\r\n", "SEQUENCE:2\r\n", "STATUS:CONFIRMED\r\n", "DTSTART:20261010T100000Z\r\n", "DTEND:20261010T110000Z\r\n",
			"DTSTAMP:20261005T120000Z\r\n", "LOCATION:Potting shed\r\n", `DESCRIPTION:Side gate\; ring\, then wait.` + "\r\n"},
	} {
		for _, line := range want {
			if !strings.Contains(events[i], line) {
				t.Errorf("event %d lacks %q:\n%s", i, line, events[i])
			}
		}
	}
	for _, private := range []string{"Maren", "Holt", p.member, "@lowfield"} {
		if strings.Contains(feed, private) {
			t.Errorf("the feed says %q", private)
		}
	}
	p.newGarden("tove@hillside.example").call("GET", "/v1/gardens/"+p.garden+"/drop-off-calendar", nil).refused(404, "garden.not_found", "")
}
