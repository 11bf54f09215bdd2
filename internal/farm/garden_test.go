package farm_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func garden() farm.Garden {
	return farm.Garden{ID: uuid.New(), Name: "Alder Lane", TimeZone: "America/New_York", Hemisphere: farm.North,
		Units: measure.US, Settings: farm.DefaultSettings()}
}

func TestTheDefaultSettingsOfAGardenAreValid(t *testing.T) {
	t.Parallel()
	if err := garden().Validate(); err != nil {
		t.Error(err)
	}
}

func TestAGardenNamesEachSettingAtFault(t *testing.T) {
	t.Parallel()
	for field, spoil := range map[string]func(*farm.Garden){
		"/name":                              func(g *farm.Garden) { g.Name = " Alder" },
		"/time_zone":                         func(g *farm.Garden) { g.TimeZone = "Local" },
		"/hemisphere":                        func(g *farm.Garden) { g.Hemisphere = "east" },
		"/units":                             func(g *farm.Garden) { g.Units = "imperial" },
		"/settings/cover_mm":                 func(g *farm.Garden) { g.Settings.CoverMM = -1 },
		"/settings/moisture_drained_percent": func(g *farm.Garden) { g.Settings.MoistDrained = farm.Band{Low: 80, High: 70} },
		"/settings/heat_open_c":              func(g *farm.Garden) { g.Settings.HeatOpenC = 26 },
		"/settings/sharing_rule/kind":        func(g *farm.Garden) { g.Settings.Sharing.Kind = "by_luck" },
		"/settings/plan_prices/per_visit":    func(g *farm.Garden) { g.Settings.Prices.PerVisit = -1 },
		"/settings/plan_prices/load_slopes/2": func(g *farm.Garden) {
			g.Settings.Prices.LoadSlopes = [4]int64{0, 50, 40, 60}
		},
		"/settings/calendar/seasons": func(g *farm.Garden) { g.Settings.Calendar.Kind = farm.CustomCalendar },
	} {
		g := garden()
		spoil(&g)
		if e := farm.AsError(g.Validate()); e == nil || e.Field != field {
			t.Errorf("%s: got %v", field, e)
		}
	}
}

func TestSeasonsOfACustomCalendarDoNotOverlap(t *testing.T) {
	t.Parallel()
	season := func(key, start, end string) farm.CustomSeason {
		return farm.CustomSeason{Key: key, Label: key, Start: measure.MustDay(start), End: measure.MustDay(end)}
	}
	for _, c := range []struct {
		name    string
		seasons []farm.CustomSeason
		ok      bool
	}{
		{"one after the other", []farm.CustomSeason{season("a", "2026-01-01", "2026-03-01"), season("b", "2026-03-01", "2026-05-01")}, true},
		{"a shared day", []farm.CustomSeason{season("a", "2026-01-01", "2026-03-02"), season("b", "2026-03-01", "2026-05-01")}, false},
		{"a key used twice", []farm.CustomSeason{season("a", "2026-01-01", "2026-03-01"), season("a", "2026-03-01", "2026-05-01")}, false},
		{"no days", []farm.CustomSeason{season("a", "2026-01-01", "2026-01-01")}, false},
	} {
		g := garden()
		g.Settings.Calendar = farm.SeasonDates{Kind: farm.CustomCalendar, Seasons: c.seasons}
		if err := g.Validate(); (err == nil) != c.ok {
			t.Errorf("%s: got %v", c.name, err)
		}
	}
}

func TestADonationAfterMidnightCountsOnTheGardensDay(t *testing.T) {
	t.Parallel()
	g := garden()
	// 03:30 UTC is 23:30 of the day before in New York in summer (UTC-4).
	at := time.Date(2026, 7, 4, 3, 30, 0, 0, time.UTC)
	got, err := g.BookingDay(at, at.Add(time.Hour))
	if err != nil || got != measure.MustDay("2026-07-03") {
		t.Errorf("got %s, %v", got, err)
	}
	if _, err := g.BookingDay(at.Add(11*time.Minute), at); farm.CodeOf(err) != "day.future" {
		t.Errorf("got %v, want day.future", err)
	}
	if _, err := g.BookingDay(at.Add(9*time.Minute), at); err != nil {
		t.Errorf("a clock ten minutes fast is forgiven: %v", err)
	}
	g.Settings.OpenFrom = measure.MustDay("2026-07-04")
	if _, err := g.BookingDay(at, at); farm.CodeOf(err) != "day.closed" {
		t.Errorf("got %v, want day.closed", err)
	}
}

func TestTheSpreadOfAContainerFollowsThePublishedRange(t *testing.T) {
	t.Parallel()
	e := farm.Entered{Method: farm.ByContainer, Each: measure.Quantity{Value: "20", Unit: measure.Litre}, Count: 2, FillPct: 75}
	// 300 to 500 g/L about 400 is ±25 %: two standard deviations, so 125 ‰.
	w, err := e.Work("/mass", farm.Figure{Value: 400, Low: 300, High: 500}, farm.DefaultSettings())
	if err != nil || w.Net != 12000 || w.RelSDPermille != 125 {
		t.Errorf("got %+v, %v", w, err)
	}
	e.RelSDPermille = 40
	if w, _ := e.Work("/mass", farm.Figure{Value: 400}, farm.DefaultSettings()); w.RelSDPermille != 40 {
		t.Errorf("a stated spread counts; got %d ‰", w.RelSDPermille)
	}
}

func TestALotHasOneGiverAndUsesTheShelfLife(t *testing.T) {
	t.Parallel()
	day := measure.MustDay("2026-05-10")
	l := farm.Lot{Material: "peel", FromHousehold: uuid.New(), FromMember: uuid.New(), SiteID: uuid.New(), Place: farm.Shelf,
		Status: farm.LotAccepted, ReceivedOn: day, UseBy: day.Add(-1)}
	if e := farm.AsError(l.Validate()); e == nil || len(e.More) != 1 {
		t.Errorf("got %v, want two givers and the use-by day refused", e)
	}
	m := farm.Material{ShelfLifeDays: 4, Freezable: true}
	if got := farm.UseByFor(m, farm.Shelf, day); got != day.Add(4) {
		t.Errorf("got %s", got)
	}
	if got := farm.UseByFor(m, farm.Freezer, day); got != day.Add(farm.FrozenDays) {
		t.Errorf("got %s", got)
	}
}
