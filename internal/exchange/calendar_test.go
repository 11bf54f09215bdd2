package exchange_test

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"midden/internal/exchange"
	"midden/internal/farm"
)

func window() exchange.Window {
	start := time.Date(2026, 3, 7, 9, 0, 0, 0, time.FixedZone("", -5*3600))
	return exchange.Window{ID: "0198c0de-0000-7000-8000-00000000004b", Site: "Bin A, B; note: x", Start: start, End: start.Add(2 * time.Hour),
		State: exchange.WindowOpen, Changed: start.Add(-48 * time.Hour)}
}

func feed(t testing.TB, ws ...exchange.Window) string {
	t.Helper()
	var b strings.Builder
	if err := exchange.WriteCalendar(&b, exchange.Feed{Garden: "Orchard Row", Windows: ws}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// unfold undoes RFC 5545, 3.1 and gives the content lines.
func unfold(s string) []string {
	return strings.Split(strings.TrimSuffix(strings.ReplaceAll(s, "\r\n ", ""), "\r\n"), "\r\n")
}

func property(lines []string, name string) (values []string) {
	for _, l := range lines {
		if v, ok := strings.CutPrefix(l, name+":"); ok {
			values = append(values, v)
		}
	}
	return values
}

func TestAFeedHasWhatTheStandardRequires(t *testing.T) {
	t.Parallel()
	lines := unfold(feed(t, window()))
	if lines[0] != "BEGIN:VCALENDAR" || lines[len(lines)-1] != "END:VCALENDAR" {
		t.Errorf("a calendar is not closed: %q", lines)
	}
	// RFC 5545, 3.6: VERSION and PRODID; 3.6.1: UID, DTSTAMP and, without METHOD,
	// DTSTART; DTEND and never DURATION with it; 3.3.5: UTC as a form with Z.
	for name, want := range map[string]string{
		"VERSION": "2.0", "PRODID": "-//Midden//Drop-off windows//EN", "UID": "0198c0de-0000-7000-8000-00000000004b",
		"DTSTAMP": "20260305T140000Z", "DTSTART": "20260307T140000Z", "DTEND": "20260307T160000Z",
		"SEQUENCE": "0", "STATUS": "CONFIRMED", "SUMMARY": "Food waste drop-off",
		// RFC 5545, 3.3.11: a comma and a semicolon are escaped, a colon is not.
		"LOCATION": `Bin A\, B\; note: x`,
	} {
		if got := property(lines, name); len(got) != 1 || got[0] != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	if property(lines, "DURATION") != nil || property(lines, "METHOD") != nil {
		t.Error("DURATION or METHOD was written")
	}
}

func TestAClosedWindowIsCancelledUnderItsOldIdentity(t *testing.T) {
	t.Parallel()
	w := window()
	w.State, w.Revision = exchange.WindowClosed, 3
	lines := unfold(feed(t, w))
	// RFC 5545, 3.8.1.11 (STATUS) and 3.8.7.4 (SEQUENCE goes up with each change).
	if property(lines, "STATUS")[0] != "CANCELLED" || property(lines, "SEQUENCE")[0] != "3" || property(lines, "UID")[0] != w.ID {
		t.Errorf("lines %q", lines)
	}
}

func TestFullAndMovedWindowsSaySo(t *testing.T) {
	t.Parallel()
	for state, want := range map[exchange.WindowState]string{exchange.WindowFull: "full", exchange.WindowMoved: "moved"} {
		w := window()
		w.State = state
		lines := unfold(feed(t, w))
		if s := property(lines, "SUMMARY")[0]; !strings.Contains(s, want) || property(lines, "STATUS")[0] != "CONFIRMED" {
			t.Errorf("%s: %q", state, s)
		}
	}
}

func TestAnEmptyFeedIsStillACalendar(t *testing.T) {
	t.Parallel()
	lines := unfold(feed(t))
	// RFC 5545, 3.6: at least one component; 3.6.5 for what a VTIMEZONE must hold.
	begins := property(lines, "BEGIN")
	if strings.Join(begins, " ") != "VCALENDAR VTIMEZONE STANDARD" || len(property(lines, "TZID")) != 1 || len(property(lines, "TZOFFSETFROM")) != 1 ||
		len(property(lines, "TZOFFSETTO")) != 1 || len(property(lines, "DTSTART")) != 1 {
		t.Errorf("lines %q", lines)
	}
}

func TestWindowsThatMakeNoSenseAreRefused(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*exchange.Window){
		"no id":           func(w *exchange.Window) { w.ID = "" },
		"no site":         func(w *exchange.Window) { w.Site = " " },
		"no change":       func(w *exchange.Window) { w.Changed = time.Time{} },
		"no start":        func(w *exchange.Window) { w.Start = time.Time{} },
		"no length":       func(w *exchange.Window) { w.End = w.Start },
		"unknown state":   func(w *exchange.Window) { w.State = "maybe" },
		"revision before": func(w *exchange.Window) { w.Revision = -1 },
	} {
		w := window()
		spoil(&w)
		var b strings.Builder
		err := exchange.WriteCalendar(&b, exchange.Feed{Windows: []exchange.Window{window(), w}})
		if farm.CodeOf(err) != exchange.CodeFeedWindow || b.Len() != 0 {
			t.Errorf("%s: %v, %d bytes written", name, err, b.Len())
		}
	}
	if err := exchange.WriteCalendar(&failing{}, exchange.Feed{}); !errors.Is(err, errFull) {
		t.Errorf("a failing writer gave %v", err)
	}
}

func TestALongLineFillsEachFoldedLine(t *testing.T) {
	t.Parallel()
	w := window()
	w.Note = strings.Repeat("x", 300)
	var octets []int
	for _, l := range strings.Split(feed(t, w), "\r\n") {
		if strings.Contains(l, "xxx") {
			octets = append(octets, len(l))
		}
	}
	// RFC 5545, 3.1: 75 octets, of which the space of a continued line is one.
	// 312 octets of "DESCRIPTION:" and note make 75 + 74 + 74 + 74 + 15.
	if len(octets) != 5 || octets[0] != 75 || octets[1] != 75 || octets[3] != 75 || octets[4] != 16 {
		t.Errorf("lines of %v octets", octets)
	}
}

func TestLinesFoldAt75OctetsAndComeBackWhole(t *testing.T) {
	t.Parallel()
	unescape := strings.NewReplacer(`\\`, `\`, `\;`, `;`, `\,`, `,`, `\n`, "\n")
	rapid.Check(t, func(t *rapid.T) {
		w := window()
		w.Note = rapid.StringMatching(`[ -~äé€漢😀\n\t]{1,200}`).Draw(t, "note")
		w.Site = rapid.StringMatching(`[a-z][ -~😀]{0,100}`).Draw(t, "site")
		var b strings.Builder
		if err := exchange.WriteCalendar(&b, exchange.Feed{Garden: "漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字", Windows: []exchange.Window{w}}); err != nil {
			t.Fatal(err)
		}
		out := b.String()
		// RFC 5545, 3.1: at most 75 octets without the line break, CRLF only, no
		// character cut in two.
		for _, l := range strings.Split(strings.TrimSuffix(out, "\r\n"), "\r\n") {
			if len(l) > 75 || !utf8.ValidString(l) || strings.ContainsAny(l, "\r\n") || l == "" {
				t.Fatalf("line %q of %d octets", l, len(l))
			}
		}
		lines := unfold(out)
		if got := unescape.Replace(property(lines, "DESCRIPTION")[0]); got != w.Note {
			t.Fatalf("note %q came back as %q", w.Note, got)
		}
		if got := unescape.Replace(property(lines, "LOCATION")[0]); got != w.Site {
			t.Fatalf("site %q came back as %q", w.Site, got)
		}
	})
}
