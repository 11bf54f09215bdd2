package farm_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestAnExceptionWinsOverTheWeeklyPattern(t *testing.T) {
	t.Parallel()
	week, err := farm.WeekOf([]time.Weekday{time.Monday, time.Thursday})
	if err != nil {
		t.Fatal(err)
	}
	a := farm.Availability{Weekdays: week, Exceptions: []farm.DayException{
		{Day: measure.MustDay("2026-10-05"), Available: false}, {Day: measure.MustDay("2026-10-06"), Available: true}}}
	// 5 October 2026 is a Monday (ISO 8601 calendar).
	for day, want := range map[string]bool{"2026-10-05": false, "2026-10-06": true, "2026-10-07": false, "2026-10-08": true, "2026-10-12": true, "2026-10-11": false} {
		if got := a.On(measure.MustDay(day)); got != want {
			t.Errorf("%s: got %v", day, got)
		}
	}
	for d := range 7 {
		if !farm.AnyDay(uuid.New()).On(measure.MustDay("2026-10-05").Add(d)) {
			t.Errorf("who never said can come %d days later", d)
		}
	}
}
