package farm

import (
	"github.com/google/uuid"

	"midden/internal/measure"
)

// DaysAhead is how far ahead shifts and bins without cover are shown.
const DaysAhead = 14

// LookAround is how many days before and after a window count for judging how
// long a stretch without a visit is: a weekly pattern shows within it.
const LookAround = 7

// BinGap is a stretch of days on which nobody can visit a bin.
type BinGap struct {
	BinID uuid.UUID
	Days  measure.DayRange
	Why   string
}

// BinGaps lists, bin by bin, the days of a window on which nobody can visit
// it, as far as that is longer than its keepers' weekly pattern leaves it
// alone anyway: a bin visited on Saturdays only is not without cover on Sunday,
// but it is when a Saturday falls out. A keeper with a stand-in counts as away.
// carers are the members who care for bins; covers those of the window and of
// LookAround days on both sides.
func BinGaps(bins []Bin, carers []Availability, covers []Cover, window measure.DayRange) []BinGap {
	r := roster{carers: map[uuid.UUID]Availability{}, covers: map[uuid.UUID][]Cover{}}
	for _, a := range carers {
		r.carers[a.MemberID] = a
	}
	for _, c := range covers {
		r.covers[c.KeeperID] = append(r.covers[c.KeeperID], c)
	}
	gaps := []BinGap{}
	for _, b := range bins {
		if b.Status != BinClosed {
			gaps = append(gaps, r.gaps(b, window)...)
		}
	}
	return gaps
}

// roster is who cares for bins, by member, and who stands in, by keeper.
type roster struct {
	carers map[uuid.UUID]Availability
	covers map[uuid.UUID][]Cover
}

func (r roster) gaps(b Bin, window measure.DayRange) []BinGap {
	usual, keepers := r.usualPause(b)
	var out []BinGap
	start := window.Start.Add(-LookAround)
	for d := start; ; d = d.Add(1) {
		end := window.End.Add(LookAround)
		if d.Before(end) && !r.visited(b, d) {
			continue
		}
		from, until := later(start, window.Start), earlier(d, window.End)
		if d.Sub(start) > usual && from.Before(until) {
			days := measure.DayRange{Start: from, End: until}
			out = append(out, BinGap{BinID: b.ID, Days: days, Why: r.why(b, keepers, days)})
		}
		if start = d.Add(1); !d.Before(end) {
			return out
		}
	}
}

// visited tells whether somebody can come to the bin on a day.
func (r roster) visited(b Bin, d measure.Day) bool {
	for _, k := range b.Keepers {
		who := k
		for _, c := range r.covers[k] {
			if c.Days.Contains(d) {
				who = c.StandInID
			}
		}
		if a, cares := r.carers[who]; cares && a.On(d) {
			return true
		}
	}
	return false
}

// usualPause is the longest stretch of days without a visit that the keepers'
// weekly pattern leaves, and how many keepers there are. Without any day it is 0.
func (r roster) usualPause(b Bin) (pause, keepers int) {
	var week [7]bool
	for _, k := range b.Keepers {
		if a, cares := r.carers[k]; cares {
			keepers++
			for i, on := range a.Weekdays {
				week[i] = week[i] || on
			}
		}
	}
	if week == [7]bool{} {
		return 0, keepers
	}
	run := 0
	for i := range 14 { // twice round, for the pause over the week's end
		if run++; week[i%7] {
			run = 0
		}
		pause = max(pause, run)
	}
	return pause, keepers
}

func (r roster) why(b Bin, keepers int, days measure.DayRange) string {
	for _, k := range b.Keepers {
		for _, c := range r.covers[k] {
			if c.Days.Overlaps(days) {
				return "its keeper is away and the stand-in can't come"
			}
		}
	}
	switch keepers {
	case 0:
		return "it has no keeper"
	case 1:
		return "its only keeper is away"
	}
	return "all of its keepers are away"
}

func later(a, b measure.Day) measure.Day {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b measure.Day) measure.Day {
	if a.Before(b) {
		return a
	}
	return b
}
