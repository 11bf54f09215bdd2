package season_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/season"
)

func calendar(t testing.TB, kind season.CalendarKind, zone string, named ...season.Named) *season.Calendar {
	t.Helper()
	c, err := season.NewCalendar(season.CalendarSettings{Kind: kind, Zone: zone, Custom: named})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func days(start, end string) measure.DayRange {
	return measure.DayRange{Start: measure.MustDay(start), End: measure.MustDay(end)}
}

func named(name, start, end string) season.Named {
	return season.Named{Label: name, DayRange: days(start, end)}
}

func TestMeteorologicalSeasonsAreWholeMonths(t *testing.T) {
	t.Parallel()
	// NOAA NCEI, "Meteorological versus astronomical seasons": spring is March to
	// May in the north; the south is six months apart.
	tests := []struct {
		kind                 season.CalendarKind
		day, key, label, iso string
		length               int
	}{
		{season.North, "2026-03-01", "2026-spring", "spring 2026", "2026-03-01/2026-06-01", 92},
		{season.North, "2026-08-31", "2026-summer", "summer 2026", "2026-06-01/2026-09-01", 92},
		{season.North, "2026-09-01", "2026-autumn", "autumn 2026", "2026-09-01/2026-12-01", 91},
		{season.North, "2026-12-31", "2026-27-winter", "winter 2026-27", "2026-12-01/2027-03-01", 90},
		{season.North, "2027-02-28", "2026-27-winter", "winter 2026-27", "2026-12-01/2027-03-01", 90},
		{season.North, "2028-02-29", "2027-28-winter", "winter 2027-28", "2027-12-01/2028-03-01", 91},
		{season.North, "2100-01-01", "2099-00-winter", "winter 2099-00", "2099-12-01/2100-03-01", 90},
		{season.South, "2026-03-01", "2026-autumn", "autumn 2026", "2026-03-01/2026-06-01", 92},
		{season.South, "2026-07-15", "2026-winter", "winter 2026", "2026-06-01/2026-09-01", 92},
		{season.South, "2026-11-30", "2026-spring", "spring 2026", "2026-09-01/2026-12-01", 91},
		{season.South, "2027-01-10", "2026-27-summer", "summer 2026-27", "2026-12-01/2027-03-01", 90},
	}
	for _, tt := range tests {
		c := calendar(t, tt.kind, "UTC")
		s, ok := c.SeasonOf(measure.MustDay(tt.day))
		if !ok || s.Key != tt.key || s.Label != tt.label || s.DayRange.String() != tt.iso || s.Days() != tt.length {
			t.Errorf("%s on %s: %+v, %d days; want %s, %s, %d days", tt.kind, tt.day, s, s.Days(), tt.label, tt.iso, tt.length)
		}
		if back, err := c.ByKey(tt.key); err != nil || back != s {
			t.Errorf("ByKey(%q) = %+v, %v", tt.key, back, err)
		}
	}
}

func TestADropOffBelongsToTheSeasonOfItsLocalDay(t *testing.T) {
	t.Parallel()
	// By definition of the local day; IANA tz data give New York UTC-5 in winter.
	c := calendar(t, season.North, "America/New_York")
	for at, want := range map[string]string{
		"2026-03-01T05:30:00Z": "spring 2026",
		"2026-03-01T02:00:00Z": "winter 2025-26",
	} {
		ts, err := time.Parse(time.RFC3339, at)
		if err != nil {
			t.Fatal(err)
		}
		if s, _ := c.SeasonOf(c.DayOf(ts)); s.Label != want {
			t.Errorf("%s is %s, want %s", at, s.Label, want)
		}
	}
}

func TestASeasonsIntervalFollowsTheClocks(t *testing.T) {
	t.Parallel()
	c := calendar(t, season.North, "America/New_York")
	s, _ := c.SeasonOf(measure.MustDay("2026-04-01"))
	// Starts at UTC-5 and ends at UTC-4: an hour short of 92 times 24 h.
	if got, want := c.Interval(s), "2026-03-01T05:00:00Z/2026-06-01T04:00:00Z"; got != want {
		t.Errorf("interval %s, want %s", got, want)
	}
	// Sydney clocks go forward on the first Sunday of October.
	sydney := calendar(t, season.South, "Australia/Sydney")
	spring, _ := sydney.SeasonOf(measure.MustDay("2026-10-01"))
	if got, want := sydney.Interval(spring), "2026-08-31T14:00:00Z/2026-11-30T13:00:00Z"; got != want {
		t.Errorf("interval %s, want %s", got, want)
	}
}

func TestAGardensOwnSeasonsMayLeaveGaps(t *testing.T) {
	t.Parallel()
	c := calendar(t, season.Custom, "Europe/Berlin",
		named("Main season", "2026-04-15", "2026-10-31"), named("Seedlings", "2026-02-15", "2026-04-15"))
	tests := map[string]string{
		"2026-02-14": season.OutsideLabel, "2026-02-15": "Seedlings", "2026-04-14": "Seedlings",
		"2026-04-15": "Main season", "2026-10-30": "Main season", "2026-10-31": season.OutsideLabel,
	}
	for day, want := range tests {
		s, ok := c.SeasonOf(measure.MustDay(day))
		if s.Label != want || ok == s.Outside() {
			t.Errorf("%s is %q (%v), want %q", day, s.Label, ok, want)
		}
	}
	if s, err := c.ByKey("2026-04-15"); err != nil || s.Label != "Main season" {
		t.Errorf("by key: %+v, %v", s, err)
	}
	var got []string
	for _, s := range c.Cover(days("2026-01-01", "2026-12-01")) {
		got = append(got, s.DayRange.String()+" "+s.Label)
	}
	want := "2026-01-01/2026-02-15 outside any season|2026-02-15/2026-04-15 Seedlings|" +
		"2026-04-15/2026-10-31 Main season|2026-10-31/2026-12-01 outside any season"
	if strings.Join(got, "|") != want {
		t.Errorf("cover:\n%s\nwant\n%s", strings.Join(got, "|"), want)
	}
}

func TestLastSeasonsEndWithTheRunningOne(t *testing.T) {
	t.Parallel()
	labels := func(ss []season.Season) string {
		var out []string
		for _, s := range ss {
			out = append(out, s.Label)
		}
		return strings.Join(out, ", ")
	}
	north := calendar(t, season.North, "UTC")
	if got := labels(north.Last(4, measure.MustDay("2026-11-25"))); got != "winter 2025-26, spring 2026, summer 2026, autumn 2026" {
		t.Errorf("last four: %s", got)
	}
	own := calendar(t, season.Custom, "UTC", named("A", "2025-01-01", "2025-06-01"), named("B", "2026-01-01", "2026-06-01"))
	if got := labels(own.Last(3, measure.MustDay("2026-08-01"))); got != "A, B" {
		t.Errorf("last of two: %s", got)
	}
	if got := labels(own.Last(3, measure.MustDay("2025-12-31"))); got != "A" {
		t.Errorf("before the second: %s", got)
	}
	if got := own.Last(0, measure.MustDay("2026-08-01")); len(got) != 0 {
		t.Errorf("none asked, got %v", got)
	}
}

func TestCalendarsThatMakeNoSenseAreRefused(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		s    season.CalendarSettings
		want []farm.Code
	}{
		{"unknown kind", season.CalendarSettings{Kind: "lunar", Zone: "UTC"}, []farm.Code{season.CodeCalendarKind}},
		{"the machine's zone", season.CalendarSettings{Kind: season.North, Zone: "Local"}, []farm.Code{season.CodeCalendarZone}},
		{"no zone", season.CalendarSettings{Kind: season.North}, []farm.Code{season.CodeCalendarZone}},
		{"no such zone", season.CalendarSettings{Kind: season.North, Zone: "Mars/Olympus"}, []farm.Code{season.CodeCalendarZone}},
		{"own seasons in a fixed calendar", season.CalendarSettings{Kind: season.North, Zone: "UTC",
			Custom: []season.Named{named("A", "2026-01-01", "2026-02-01")}}, []farm.Code{season.CodeCalendarKind}},
		{"overlap by a day", season.CalendarSettings{Kind: season.Custom, Zone: "UTC", Custom: []season.Named{
			named("A", "2026-01-01", "2026-02-02"), named("B", "2026-02-01", "2026-03-01")}}, []farm.Code{season.CodeSeasonOverlap}},
		{"end before start, no name and no zone", season.CalendarSettings{Kind: season.Custom, Custom: []season.Named{
			named(" ", "2026-03-01", "2026-02-01")}},
			[]farm.Code{season.CodeSeasonLabel, season.CodeSeasonDays, season.CodeCalendarZone}},
		{"two of one key and one that is no key", season.CalendarSettings{Kind: season.Custom, Zone: "UTC", Custom: []season.Named{
			{Key: "a", Label: "A", DayRange: days("2026-01-01", "2026-02-01")},
			{Key: "a", Label: "B", DayRange: days("2026-02-01", "2026-03-01")},
			{Key: "C c", Label: "C", DayRange: days("2026-03-01", "2026-04-01")}}},
			[]farm.Code{season.CodeSeasonKey, season.CodeSeasonKey}},
		{"no days", season.CalendarSettings{Kind: season.Custom, Zone: "UTC", Custom: []season.Named{{Label: "A"}}},
			[]farm.Code{season.CodeSeasonDays}},
	}
	for _, tt := range tests {
		_, err := season.NewCalendar(tt.s)
		e := farm.AsError(err)
		if e == nil {
			t.Errorf("%s: was taken", tt.name)
			continue
		}
		got := []farm.Code{e.Code}
		for _, m := range e.More {
			got = append(got, m.Code)
		}
		if len(got) != len(tt.want) {
			t.Errorf("%s: refused with %v, want %v", tt.name, got, tt.want)
			continue
		}
		for i := range got {
			if got[i] != tt.want[i] {
				t.Errorf("%s: refused with %v, want %v", tt.name, got, tt.want)
			}
		}
	}
	// Seasons that only touch are fine.
	calendar(t, season.Custom, "UTC", named("A", "2026-01-01", "2026-02-01"), named("B", "2026-02-01", "2026-03-01"))
}

func TestUnknownSeasonKeysAreRefused(t *testing.T) {
	t.Parallel()
	north := calendar(t, season.North, "UTC")
	for _, key := range []string{"", "winter", "2026-winter", "winter-2026-28", "monsoon-2026", "spring-20260", "spring-26", "spring-2026-27"} {
		if s, err := north.ByKey(key); farm.CodeOf(err) != season.CodeSeasonUnknown {
			t.Errorf("ByKey(%q) = %+v, %v", key, s, err)
		}
	}
}

func TestCalendarSettingsSurviveJSON(t *testing.T) {
	t.Parallel()
	in := season.CalendarSettings{Kind: season.Custom, Zone: "UTC", Custom: []season.Named{named("A", "2026-01-01", "2026-02-01")}}
	b, err := json.Marshal(in)
	if err != nil || string(b) != `{"kind":"custom","zone":"UTC","custom":[{"label":"A","start":"2026-01-01","end":"2026-02-01"}]}` {
		t.Fatalf("%s, %v", b, err)
	}
	var back season.CalendarSettings
	if err := json.Unmarshal(b, &back); err != nil || back.Custom[0] != in.Custom[0] {
		t.Fatalf("%+v, %v", back, err)
	}
}

func TestSeasonsShareOutEveryDayOnce(t *testing.T) {
	t.Parallel()
	cals := []*season.Calendar{
		calendar(t, season.North, "America/New_York"), calendar(t, season.South, "Pacific/Auckland"),
		calendar(t, season.Custom, "UTC", named("A", "2025-03-01", "2025-09-10"), named("B", "2025-09-10", "2026-01-01"),
			named("C", "2026-02-10", "2026-02-11")),
	}
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(cals).Draw(t, "calendar")
		start := measure.MustDay("2024-11-01").Add(rapid.IntRange(0, 700).Draw(t, "start"))
		r := measure.DayRange{Start: start, End: start.Add(rapid.IntRange(0, 800).Draw(t, "length"))}
		at := r.Start
		for _, s := range c.Cover(r) {
			if s.Start != at || s.Days() == 0 {
				t.Fatalf("piece %+v does not follow on %v", s, at)
			}
			for d := s.Start; d.Before(s.End); d = d.Add(1) {
				whole, ok := c.SeasonOf(d)
				if whole.Label != s.Label || whole.Key != s.Key || ok == s.Outside() {
					t.Fatalf("%v is in %+v by day, in %+v by piece", d, whole, s)
				}
				if ok && !whole.Contains(d) {
					t.Fatalf("%+v does not hold %v", whole, d)
				}
			}
			at = s.End
		}
		if r.Days() > 0 && at != r.End {
			t.Fatalf("pieces stop at %v, not at %v", at, r.End)
		}
	})
}

func TestANewSeasonBeginsTheDayAfterTheLast(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom([]season.CalendarKind{season.North, season.South}).Draw(t, "kind")
		c, err := season.NewCalendar(season.CalendarSettings{Kind: kind, Zone: "UTC"})
		if err != nil {
			t.Fatal(err)
		}
		d := measure.MustDay("2000-01-01").Add(rapid.IntRange(0, 36000).Draw(t, "day"))
		last := c.Last(5, d)
		if len(last) != 5 || !last[4].Contains(d) {
			t.Fatalf("the running season is not last: %v", last)
		}
		for i := 1; i < 5; i++ {
			if last[i].Start != last[i-1].End || last[i].Key == last[i-1].Key {
				t.Fatalf("%+v does not follow %+v", last[i], last[i-1])
			}
		}
		if last[0].Label[:6] != last[4].Label[:6] {
			t.Fatalf("a year later it is another season: %s, %s", last[0].Key, last[4].Key)
		}
	})
}
