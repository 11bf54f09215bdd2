package vermi

import (
	"encoding/json"
	"testing"
)

func TestDaysAreCivilDays(t *testing.T) {
	t.Parallel()
	// POSIX time: 2000-01-01 is 10,957 days after 1970-01-01; 2000 had a
	// leap day (ISO 8601, Gregorian calendar), 1900 had none.
	for text, want := range map[string]Day{"1970-01-01": 0, "2000-01-01": 10957, "2000-03-01": 10957 + 60, "1969-12-31": -1, "1900-03-01": -25508} {
		got, err := ParseDay(text)
		if err != nil || got != want || got.String() != text {
			t.Errorf("%s: got %d (%s), %v; want %d", text, got, got, err, want)
		}
	}
	for _, bad := range []string{"", "2025-02-29", "2025-1-1", "yesterday"} {
		if _, err := ParseDay(bad); err == nil {
			t.Errorf("%q is no day", bad)
		}
	}
	b, err := json.Marshal(day(0))
	var back Day
	if err != nil || string(b) != `"2025-03-01"` || json.Unmarshal(b, &back) != nil || back != day(0) {
		t.Errorf("on the wire: %s, back %s", b, back)
	}
	if json.Unmarshal([]byte(`"2025-02-30"`), &back) == nil || back != day(0) {
		t.Error("a bad day must be refused and change nothing")
	}
}
