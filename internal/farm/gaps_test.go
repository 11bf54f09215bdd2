package farm_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestABinIsWithoutCoverWhenAVisitFallsOut(t *testing.T) {
	t.Parallel()
	// A Monday; the window ends on the Monday two weeks later.
	monday := measure.MustDay("2026-10-05")
	window := measure.DayRange{Start: monday, End: monday.Add(farm.DaysAhead)}
	ida, bo, cy := uuid.New(), uuid.New(), uuid.New()
	daily := farm.AnyDay
	on := func(who uuid.UUID, days ...time.Weekday) farm.Availability {
		week, err := farm.WeekOf(days)
		if err != nil {
			t.Fatal(err)
		}
		return farm.Availability{MemberID: who, Weekdays: week}
	}
	away := func(a farm.Availability, days ...int) farm.Availability {
		for _, n := range days {
			a.Exceptions = append(a.Exceptions, farm.DayException{Day: monday.Add(n)})
		}
		return a
	}
	cover := func(who, standIn uuid.UUID, from, until int) farm.Cover {
		return farm.Cover{KeeperID: who, StandInID: standIn, Days: measure.DayRange{Start: monday.Add(from), End: monday.Add(until)}}
	}
	const alone, all, none, stand = "its only keeper is away", "all of its keepers are away", "it has no keeper", "its keeper is away and the stand-in can't come"
	for name, c := range map[string]struct {
		keepers []uuid.UUID
		carers  []farm.Availability
		covers  []farm.Cover
		want    []string
	}{
		"visited every day":                    {[]uuid.UUID{ida}, []farm.Availability{daily(ida)}, nil, nil},
		"no keeper":                            {nil, []farm.Availability{daily(ida)}, nil, []string{"0-14 " + none}},
		"its keeper left the garden":           {[]uuid.UUID{ida}, []farm.Availability{daily(bo)}, nil, []string{"0-14 " + none}},
		"its only keeper away two days":        {[]uuid.UUID{ida}, []farm.Availability{away(daily(ida), 3, 4)}, nil, []string{"3-5 " + alone}},
		"another keeper comes":                 {[]uuid.UUID{ida, bo}, []farm.Availability{away(daily(ida), 3, 4), daily(bo)}, nil, nil},
		"both away on one day":                 {[]uuid.UUID{ida, bo}, []farm.Availability{away(daily(ida), 3, 4), away(daily(bo), 4, 5)}, nil, []string{"4-5 " + all}},
		"Saturdays only":                       {[]uuid.UUID{ida}, []farm.Availability{on(ida, time.Saturday)}, nil, nil},
		"the first Saturday falls out":         {[]uuid.UUID{ida}, []farm.Availability{away(on(ida, time.Saturday), 5)}, nil, []string{"0-12 " + alone}},
		"the last Saturday falls out":          {[]uuid.UUID{ida}, []farm.Availability{away(on(ida, time.Saturday), 12)}, nil, []string{"6-14 " + alone}},
		"a Saturday beyond the window is free": {[]uuid.UUID{ida}, []farm.Availability{away(on(ida, time.Saturday), 19)}, nil, []string{"13-14 " + alone}},
		"Tuesdays and Fridays":                 {[]uuid.UUID{ida, bo}, []farm.Availability{on(ida, time.Tuesday), on(bo, time.Friday)}, nil, nil},
		"a Friday falls out":                   {[]uuid.UUID{ida, bo}, []farm.Availability{on(ida, time.Tuesday), away(on(bo, time.Friday), 4)}, nil, []string{"2-8 " + all}},
		"a stand-in comes":                     {[]uuid.UUID{ida}, []farm.Availability{away(daily(ida), 3, 4), daily(cy)}, []farm.Cover{cover(ida, cy, 3, 5)}, nil},
		"a stand-in comes too short":           {[]uuid.UUID{ida}, []farm.Availability{away(daily(ida), 3, 4, 5), daily(cy)}, []farm.Cover{cover(ida, cy, 3, 5)}, []string{"5-6 " + alone}},
		"the stand-in is away too":             {[]uuid.UUID{ida}, []farm.Availability{daily(ida), away(daily(cy), 4)}, []farm.Cover{cover(ida, cy, 3, 5)}, []string{"4-5 " + stand}},
		"the stand-in left":                    {[]uuid.UUID{ida}, []farm.Availability{daily(ida)}, []farm.Cover{cover(ida, cy, 3, 5)}, []string{"3-5 " + stand}},
		"somebody else's stand-in":             {[]uuid.UUID{ida}, []farm.Availability{away(daily(ida), 3), daily(cy)}, []farm.Cover{cover(bo, cy, 3, 5)}, []string{"3-4 " + alone}},
		"never and once":                       {[]uuid.UUID{ida}, []farm.Availability{{MemberID: ida, Exceptions: []farm.DayException{{Day: monday.Add(2), Available: true}}}}, nil, []string{"0-2 " + alone, "3-14 " + alone}},
	} {
		bins := []farm.Bin{{ID: uuid.New(), Status: farm.BinInUse, Keepers: c.keepers}, {ID: uuid.New(), Status: farm.BinClosed}}
		var got []string
		for _, g := range farm.BinGaps(bins, c.carers, c.covers, window) {
			if g.BinID != bins[0].ID {
				t.Errorf("%s: a closed bin is listed", name)
			}
			got = append(got, fmt.Sprintf("%d-%d %s", g.Days.Start.Sub(monday), g.Days.End.Sub(monday), g.Why))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
}
