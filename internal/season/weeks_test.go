package season_test

import (
	"testing"

	"midden/internal/measure"
	"midden/internal/season"
)

func grams(t *testing.T, value string, unit measure.Unit) measure.Grams {
	t.Helper()
	g, err := measure.Quantity{Value: value, Unit: unit}.Grams()
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestWeeklyAndMonthlyLimitsAreWatchedTogether(t *testing.T) {
	t.Parallel()
	// 6 NYCRR 361-3.2(a)(2): at most 1,000 lb a week as a monthly average, and at
	// most 2,000 lb in any one week. Used as one place's rule, not as ours.
	watch := season.Watch{WeekMean: grams(t, "1000", measure.Pound), WeekMax: grams(t, "2000", measure.Pound)}
	// June 2026 holds four Thursdays: ISO weeks 23 to 26.
	june := days("2026-06-01", "2026-06-29")
	tests := []struct {
		name      string
		pounds    [4]string
		mean      string
		week, avg season.Standing
	}{
		{"a steady month", [4]string{"900", "1100", "950", "1000"}, "987.5", season.Within, season.Near},
		{"a spike", [4]string{"500", "500", "500", "2100"}, "900", season.Over, season.Near},
		{"too much on average", [4]string{"1000", "1000", "1000", "1010"}, "1002.5", season.Within, season.Over},
	}
	for _, tt := range tests {
		var daily []season.DayMass
		for i, lb := range tt.pounds {
			daily = append(daily, season.DayMass{Day: june.Start.Add(7*i + 2), Mass: grams(t, lb, measure.Pound)})
		}
		weeks := season.WeeksOf(daily, june, false)
		months := season.MonthMeans(weeks, june)
		if len(months) != 1 || months[0].Month != "2026-06" || months[0].Weeks != 4 {
			t.Fatalf("%s: months %+v", tt.name, months)
		}
		if diff := months[0].Mean - grams(t, tt.mean, measure.Pound); diff < -1 || diff > 1 {
			t.Errorf("%s: mean %d g, want %s lb", tt.name, months[0].Mean, tt.mean)
		}
		f := watch.Findings(weeks, months, season.OnSite{})
		if len(f) != 2 || f[0].Standing != tt.week || f[1].Standing != tt.avg {
			t.Errorf("%s: findings %+v", tt.name, f)
		}
	}
}

func TestVolumeAndAreaOnSiteAreWatched(t *testing.T) {
	t.Parallel()
	volume := func(v string) measure.Millilitres {
		ml, err := measure.Quantity{Value: v, Unit: measure.CubicYard}.Millilitres()
		if err != nil {
			t.Fatal(err)
		}
		return ml
	}
	area := func(v string) measure.SquareCentimetres {
		a, err := measure.SquareFeet(v)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	// WAC 173-350-220, table 220-A: 25 cubic yards on site. OAC 3745-560-01(D)(2):
	// 500 square feet. Each is one place's rule: a limit that is just met is kept.
	watch := season.Watch{OnSiteVolume: volume("25"), OnSiteArea: area("500"), WarnPercent: 90}
	tests := []struct {
		yards, feet  string
		volume, area season.Standing
	}{
		{"25.0", "500", season.Near, season.Near},
		{"25.1", "500.1", season.Over, season.Over},
		{"22.4", "449", season.Within, season.Within},
		{"22.5", "450", season.Near, season.Near},
	}
	for _, tt := range tests {
		f := watch.Findings(nil, nil, season.OnSite{Volume: volume(tt.yards), Area: area(tt.feet)})
		if len(f) != 2 || f[0].Standing != tt.volume || f[1].Standing != tt.area {
			t.Errorf("%s yd3, %s ft2: %+v", tt.yards, tt.feet, f)
		}
	}
	for actual, want := range map[measure.Millilitres]season.Standing{79: season.Within, 80: season.Near, 100: season.Near, 101: season.Over} {
		// The warning level is 80 % unless the garden sets another.
		if f := (season.Watch{OnSiteVolume: 100}).Findings(nil, nil, season.OnSite{Volume: actual}); f[0].Standing != want {
			t.Errorf("%d of 100 is %s, want %s", actual, f[0].Standing, want)
		}
	}
	if f := (season.Watch{}).Findings(nil, nil, season.OnSite{Volume: 1, Area: 1}); len(f) != 0 {
		t.Errorf("nothing is watched, yet %+v", f)
	}
}

func TestWeeksAtTheEdgesAreWholeOnlyWhenLookedUp(t *testing.T) {
	t.Parallel()
	// Spring 2026 begins on a Sunday, the last day of ISO week 9.
	spring := days("2026-03-01", "2026-06-01")
	if got := season.WholeWeeks(spring); got.String() != "2026-02-23/2026-06-01" {
		t.Errorf("whole weeks %v", got)
	}
	daily := []season.DayMass{{Day: measure.MustDay("2026-02-24"), Mass: 10}, {Day: measure.MustDay("2026-03-01"), Mass: 5},
		{Day: measure.MustDay("2026-02-22"), Mass: 99}, {Day: measure.MustDay("2026-05-31"), Mass: 7}}
	weeks := season.WeeksOf(daily, spring, true)
	if len(weeks) != 14 || weeks[0].Key != "2026-W09" || weeks[0].Received != 15 || !weeks[0].Whole || weeks[13].Received != 7 {
		t.Errorf("weeks %+v", weeks)
	}
	if part := season.WeeksOf(daily[1:], spring, false); part[0].Whole || !part[1].Whole || part[0].Received != 5 {
		t.Errorf("weeks %+v", part[:2])
	}
	// The Thursday of week 9 is in February: that week is not of this season's months.
	if m := season.MonthMeans(weeks, spring); len(m) != 3 || m[0].Month != "2026-03" || m[0].Weeks != 4 {
		t.Errorf("months %+v", m)
	}
	if season.WeeksOf(daily, days("2026-03-01", "2026-03-01"), true) != nil {
		t.Error("no days, no weeks")
	}
	if _, ok := season.HeaviestWeek(nil); ok {
		t.Error("no weeks, none heaviest")
	}
	if h, _ := season.HeaviestWeek(weeks); h.Key != "2026-W09" {
		t.Errorf("heaviest %+v", h)
	}
}
