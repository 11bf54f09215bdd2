package exchange

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"midden/internal/farm"
)

// CodeFeedWindow refuses a window that can't stand in a calendar.
const CodeFeedWindow farm.Code = "feed.window"

// WindowState is how a drop-off window stands.
type WindowState string

// States of a window. Moved keeps its identity and takes new times; closed is
// a window that will not be held.
const (
	WindowOpen   WindowState = "open"
	WindowFull   WindowState = "full"
	WindowMoved  WindowState = "moved"
	WindowClosed WindowState = "closed"
)

// Window is a drop-off window as outsiders may see it. It has no place for a
// person's name, and its texts must not hold one: the feed is public.
type Window struct {
	ID       string // stays the same for the life of the window
	Site     string
	Start    time.Time
	End      time.Time // not in
	State    WindowState
	Note     string    // what to bring, where the gate is
	Changed  time.Time // when this state was set
	Revision int       // 0 at first, one more at each change
}

// Feed is a garden's drop-off windows.
type Feed struct {
	Garden  string
	Windows []Window
}

// WriteCalendar writes an iCalendar object (RFC 5545; NAME and
// REFRESH-INTERVAL of RFC 7986): times in UTC, lines folded at 75 octets. It
// refuses with feed.window a window without id, site or times, of unknown
// state, or that ends before it starts; nothing is written then.
func WriteCalendar(w io.Writer, f Feed) error {
	var faults farm.Faults
	for i, win := range f.Windows {
		win.check(fmt.Sprintf("/windows/%d", i), &faults)
	}
	if err := faults.Err(); err != nil {
		return err
	}
	var c calendarLines
	c.line("BEGIN", "VCALENDAR")
	c.line("VERSION", "2.0")
	c.line("PRODID", "-//Midden//Drop-off windows//EN")
	c.line("CALSCALE", "GREGORIAN")
	c.text("NAME", f.Garden+": food waste drop-off")
	c.line("REFRESH-INTERVAL;VALUE=DURATION", "PT1H")
	for _, win := range f.Windows {
		c.event(win)
	}
	if len(f.Windows) == 0 {
		c.utcZone()
	}
	c.line("END", "VCALENDAR")
	_, err := w.Write(c.out.Bytes())
	return err
}

func (win Window) check(at string, faults *farm.Faults) {
	if win.ID == "" || strings.TrimSpace(win.Site) == "" || win.Changed.IsZero() || win.Revision < 0 {
		faults.Add(CodeFeedWindow, at, "window: must have an id, a site, a time of change and a revision from 0")
	}
	if win.Start.IsZero() || !win.Start.Before(win.End) {
		faults.Add(CodeFeedWindow, at, "window: must end after it starts; got %s to %s", utc(win.Start), utc(win.End))
	}
	switch win.State {
	case WindowOpen, WindowFull, WindowMoved, WindowClosed:
	default:
		faults.Add(CodeFeedWindow, at, "window: state must be open, full, moved or closed; got %q", win.State)
	}
}

// calendarLines builds content lines.
type calendarLines struct{ out bytes.Buffer }

func (c *calendarLines) event(win Window) {
	c.line("BEGIN", "VEVENT")
	c.text("UID", win.ID)
	c.line("DTSTAMP", utc(win.Changed))
	c.line("LAST-MODIFIED", utc(win.Changed))
	c.line("DTSTART", utc(win.Start))
	c.line("DTEND", utc(win.End))
	c.line("SEQUENCE", fmt.Sprint(win.Revision))
	status, mark := "CONFIRMED", ""
	switch win.State {
	case WindowClosed:
		status, mark = "CANCELLED", " (not held)"
	case WindowFull:
		mark = " (full)"
	case WindowMoved:
		mark = " (moved)"
	}
	c.line("STATUS", status)
	c.text("SUMMARY", "Food waste drop-off"+mark)
	c.text("LOCATION", win.Site)
	if win.Note != "" {
		c.text("DESCRIPTION", win.Note)
	}
	c.line("TRANSP", "TRANSPARENT") // it takes up nobody's time
	c.line("END", "VEVENT")
}

// utcZone stands in when there are no windows: a calendar needs at least one
// component (RFC 5545, 3.6), and an empty feed must still parse.
func (c *calendarLines) utcZone() {
	c.line("BEGIN", "VTIMEZONE")
	c.line("TZID", "Etc/UTC")
	c.line("BEGIN", "STANDARD")
	c.line("DTSTART", "19700101T000000")
	c.line("TZOFFSETFROM", "+0000")
	c.line("TZOFFSETTO", "+0000")
	c.line("END", "STANDARD")
	c.line("END", "VTIMEZONE")
}

// utc is form 2 of RFC 5545, 3.3.5. A numeric offset would not be valid.
func utc(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

var textEscapes = strings.NewReplacer(`\`, `\\`, `;`, `\;`, `,`, `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`)

// text writes a TEXT value: backslash, semicolon, comma and line breaks are
// escaped, a colon is not (RFC 5545, 3.3.11); other control characters go.
func (c *calendarLines) text(name, value string) {
	value = textEscapes.Replace(strings.ToValidUTF8(value, "\uFFFD"))
	value = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\t' {
			return -1
		}
		return r
	}, value)
	c.line(name, value)
}

const maxOctets = 75

// line folds at 75 octets, not counting CRLF, and never inside a character. A
// continued line begins with a space, which counts.
func (c *calendarLines) line(name, value string) {
	rest := name + ":" + value
	for room := maxOctets; len(rest) > room; room = maxOctets - 1 {
		cut := room
		for !utf8.RuneStart(rest[cut]) {
			cut--
		}
		c.out.WriteString(rest[:cut] + "\r\n ")
		rest = rest[cut:]
	}
	c.out.WriteString(rest + "\r\n")
}
