package season

import (
	"fmt"
	"math/big"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Week is what was received in an ISO 8601 week, Monday to Sunday, rejected
// loads included: they stood on site too.
type Week struct {
	Key      string        `json:"week"` // "2026-W10"
	Start    measure.Day   `json:"start"`
	Received measure.Grams `json:"received_g"`
	Whole    bool          `json:"whole"` // false when days outside the season are not counted
}

// MonthWeeks is the weekly mean of a month. A week counts to the month that
// holds its Thursday, as ISO 8601 gives weeks to years.
type MonthWeeks struct {
	Month string        `json:"month"` // "2026-03"
	Weeks int           `json:"weeks"`
	Mean  measure.Grams `json:"mean_received_g_per_week"`
}

// WholeWeeks widens a range to the Mondays around it: the days to ask for so
// that the first and last week are whole.
func WholeWeeks(r measure.DayRange) measure.DayRange {
	return measure.DayRange{Start: r.Start.WeekStart(), End: r.End.Add(6).WeekStart()}
}

// WeeksOf sums what was received by week, for every week that touches r. Whole
// says that daily covers WholeWeeks(r), not only r. Days elsewhere are ignored.
func WeeksOf(daily []DayMass, r measure.DayRange, whole bool) []Week {
	if r.Days() == 0 {
		return nil
	}
	span := WholeWeeks(r)
	weeks := make([]Week, 0, span.Days()/7)
	for d := span.Start; d.Before(span.End); d = d.Add(7) {
		y, w := d.ISOWeek()
		inside := !d.Before(r.Start) && !d.Add(7).After(r.End)
		weeks = append(weeks, Week{Key: fmt.Sprintf("%04d-W%02d", y, w), Start: d, Whole: whole || inside})
	}
	for _, m := range daily {
		if span.Contains(m.Day) {
			weeks[m.Day.Sub(span.Start)/7].Received += m.Mass
		}
	}
	return weeks
}

// HeaviestWeek is the week with most received, the first of equals; ok is
// false when there is none.
func HeaviestWeek(weeks []Week) (heaviest Week, ok bool) {
	for i, w := range weeks {
		if i == 0 || w.Received > heaviest.Received {
			heaviest = w
		}
	}
	return heaviest, len(weeks) > 0
}

// MonthMeans gives the weekly mean of each month, half to even. A week whose
// Thursday lies outside r belongs to the season before or after.
func MonthMeans(weeks []Week, r measure.DayRange) []MonthWeeks {
	var out []MonthWeeks
	var sum measure.Grams
	for _, w := range weeks {
		thursday := w.Start.Add(3)
		if !r.Contains(thursday) {
			continue
		}
		month := monthKey(thursday)
		if len(out) == 0 || out[len(out)-1].Month != month {
			out = append(out, MonthWeeks{Month: month})
			sum = 0
		}
		m := &out[len(out)-1]
		m.Weeks++
		sum += w.Received
		if mean, err := measure.RoundHalfEven(big.NewRat(int64(sum), int64(m.Weeks))); err == nil {
			m.Mean = measure.Grams(mean)
		}
	}
	return out
}

func monthKey(d measure.Day) string {
	y, m, _ := d.Date()
	return fmt.Sprintf("%04d-%02d", y, m)
}

// Watch holds a garden's own thresholds; zero is not watched. Local rules
// differ from place to place and change: the numbers and the note are the
// garden's, from its local authority.
type Watch struct {
	WeekMax      measure.Grams             `json:"week_max_g"`
	WeekMean     measure.Grams             `json:"week_mean_g"` // mean week of any month
	OnSiteVolume measure.Millilitres       `json:"on_site_volume_ml"`
	OnSiteArea   measure.SquareCentimetres `json:"on_site_area_cm2"`
	WarnPercent  int                       `json:"warn_percent"` // of a limit; 0 is 80
	Note         string                    `json:"note"`         // whose rule, as of when
}

func (w Watch) check(faults *farm.Faults) {
	if w.WeekMax < 0 || w.WeekMean < 0 || w.OnSiteVolume < 0 || w.OnSiteArea < 0 {
		faults.Add(CodeReportSettings, "/watch", "thresholds: must not be below zero; zero is not watched")
	}
	if w.WarnPercent < 0 || w.WarnPercent > 100 {
		faults.Add(CodeReportSettings, "/watch/warn_percent", "warning level: must be between 0 and 100 %%; got %d", w.WarnPercent)
	}
}

// OnSite is the most that stood on site at one time: feedstock, working bins
// and castings.
type OnSite struct {
	Volume measure.Millilitres       `json:"volume_ml"`
	Area   measure.SquareCentimetres `json:"area_cm2"`
}

// Standing is how a value lies to its threshold.
type Standing string

// A value equal to the limit is still within the rule, but near.
const (
	Within Standing = "within"
	Near   Standing = "near"
	Over   Standing = "over"
)

// Finding compares one watched value with the garden's limit. Values are in
// the unit named: g, mL or cm2.
type Finding struct {
	What     string   `json:"what"` // week_max, week_mean, on_site_volume, on_site_area
	When     string   `json:"when"` // the week or month; empty for the season
	Actual   int64    `json:"actual"`
	Limit    int64    `json:"limit"`
	Unit     string   `json:"unit"`
	Standing Standing `json:"standing"`
}

// Findings compares the watched values with the garden's thresholds.
func (w Watch) Findings(weeks []Week, months []MonthWeeks, site OnSite) []Finding {
	out := []Finding{}
	add := func(what, when, unit string, actual, limit int64) {
		if limit > 0 {
			out = append(out, Finding{What: what, When: when, Unit: unit, Actual: actual, Limit: limit,
				Standing: w.standing(actual, limit)})
		}
	}
	if h, ok := HeaviestWeek(weeks); ok {
		add("week_max", h.Key, "g", int64(h.Received), int64(w.WeekMax))
	}
	var top MonthWeeks
	for i, m := range months {
		if i == 0 || m.Mean > top.Mean {
			top = m
		}
	}
	if top.Weeks > 0 {
		add("week_mean", top.Month, "g", int64(top.Mean), int64(w.WeekMean))
	}
	add("on_site_volume", "", "mL", int64(site.Volume), int64(w.OnSiteVolume))
	add("on_site_area", "", "cm2", int64(site.Area), int64(w.OnSiteArea))
	return out
}

func (w Watch) standing(actual, limit int64) Standing {
	warn := int64(w.WarnPercent)
	if warn == 0 {
		warn = 80
	}
	switch {
	case actual > limit:
		return Over
	case big.NewRat(actual, limit).Cmp(big.NewRat(warn, 100)) >= 0:
		return Near
	}
	return Within
}
