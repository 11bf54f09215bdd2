package measure

import (
	"cmp"
	"errors"
	"fmt"
	"time"
)

// Day is a civil day: a date on a garden's calendar, with no clock and no
// zone. The zero Day means "no day". Days are comparable and may be map keys.
//
// As text and JSON a Day is "YYYY-MM-DD"; the zero Day is the empty string.
type Day struct {
	n int32 // days since 0001-01-01, so that the zero Day matches the zero time.Time
}

// ErrDay is returned for text or numbers that are no day of the calendar.
var ErrDay = errors.New("not a day of the form YYYY-MM-DD")

const (
	secondsPerDay  = 24 * 60 * 60
	yearOneSeconds = 62_135_596_800 // from 0001-01-01 to the Unix epoch
)

func dayOfUTC(t time.Time) Day {
	return Day{int32((t.Unix() + yearOneSeconds) / secondsPerDay)}
}

// NewDay makes a day of the Gregorian calendar. It fails with ErrDay outside
// the years 1000 to 9999 and for dates such as 30 February.
func NewDay(year int, month time.Month, day int) (Day, error) {
	t := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	if y, m, d := t.Date(); year < 1000 || year > 9999 || y != year || m != month || d != day {
		return Day{}, fmt.Errorf("%w: year %d, month %d, day %d", ErrDay, year, int(month), day)
	}
	return dayOfUTC(t), nil
}

// ParseDay reads "YYYY-MM-DD" and nothing else. It fails with ErrDay.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || len(s) != len(time.DateOnly) || t.Year() < 1000 {
		return Day{}, fmt.Errorf("%w: %q", ErrDay, s)
	}
	return dayOfUTC(t), nil
}

// MustDay is ParseDay for constants and tests; it panics on a bad day.
func MustDay(s string) Day {
	d, err := ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// DayIn is the day on which instant t falls in loc. The zero time gives the
// zero Day in UTC.
func DayIn(t time.Time, loc *time.Location) Day {
	y, m, d := t.In(loc).Date()
	return dayOfUTC(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
}

// UTC is midnight UTC of the day: the form a database driver takes for a date.
// DayIn(d.UTC(), time.UTC) gives d back.
func (d Day) UTC() time.Time {
	return time.Unix(int64(d.n)*secondsPerDay-yearOneSeconds, 0).UTC()
}

// Start is the first instant of the day in loc: local midnight, or the end of
// the gap where clocks skip over midnight.
func (d Day) Start(loc *time.Location) time.Time {
	y, m, dd := d.UTC().Date()
	t := time.Date(y, m, dd, 0, 0, 0, 0, loc)
	if DayIn(t, loc).Before(d) {
		// Midnight falls in a gap and was read with the offset after it.
		if _, end := t.ZoneBounds(); !end.IsZero() {
			return end
		}
	}
	if h, mi, s := t.Clock(); h != 0 || mi != 0 || s != 0 {
		// Midnight falls in a gap and was read with the offset before it.
		if start, _ := t.ZoneBounds(); !start.IsZero() {
			return start
		}
	}
	return t
}

// Length is how long the day lasts in loc: 23 or 25 hours when clocks change.
func (d Day) Length(loc *time.Location) time.Duration {
	return d.Add(1).Start(loc).Sub(d.Start(loc))
}

// Date gives year, month and day of the month.
func (d Day) Date() (year int, month time.Month, day int) { return d.UTC().Date() }

// Year is the calendar year.
func (d Day) Year() int { return d.UTC().Year() }

// Month is the month of the year.
func (d Day) Month() time.Month { return d.UTC().Month() }

// Add moves by n days, back when n is negative.
func (d Day) Add(n int) Day { return Day{d.n + int32(n)} }

// AddMonths moves by n months and keeps the day of the month, or takes the
// month's last day when there is no such day (31 January + 1 is 28 or 29
// February).
func (d Day) AddMonths(n int) Day {
	y, m, dd := d.Date()
	first := time.Date(y, m+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return dayOfUTC(first).Add(min(dd, last) - 1)
}

// MonthStart is the first day of the month.
func (d Day) MonthStart() Day { return d.Add(1 - d.UTC().Day()) }

// Sub is the number of days from o to d.
func (d Day) Sub(o Day) int { return int(d.n) - int(o.n) }

// Compare is negative when d is before o, zero on the same day, else positive.
func (d Day) Compare(o Day) int { return cmp.Compare(d.n, o.n) }

// Before tells whether d is earlier than o.
func (d Day) Before(o Day) bool { return d.n < o.n }

// After tells whether d is later than o.
func (d Day) After(o Day) bool { return d.n > o.n }

// IsZero tells whether this is no day at all.
func (d Day) IsZero() bool { return d.n == 0 }

// Weekday is the day of the week.
func (d Day) Weekday() time.Weekday { return d.UTC().Weekday() }

// ISOWeek is the ISO 8601 week and the year that it belongs to.
func (d Day) ISOWeek() (year, week int) { return d.UTC().ISOWeek() }

// WeekStart is the Monday on or before the day (ISO 8601).
func (d Day) WeekStart() Day { return d.Add(-((int(d.Weekday()) + 6) % 7)) }

// String is "YYYY-MM-DD", or "" for the zero Day.
func (d Day) String() string {
	if d.IsZero() {
		return ""
	}
	return d.UTC().Format(time.DateOnly)
}

// MarshalText gives the String form.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads the String form; empty text is the zero Day. It fails
// with ErrDay.
func (d *Day) UnmarshalText(text []byte) error {
	if len(text) == 0 {
		*d = Day{}
		return nil
	}
	v, err := ParseDay(string(text))
	if err != nil {
		return err
	}
	*d = v
	return nil
}

// DayRange is a stretch of days, half-open: Start is in, End is not.
type DayRange struct {
	Start Day `json:"start"`
	End   Day `json:"end"`
}

// Contains tells whether day d is in the range.
func (r DayRange) Contains(d Day) bool { return !d.Before(r.Start) && d.Before(r.End) }

// Days is the number of days in the range; zero when End is not after Start.
func (r DayRange) Days() int { return max(0, r.End.Sub(r.Start)) }

// Overlaps tells whether the two ranges share a day.
func (r DayRange) Overlaps(o DayRange) bool {
	return r.Days() > 0 && o.Days() > 0 && r.Start.Before(o.End) && o.Start.Before(r.End)
}

// String is the ISO 8601 interval "start/end". The standard does not say
// whether the end is in; here it never is.
func (r DayRange) String() string { return r.Start.String() + "/" + r.End.String() }
