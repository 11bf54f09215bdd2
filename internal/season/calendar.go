package season

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // zones must not depend on the machine
	"unicode/utf8"

	"midden/internal/farm"
	"midden/internal/measure"
)

// CalendarKind says how a garden cuts its year.
type CalendarKind string

// Kinds of calendar. Meteorological seasons are whole months: in the north
// spring is March to May; in the south everything moves by six months.
const (
	North  CalendarKind = "meteorological_north"
	South  CalendarKind = "meteorological_south"
	Custom CalendarKind = "custom"
)

// Codes of refusals of this package.
const (
	CodeCalendarKind  farm.Code = "calendar.kind"
	CodeCalendarZone  farm.Code = "calendar.zone"
	CodeSeasonKey     farm.Code = "season.key"
	CodeSeasonLabel   farm.Code = "season.label"
	CodeSeasonDays    farm.Code = "season.days"
	CodeSeasonOverlap farm.Code = "season.overlap"
	CodeSeasonUnknown farm.Code = "season.unknown"
)

// OutsideLabel is what a day in no season is called in reports.
const OutsideLabel = "outside any season"

// Season is a half-open stretch of local days with a key and a label, such as
// "2026-27-winter" and "winter 2026-27". A gap between custom seasons has no
// key.
type Season struct {
	Key   string `json:"key"`
	Label string `json:"label"`
	measure.DayRange
}

// Outside tells whether this is a gap in a custom calendar.
func (s Season) Outside() bool { return s.Key == "" }

// Named is one season of a custom calendar: Start is in, End is not. Without a
// key it goes by its first day.
type Named struct {
	Key   string `json:"key,omitempty"` // lower-case letters, digits and hyphens, at most 40
	Label string `json:"label"`
	measure.DayRange
}

var keyForm = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// CalendarSettings is what a garden stores.
type CalendarSettings struct {
	Kind   CalendarKind `json:"kind"`
	Zone   string       `json:"zone"` // IANA name, for example "America/New_York"
	Custom []Named      `json:"custom,omitempty"`
}

// Calendar gives each local day its season. Make one with NewCalendar.
type Calendar struct {
	kind   CalendarKind
	loc    *time.Location
	custom []Season // in order of days
}

const maxSeasonDays = 3 * 366

// NewCalendar checks the settings. It refuses with calendar.kind,
// calendar.zone, season.key (malformed or used twice), season.label (empty or
// over 80 characters), season.days (missing, empty or over three years) and
// season.overlap, all at once.
func NewCalendar(s CalendarSettings) (*Calendar, error) {
	var faults farm.Faults
	c := &Calendar{kind: s.Kind}
	switch s.Kind {
	case North, South:
		if len(s.Custom) > 0 {
			faults.Add(CodeCalendarKind, "/custom", "own seasons need the kind %q; got %q", Custom, s.Kind)
		}
	case Custom:
		c.custom = checkedSeasons(s.Custom, &faults)
	default:
		faults.Add(CodeCalendarKind, "/kind", "kind: must be %s, %s or %s; got %q", North, South, Custom, s.Kind)
	}
	loc, err := LoadZone(s.Zone)
	faults.Keep(err)
	c.loc = loc
	if err := faults.Err(); err != nil {
		return nil, err
	}
	return c, nil
}

// LoadZone finds a time zone by its IANA name in the embedded data. It refuses
// with calendar.zone, also for "" and "Local", which mean the machine's zone.
func LoadZone(name string) (*time.Location, error) {
	loc, err := time.LoadLocation(name)
	if err != nil || name == "" || name == "Local" {
		return nil, farm.Refuse(CodeCalendarZone, "/zone", "zone: must be an IANA name such as America/New_York; got %q", name)
	}
	return loc, nil
}

func checkedSeasons(named []Named, faults *farm.Faults) []Season {
	out := make([]Season, 0, len(named))
	for i, n := range named {
		at := fmt.Sprintf("/custom/%d", i)
		label := strings.TrimSpace(n.Label)
		if size := utf8.RuneCountInString(label); size < 1 || size > 80 {
			faults.Add(CodeSeasonLabel, at+"/label", "label: must be 1 to 80 characters; got %d", size)
		}
		key := n.Key
		if key == "" {
			key = n.Start.String()
		} else if !keyForm.MatchString(key) {
			faults.Add(CodeSeasonKey, at+"/key", "key: must be lower-case letters, digits and hyphens, at most 40; got %q", key)
		}
		if slices.ContainsFunc(out, func(s Season) bool { return s.Key == key }) {
			faults.Add(CodeSeasonKey, at+"/key", "key: %q is used by another season", key)
		}
		if n.Start.IsZero() || n.End.IsZero() || n.Days() == 0 || n.Days() > maxSeasonDays {
			faults.Add(CodeSeasonDays, at, "days: the end must be after the start and at most three years later; got %s", n.DayRange)
			continue
		}
		out = append(out, Season{Key: key, Label: label, DayRange: n.DayRange})
	}
	slices.SortFunc(out, func(a, b Season) int { return a.Start.Compare(b.Start) })
	for i := 1; i < len(out); i++ {
		if out[i].Overlaps(out[i-1].DayRange) {
			faults.Add(CodeSeasonOverlap, "/custom", "%s (%s) overlaps %s (%s); the end day is not part of a season",
				out[i].Label, out[i].DayRange, out[i-1].Label, out[i-1].DayRange)
		}
	}
	return out
}

// Zone is the garden's time zone.
func (c *Calendar) Zone() *time.Location { return c.loc }

// DayOf is the garden's local day of an instant.
func (c *Calendar) DayOf(t time.Time) measure.Day { return measure.DayIn(t, c.loc) }

// SeasonOf is the season that holds the day. When ok is false the day lies
// outside any season and the answer is only the label saying so.
func (c *Calendar) SeasonOf(d measure.Day) (s Season, ok bool) {
	if c.kind != Custom {
		return meteorological(c.kind, d), true
	}
	for _, s := range c.custom {
		if s.Contains(d) {
			return s, true
		}
	}
	return Season{Label: OutsideLabel}, false
}

// meteorological: December, March, June and September each begin a season
// (World Meteorological Organization usage; NOAA NCEI, "Meteorological versus
// astronomical seasons").
func meteorological(kind CalendarKind, d measure.Day) Season {
	start := d.MonthStart().AddMonths(-(int(d.Month()) % 3))
	days := measure.DayRange{Start: start, End: start.AddMonths(3)}
	names := map[time.Month]string{time.March: "spring", time.June: "summer", time.September: "autumn", time.December: "winter"}
	month := start.Month()
	if kind == South {
		month = start.AddMonths(6).Month()
	}
	year := fmt.Sprintf("%d", start.Year())
	if last := days.End.Add(-1).Year(); last != start.Year() {
		year += fmt.Sprintf("-%02d", last%100)
	}
	return Season{Key: year + "-" + names[month], Label: names[month] + " " + year, DayRange: days}
}

// ByKey finds a season by its key. It refuses with season.unknown.
func (c *Calendar) ByKey(key string) (Season, error) {
	if c.kind == Custom {
		for _, s := range c.custom {
			if s.Key == key {
				return s, nil
			}
		}
	} else if len(key) > 4 {
		// Four seasons begin in a year; the key must come out as it went in.
		if first, err := measure.ParseDay(key[:4] + "-03-01"); err == nil {
			for range 4 {
				if s := meteorological(c.kind, first); s.Key == key {
					return s, nil
				}
				first = first.AddMonths(3)
			}
		}
	}
	return Season{}, farm.Refuse(CodeSeasonUnknown, "/season", "season: this garden's calendar has no season %q", key)
}

// Last gives the n latest seasons that began on or before the day, oldest
// first: the running one is the last. A custom calendar may hold fewer.
func (c *Calendar) Last(n int, d measure.Day) []Season {
	var out []Season
	if c.kind != Custom {
		for len(out) < n {
			s := meteorological(c.kind, d)
			out = append(out, s)
			d = s.Start.Add(-1)
		}
	} else {
		for i := len(c.custom) - 1; i >= 0 && len(out) < n; i-- {
			if !c.custom[i].Start.After(d) {
				out = append(out, c.custom[i])
			}
		}
	}
	slices.Reverse(out)
	return out
}

// Cover cuts a range of days into seasons and gaps, in order and without
// holes; the first and last piece may be only a part of their season.
func (c *Calendar) Cover(r measure.DayRange) []Season {
	var out []Season
	for d := r.Start; d.Before(r.End); {
		s, ok := c.SeasonOf(d)
		if !ok {
			s.End = r.End
			for _, next := range c.custom {
				if next.Start.After(d) {
					s.End = next.Start
					break
				}
			}
		}
		s.Start = d
		if s.End.After(r.End) {
			s.End = r.End
		}
		out = append(out, s)
		d = s.End
	}
	return out
}

// Interval is the season as an ISO 8601 interval of instants in UTC, for
// example "2026-03-01T05:00:00Z/2026-06-01T04:00:00Z". The end is not in.
func (c *Calendar) Interval(s Season) string {
	from, to := s.Start.Start(c.loc), s.End.Start(c.loc)
	return from.UTC().Format(time.RFC3339) + "/" + to.UTC().Format(time.RFC3339)
}
