package measure_test

import (
	"encoding/json"
	"errors"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"midden/internal/measure"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func TestParseDayTakesOnlyCivilDays(t *testing.T) {
	t.Parallel()
	for _, good := range []string{"2026-02-28", "2028-02-29", "1000-01-01", "9999-12-31"} {
		d, err := measure.ParseDay(good)
		if err != nil || d.String() != good {
			t.Errorf("ParseDay(%q) = %v, %v", good, d, err)
		}
	}
	for _, bad := range []string{"", "2026-02-29", "2026-13-01", "2026-1-1", "26-01-01", "2026-01-01T00:00:00Z",
		"0001-01-01", "0999-12-31", " 2026-01-01", "2026/01/01", "+2026-01-01"} {
		if d, err := measure.ParseDay(bad); !errors.Is(err, measure.ErrDay) || !d.IsZero() {
			t.Errorf("ParseDay(%q) = %v, %v; want ErrDay", bad, d, err)
		}
	}
}

func TestNewDayRefusesDatesThatDoNotExist(t *testing.T) {
	t.Parallel()
	if _, err := measure.NewDay(2026, time.February, 30); !errors.Is(err, measure.ErrDay) {
		t.Error("30 February was taken")
	}
	if d, err := measure.NewDay(2028, time.February, 29); err != nil || d.String() != "2028-02-29" {
		t.Errorf("leap day: %v, %v", d, err)
	}
}

func TestADayMarshalsAsPlainDate(t *testing.T) {
	t.Parallel()
	type row struct {
		On   measure.Day  `json:"on"`
		None measure.Day  `json:"none"`
		Omit measure.Day  `json:"omit,omitzero"`
		Ptr  *measure.Day `json:"ptr"`
	}
	b, err := json.Marshal(row{On: measure.MustDay("2026-03-01")})
	if err != nil || string(b) != `{"on":"2026-03-01","none":"","ptr":null}` {
		t.Fatalf("%s, %v", b, err)
	}
	var back row
	if err := json.Unmarshal(b, &back); err != nil || back.On != measure.MustDay("2026-03-01") || !back.None.IsZero() {
		t.Fatalf("%+v, %v", back, err)
	}
	if err := json.Unmarshal([]byte(`{"on":"1.3.2026"}`), &back); !errors.Is(err, measure.ErrDay) {
		t.Errorf("a foreign date form was taken: %v", err)
	}
}

func TestDayOfAnInstantIsTheGardensDay(t *testing.T) {
	t.Parallel()
	ny := zone(t, "America/New_York")
	// 02:00 UTC on 1 March is still 21:00 on 28 February in New York.
	at := time.Date(2026, 3, 1, 2, 0, 0, 0, time.UTC)
	if got := measure.DayIn(at, ny); got != measure.MustDay("2026-02-28") {
		t.Errorf("New York day = %v", got)
	}
	if got := measure.DayIn(at, zone(t, "Pacific/Auckland")); got != measure.MustDay("2026-03-01") {
		t.Errorf("Auckland day = %v", got)
	}
}

func TestDaysAreShortAndLongWhenClocksChange(t *testing.T) {
	t.Parallel()
	tests := []struct {
		zone, day string
		hours     float64
	}{
		// US rule, Energy Policy Act of 2005: second Sunday of March, first of November.
		{"America/New_York", "2026-03-08", 23},
		{"America/New_York", "2026-11-01", 25},
		{"America/New_York", "2026-11-02", 24},
		// EU rule, Directive 2000/84/EC: last Sundays of March and October.
		{"Europe/Berlin", "2026-03-29", 23},
		{"Europe/Berlin", "2026-10-25", 25},
		// IANA tz data: Lord Howe moves by half an hour.
		{"Australia/Lord_Howe", "2026-04-05", 24.5},
		// IANA tz data: Sao Paulo used to skip midnight itself.
		{"America/Sao_Paulo", "2018-11-04", 23},
		{"America/Sao_Paulo", "2018-11-03", 24},
		{"America/Sao_Paulo", "2018-02-17", 25},
		// IANA tz data: Samoa left out 30 December 2011 altogether.
		{"Pacific/Apia", "2011-12-30", 0},
		{"Pacific/Apia", "2011-12-29", 24},
		{"Pacific/Apia", "2011-12-31", 24},
	}
	for _, tt := range tests {
		d := measure.MustDay(tt.day)
		if got := d.Length(zone(t, tt.zone)).Hours(); got != tt.hours {
			t.Errorf("%s in %s lasts %v h, want %v h", tt.day, tt.zone, got, tt.hours)
		}
	}
	sp := zone(t, "America/Sao_Paulo")
	if got := measure.MustDay("2018-11-04").Start(sp); got.UTC() != time.Date(2018, 11, 4, 3, 0, 0, 0, time.UTC) {
		t.Errorf("a day that skips midnight starts at %v", got)
	}
}

func TestISOWeeksBelongToTheYearOfTheirThursday(t *testing.T) {
	t.Parallel()
	// ISO 8601: week 1 holds the year's first Thursday.
	tests := []struct {
		day        string
		year, week int
		monday     string
	}{
		{"2026-01-01", 2026, 1, "2025-12-29"},
		{"2027-01-03", 2026, 53, "2026-12-28"},
		{"2025-12-29", 2026, 1, "2025-12-29"},
	}
	for _, tt := range tests {
		d := measure.MustDay(tt.day)
		if y, w := d.ISOWeek(); y != tt.year || w != tt.week {
			t.Errorf("%s is in %d-W%02d, want %d-W%02d", tt.day, y, w, tt.year, tt.week)
		}
		if got := d.WeekStart(); got != measure.MustDay(tt.monday) || got.Weekday() != time.Monday {
			t.Errorf("week of %s starts %v, want %s", tt.day, got, tt.monday)
		}
	}
}

func TestAddingMonthsStopsAtTheMonthsEnd(t *testing.T) {
	t.Parallel()
	tests := []struct {
		from string
		n    int
		want string
	}{
		{"2027-01-31", 1, "2027-02-28"}, {"2028-01-31", 1, "2028-02-29"}, {"2026-12-15", 1, "2027-01-15"},
		{"2026-03-31", -1, "2026-02-28"}, {"2026-01-15", -13, "2024-12-15"}, {"2026-05-31", 0, "2026-05-31"},
	}
	for _, tt := range tests {
		if got := measure.MustDay(tt.from).AddMonths(tt.n); got != measure.MustDay(tt.want) {
			t.Errorf("%s + %d months = %v, want %s", tt.from, tt.n, got, tt.want)
		}
	}
}

func TestDayRangesAreHalfOpen(t *testing.T) {
	t.Parallel()
	// The northern meteorological winter of a leap year has 91 days.
	r := measure.DayRange{Start: measure.MustDay("2027-12-01"), End: measure.MustDay("2028-03-01")}
	if r.Days() != 91 || r.String() != "2027-12-01/2028-03-01" {
		t.Errorf("%v has %d days", r, r.Days())
	}
	if !r.Contains(r.Start) || r.Contains(r.End) || !r.Contains(r.End.Add(-1)) {
		t.Error("start must be in, end must be out")
	}
	next := measure.DayRange{Start: r.End, End: r.End.Add(1)}
	if r.Overlaps(next) || !r.Overlaps(measure.DayRange{Start: r.End.Add(-1), End: r.End.Add(9)}) {
		t.Error("ranges that only touch do not overlap")
	}
	if r.Overlaps(measure.DayRange{Start: r.Start.Add(5), End: r.Start.Add(5)}) {
		t.Error("an empty range overlaps nothing")
	}
}

func anyDay() *rapid.Generator[measure.Day] {
	lo, hi := measure.MustDay("1900-01-01"), measure.MustDay("2200-01-01")
	return rapid.Custom(func(t *rapid.T) measure.Day {
		return lo.Add(rapid.IntRange(0, hi.Sub(lo)).Draw(t, "offset"))
	})
}

func TestDayArithmeticAgreesWithTheStandardLibrary(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d, n := anyDay().Draw(t, "day"), rapid.IntRange(-40000, 40000).Draw(t, "n")
		e := d.Add(n)
		if want := d.UTC().AddDate(0, 0, n); e.UTC() != want {
			t.Fatalf("%v + %d = %v, want %v", d, n, e, want)
		}
		if e.Sub(d) != n || e.Add(-n) != d {
			t.Fatalf("%v and %v are not %d apart", d, e, n)
		}
		if c := e.Compare(d); (c < 0) != e.Before(d) || (c > 0) != e.After(d) || (c == 0) != (e == d) {
			t.Fatalf("order of %v and %v disagrees", d, e)
		}
		back, err := measure.ParseDay(d.String())
		if err != nil || back != d {
			t.Fatalf("%v printed and read gives %v, %v", d, back, err)
		}
		if measure.DayIn(d.UTC(), time.UTC) != d {
			t.Fatalf("%v is lost through UTC", d)
		}
		if ms := d.MonthStart(); ms.UTC().Day() != 1 || ms.Month() != d.Month() || ms.Year() != d.Year() {
			t.Fatalf("month of %v starts %v", d, ms)
		}
	})
}

func TestEveryInstantLiesBetweenTheStartOfItsDayAndTheNext(t *testing.T) {
	t.Parallel()
	zones := []*time.Location{time.UTC, zone(t, "America/New_York"), zone(t, "Australia/Sydney"),
		zone(t, "America/Sao_Paulo"), zone(t, "Asia/Kathmandu"), zone(t, "Pacific/Apia")}
	rapid.Check(t, func(t *rapid.T) {
		loc := rapid.SampledFrom(zones).Draw(t, "zone")
		at := time.Unix(rapid.Int64Range(946684800, 2524608000).Draw(t, "unix"), 0)
		d := measure.DayIn(at, loc)
		if at.Before(d.Start(loc)) || !at.Before(d.Add(1).Start(loc)) {
			t.Fatalf("%v is not within %v in %v", at.UTC(), d, loc)
		}
	})
}
