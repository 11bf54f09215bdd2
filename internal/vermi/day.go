package vermi

import "time"

// Day is a civil day, counted from 1970-01-01 (day 0). It has no time zone:
// the caller decides which local day an instant belongs to.
type Day int

// DayOf is the day of a civil date. Out-of-range parts roll over, as in
// time.Date.
func DayOf(year int, month time.Month, day int) Day {
	secs := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix()
	return Day(secs / 86400)
}

// ParseDay reads YYYY-MM-DD.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, err
	}
	return DayOf(t.Date()), nil
}

// String prints YYYY-MM-DD.
func (d Day) String() string {
	return time.Unix(int64(d)*86400, 0).UTC().Format(time.DateOnly)
}

// MarshalText writes YYYY-MM-DD.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads YYYY-MM-DD.
func (d *Day) UnmarshalText(b []byte) error {
	v, err := ParseDay(string(b))
	if err == nil {
		*d = v
	}
	return err
}
