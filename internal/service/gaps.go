package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// Gaps is what still needs somebody in the days ahead.
type Gaps struct {
	Days   measure.DayRange
	Shifts []ShiftNow // open ones, the soonest first
	Bins   []farm.BinGap
}

// mostOpenShifts bounds the shifts of one answer.
const mostOpenShifts = 500

// Gaps lists the shifts with places left and the bins that nobody can visit,
// for the next farm.DaysAhead days.
func (s *Service) Gaps(ctx context.Context, a Actor, garden uuid.UUID) (Gaps, error) {
	now := s.now()
	// Wide enough for every time zone; the garden's own days are cut out below.
	from := s.from(now)
	wide := measure.DayRange{Start: from, End: from.Add(farm.DaysAhead + 3)}
	around := measure.DayRange{Start: wide.Start.Add(-farm.LookAround), End: wide.End.Add(farm.LookAround)}
	var shifts *store.Rows[farm.Shift]
	var bins *store.Rows[farm.Bin]
	var carers *store.Rows[farm.Availability]
	var covers *store.Rows[farm.Cover]
	g, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) {
		shifts = b.ShiftsBetween(wide, farm.ShiftOpen, now, mostOpenShifts)
		bins, carers, covers = b.AllBins(), b.Availabilities(), b.CoversBetween(around)
	})
	if err != nil {
		return Gaps{}, err
	}
	today, err := g.DayOf(now)
	if err != nil {
		return Gaps{}, err
	}
	out := Gaps{Days: measure.DayRange{Start: today, End: today.Add(farm.DaysAhead)}}
	for _, x := range shifts.Values {
		if out.Days.Contains(x.Day) {
			out.Shifts = append(out.Shifts, ShiftNow{x, x.State(now)})
		}
	}
	out.Bins = farm.BinGaps(bins.Values, carers.Values, covers.Values, out.Days)
	return out, nil
}
