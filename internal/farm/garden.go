package farm

import (
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Hemisphere decides which months are spring.
type Hemisphere string

// The hemispheres.
const (
	North Hemisphere = "north"
	South Hemisphere = "south"
)

// Garden is the tenant: everything else belongs to one.
type Garden struct {
	ID         uuid.UUID
	Name       string
	TimeZone   string // IANA name, such as "Europe/Lisbon"
	Hemisphere Hemisphere
	Units      measure.System
	Settings   Settings
	CreatedAt  time.Time
	Version    int
}

// Settings are a garden's choices. Every figure here is common practice
// unless a comment names a source, and local rules come first: they are
// settings with a note because rules differ from place to place.
type Settings struct {
	OpenFrom         measure.Day `json:"open_from"` // the books are open from this day on; zero: always
	Calendar         SeasonDates `json:"calendar"`
	Sharing          SharingRule `json:"sharing_rule"`
	Prices           PlanPrices  `json:"plan_prices"`
	BeddingAgeDays   int         `json:"bedding_age_days"`   // bedding counts as aged after this many days
	CoverMM          int         `json:"cover_mm"`           // least bedding over every feeding
	MoistDrained     Band        `json:"moist_drained"`      // target moisture of fed scraps, %, bins that drain
	MoistUndrained   Band        `json:"moist_undrained"`    // the same for bins that do not
	CarbonToNitrogen Band        `json:"carbon_to_nitrogen"` // target of fed scraps with their bedding
	HeatNoFeedC      float64     `json:"heat_no_feed_c"`     // and rising: do not feed
	HeatOpenC        float64     `json:"heat_open_c"`        // open the feed layer, add cool bedding
	HeatCallC        float64     `json:"heat_call_c"`        // call the keeper
	ColdFeedLittleC  float64     `json:"cold_feed_little_c"` // feed little below this
	WeeklyLimitG     int64       `json:"weekly_limit_g"`     // most scraps a week under local rules; 0: none set
	VolumeLimitL     int64       `json:"volume_limit_l"`     // most material on site; 0: none set
	AreaLimitM2      float64     `json:"area_limit_m2"`      // most ground used; 0: none set
	LimitsNote       string      `json:"limits_note"`        // which local rule the limits come from
	DryBeddingG      int64       `json:"dry_bedding_g"`      // dry bedding kept back for rescuing wet bins
	DefaultSiteID    uuid.UUID   `json:"default_site_id"`
	EstimateSDPct    int         `json:"estimate_sd_pct"`  // spread of an estimate by eye
	ContainerSDPct   int         `json:"container_sd_pct"` // spread of a container count, when no better is stated
	ScaleSDPermille  int         `json:"scale_sd_permille"`
	AcceptWithoutTag bool        `json:"accept_without_tag"` // lots of unknown givers are taken
}

// Band is a range, in percent or as a ratio.
type Band struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// CalendarKind is how a garden cuts its year.
type CalendarKind string

// Kinds of calendar. Meteorological seasons follow the hemisphere.
const (
	Meteorological CalendarKind = "meteorological"
	CustomCalendar CalendarKind = "custom"
)

// SeasonDates is a garden's season calendar; Seasons only for a custom one.
type SeasonDates struct {
	Kind    CalendarKind   `json:"kind"`
	Seasons []CustomSeason `json:"seasons,omitempty"`
}

// CustomSeason is a season of the garden's own. End is not part of it.
type CustomSeason struct {
	Key   string      `json:"key"`
	Label string      `json:"label"`
	Start measure.Day `json:"start"`
	End   measure.Day `json:"end"`
}

// SharingKind is how castings are shared among contributors.
type SharingKind string

// Kinds of sharing.
const (
	ShareEqually  SharingKind = "equal"
	ShareByScraps SharingKind = "by_scraps"
	ShareByHours  SharingKind = "by_hours"
)

// SharingRule is how castings are shared; ReservePct is kept for garden beds.
type SharingRule struct {
	Kind       SharingKind `json:"kind"`
	ReservePct float64     `json:"reserve_pct"`
}

// PlanPrices is what the planner weighs against what, in points per kg.
// LoadSlopes price the first 60 % of a bin's room, then to 80, 90 and 100 %.
type PlanPrices struct {
	PerKgEaten   int64    `json:"per_kg_eaten"`
	PerVisit     int64    `json:"per_visit"`
	Per100mKg    int64    `json:"per_100m_kg"`
	HoldPerKgDay int64    `json:"hold_per_kg_day"`
	ThawPerKg    int64    `json:"thaw_per_kg"`
	LoadSlopes   [4]int64 `json:"load_slopes"`
}

// DefaultSettings are what a new garden starts with (common practice, no
// source). No C:N figure for worm beds was found, so that band is the wide
// "acceptable" one of The Composting Handbook (2022), Table 4.2 (secondary copy).
func DefaultSettings() Settings {
	return Settings{
		Calendar: SeasonDates{Kind: Meteorological},
		Sharing:  SharingRule{Kind: ShareEqually, ReservePct: 20},
		Prices: PlanPrices{PerKgEaten: 10000, Per100mKg: 20, HoldPerKgDay: 10, ThawPerKg: 100,
			LoadSlopes: [4]int64{0, 50, 200, 800}},
		CarbonToNitrogen: Band{20, 60},
		BeddingAgeDays:   14,
		CoverMM:          50,
		MoistDrained:     Band{70, 80},
		MoistUndrained:   Band{65, 75},
		HeatNoFeedC:      27,
		HeatOpenC:        30,
		HeatCallC:        35,
		ColdFeedLittleC:  10,
		DryBeddingG:      5000,
		EstimateSDPct:    30,
		ContainerSDPct:   15,
		ScaleSDPermille:  5,
		AcceptWithoutTag: true,
	}
}

// Location is the garden's time zone. Days are worked out in it, never in SQL.
func (g Garden) Location() (*time.Location, error) {
	if known, ok := zones.Load(g.TimeZone); ok {
		return known.(*time.Location), nil
	}
	loc, err := time.LoadLocation(g.TimeZone)
	if err != nil || g.TimeZone == "" || g.TimeZone == "Local" {
		return nil, Refuse("garden.time_zone", "/time_zone",
			"time_zone: must be an IANA name such as Europe/Lisbon; got %q", g.TimeZone)
	}
	zones.Store(g.TimeZone, loc)
	return loc, nil
}

// zones keeps the few hundred zones there are once they were read.
var zones sync.Map

// Validate refuses with garden.invalid or garden.time_zone.
func (g Garden) Validate() error {
	var f Faults
	f.Keep(CheckName("garden.invalid", "/name", g.Name, 120))
	_, err := g.Location()
	f.Keep(err)
	if g.Hemisphere != North && g.Hemisphere != South {
		f.Add("garden.invalid", "/hemisphere", "hemisphere: must be north or south; got %q", g.Hemisphere)
	}
	if g.Units != measure.Metric && g.Units != measure.US {
		f.Add("garden.invalid", "/units", "units: must be metric or us; got %q", g.Units)
	}
	g.Settings.check(&f)
	return f.Err()
}

func (s Settings) check(f *Faults) {
	within := func(field string, v, low, high float64, unit string) {
		if !(v >= low && v <= high) {
			f.Add("garden.invalid", "/settings/"+field,
				"%s: must be between %g and %g %s; got %g", field, low, high, unit, v)
		}
	}
	within("bedding_age_days", float64(s.BeddingAgeDays), 0, 365, "days")
	within("cover_mm", float64(s.CoverMM), 0, 500, "mm")
	for _, b := range []struct {
		field string
		band  Band
	}{{"moisture_drained_percent", s.MoistDrained}, {"moisture_undrained_percent", s.MoistUndrained}} {
		within(b.field+"/low", b.band.Low, 1, 99, "%")
		within(b.field+"/high", b.band.High, 1, 99, "%")
		if b.band.Low >= b.band.High {
			f.Add("garden.invalid", "/settings/"+b.field, "%s: low must be below high; got %g to %g %%",
				b.field, b.band.Low, b.band.High)
		}
	}
	within("carbon_to_nitrogen/low", s.CarbonToNitrogen.Low, 1, 200, "")
	within("carbon_to_nitrogen/high", s.CarbonToNitrogen.High, s.CarbonToNitrogen.Low, 200, "")
	s.checkCalendar(f)
	if !oneOf(s.Sharing.Kind, []SharingKind{ShareEqually, ShareByScraps, ShareByHours}) {
		f.Add("garden.invalid", "/settings/sharing_rule/kind", "kind: must be equal, by_scraps or by_hours; got %q", s.Sharing.Kind)
	}
	within("sharing_rule/reserve_percent", s.Sharing.ReservePct, 0, 100, "%")
	p := s.Prices
	within("plan_prices/per_kg_eaten", float64(p.PerKgEaten), 1, 1e6, "points")
	within("plan_prices/per_visit", float64(p.PerVisit), 0, 1e6, "points")
	within("plan_prices/per_100m_kg", float64(p.Per100mKg), 0, 1e4, "points")
	within("plan_prices/hold_per_kg_day", float64(p.HoldPerKgDay), 0, 1e4, "points")
	within("plan_prices/thaw_per_kg", float64(p.ThawPerKg), 0, 1e4, "points")
	least := 0.0
	for i, v := range p.LoadSlopes { // rising, so that the fuller half of a bin is never the cheaper one
		within(fmt.Sprintf("plan_prices/load_slopes/%d", i), float64(v), least, 1e5, "points")
		least = float64(v)
	}
	within("heat_no_feed_c", s.HeatNoFeedC, 15, 45, "°C")
	within("heat_open_c", s.HeatOpenC, s.HeatNoFeedC, 45, "°C")
	within("heat_call_c", s.HeatCallC, s.HeatOpenC, 50, "°C")
	within("cold_feed_little_c", s.ColdFeedLittleC, 0, 20, "°C")
	within("weekly_limit_g", float64(s.WeeklyLimitG), 0, 1e9, "g")
	within("volume_limit_l", float64(s.VolumeLimitL), 0, 1e7, "L")
	within("area_limit_m2", s.AreaLimitM2, 0, 1e6, "m²")
	within("dry_bedding_reserve_g", float64(s.DryBeddingG), 0, 1e8, "g")
	within("estimate_sd_percent", float64(s.EstimateSDPct), 0, 200, "%")
	within("container_sd_percent", float64(s.ContainerSDPct), 0, 200, "%")
	within("scale_sd_permille", float64(s.ScaleSDPermille), 0, 200, "‰")
	if utf8.RuneCountInString(s.LimitsNote) > 1000 {
		f.Add("garden.invalid", "/settings/limits_note", "limits_note: must be at most 1000 characters")
	}
}

func (s Settings) checkCalendar(f *Faults) {
	bad := func(at, format string, args ...any) {
		f.Add("garden.invalid", "/settings/calendar"+at, format, args...)
	}
	switch s.Calendar.Kind {
	case Meteorological:
		if len(s.Calendar.Seasons) > 0 {
			bad("/seasons", "seasons: a meteorological calendar has none of its own")
		}
		return
	case CustomCalendar:
	default:
		bad("/kind", "kind: must be meteorological or custom; got %q", s.Calendar.Kind)
		return
	}
	if n := len(s.Calendar.Seasons); n < 1 || n > 200 {
		bad("/seasons", "seasons: a custom calendar has between 1 and 200; got %d", n)
	}
	seen := map[string]bool{}
	for i, x := range s.Calendar.Seasons {
		at := fmt.Sprintf("/seasons/%d", i)
		days := measure.DayRange{Start: x.Start, End: x.End}
		switch {
		case x.Start.IsZero(), x.End.IsZero(), days.Days() < 1, days.Days() > 3*366:
			bad(at+"/end", "end: a season lasts between a day and three years; got %s", days)
		case x.Key == "", seen[x.Key]:
			bad(at+"/key", "key: must be set and used once; got %q", x.Key)
		}
		seen[x.Key] = true
		for _, y := range s.Calendar.Seasons[:i] {
			if days.Overlaps(measure.DayRange{Start: y.Start, End: y.End}) {
				bad(at+"/start", "start: the season overlaps %q", y.Key)
			}
		}
	}
}

// DayOf is the garden-local day of an instant.
func (g Garden) DayOf(t time.Time) (measure.Day, error) {
	loc, err := g.Location()
	if err != nil {
		return measure.Day{}, err
	}
	return measure.DayIn(t, loc), nil
}

// aheadOfClock forgives a phone whose clock runs fast.
const aheadOfClock = 10 * time.Minute

// BookingDay is the day on which something that occurred at `at` counts. It
// refuses with day.future what lies ahead of now and with day.closed what lies
// before the garden's open period.
func (g Garden) BookingDay(at, now time.Time) (measure.Day, error) {
	if at.After(now.Add(aheadOfClock)) {
		return measure.Day{}, Refuse("day.future", "/occurred_at",
			"occurred_at: must not lie ahead; got %s at %s", at.UTC().Format(time.RFC3339), now.UTC().Format(time.RFC3339))
	}
	d, err := g.DayOf(at)
	if err != nil {
		return measure.Day{}, err
	}
	return d, g.CheckOpen(d)
}

// CheckOpen refuses with day.closed a day before the garden's open period.
func (g Garden) CheckOpen(d measure.Day) error {
	if open := g.Settings.OpenFrom; !open.IsZero() && d.Before(open) {
		return Refuse("day.closed", "/occurred_at", "occurred_at: the books are open from %s; got %s", open, d)
	}
	return nil
}

// CheckName refuses a name that is empty, too long, or holds control characters.
func CheckName(code Code, field, name string, longest int) error {
	n := utf8.RuneCountInString(name)
	plain := strings.IndexFunc(name, unicode.IsControl) < 0 && utf8.ValidString(name)
	if strings.TrimSpace(name) == name && n >= 1 && n <= longest && plain {
		return nil
	}
	return Refuse(code, field, "%s: must be 1 to %d printable characters without space around them; got %s",
		strings.TrimPrefix(field, "/"), longest, quoteShort(name))
}

// CheckText refuses a free text that is too long or not text at all; empty is fine.
func CheckText(code Code, field, text string, longest int) error {
	bad := func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' && r != '\r' }
	if utf8.RuneCountInString(text) <= longest && utf8.ValidString(text) && strings.IndexFunc(text, bad) < 0 {
		return nil
	}
	return Refuse(code, field, "%s: must be at most %d characters of plain text", strings.TrimPrefix(field, "/"), longest)
}

func quoteShort(s string) string {
	if utf8.RuneCountInString(s) > 40 {
		return fmt.Sprintf("%d characters", utf8.RuneCountInString(s))
	}
	return fmt.Sprintf("%q", s)
}

// Fold is the form a name is searched by: lower case, single spaces.
func Fold(name string) string {
	return strings.Join(strings.Fields(strings.ToLower(name)), " ")
}
