package service

import (
	"cmp"
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
	"midden/internal/vermi"
)

// BinSeen is a bin as the records have it on a day.
type BinSeen struct {
	Bin      farm.Bin
	Day      measure.Day
	State    vermi.State
	LastTemp measure.Day // of the reading the temperature came from; zero: none
}

// oneBin is a bin with all that is known of it.
type oneBin struct {
	garden farm.Garden
	bin    farm.Bin
	record vermi.Record
	asOf   measure.Day
	today  measure.Day
	said   []farm.MaterialOverride // the garden's own figures
}

// lookAtBin reads one bin with all that is known of it in one round trip, as
// of a day; the zero day is today. also may ask for more. It refuses with
// bin.not_found, and with day.future a day ahead.
func (s *Service) lookAtBin(ctx context.Context, a Actor, garden, id uuid.UUID, day measure.Day, also func(*store.Batch)) (oneBin, error) {
	now := s.now()
	around := day
	if around.IsZero() {
		around = measure.DayIn(now, time.UTC)
	}
	var bin *store.Row[farm.Bin]
	var sections *store.Rows[farm.Section]
	var sites *store.Rows[farm.Site]
	var overrides *store.Rows[farm.MaterialOverride]
	var history store.BinHistory
	g, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) {
		bin, sections, sites, overrides = b.Bin(id), b.Sections(id), b.AllSites(), b.MaterialOverrides()
		history = b.BinHistory(id, around.Add(-rememberedDays))
		if also != nil {
			also(b)
		}
	})
	if err != nil {
		return oneBin{}, err
	}
	out := oneBin{garden: g, asOf: day, said: overrides.Values}
	if out.bin, err = bin.Or("bin.not_found", "no bin %s in this garden", id); err != nil {
		return out, err
	}
	if out.today, err = g.DayOf(now); err != nil {
		return out, err
	}
	if out.asOf.IsZero() {
		out.asOf = out.today
	}
	if out.asOf.After(out.today) {
		return out, farm.Refuse("day.future", "/day", "day: must not be after %s, today; got %s", out.today, out.asOf)
	}
	out.record = newBinPast(history).record(s.keeping(out.asOf, g, sites.Values, overrides.Values), out.bin, sections.Values)
	return out, nil
}

// BinState is a bin as the records have it at the end of a day; the zero day
// is today. It refuses with bin.not_found and day.future.
func (s *Service) BinState(ctx context.Context, a Actor, garden, id uuid.UUID, day measure.Day) (BinSeen, error) {
	x, err := s.lookAtBin(ctx, a, garden, id, day, nil)
	if err != nil {
		return BinSeen{}, err
	}
	return s.seenBin(x.bin, x.record, x.asOf), nil
}

func (s *Service) seenBin(b farm.Bin, r vermi.Record, day measure.Day) BinSeen {
	out := BinSeen{Bin: b, Day: day, State: s.recall.state(r)}
	for _, c := range r.Checks { // oldest first
		read := c.BedC
		if out.State.TempFrom == vermi.TempRoom {
			read = c.RoomC
		}
		if read != nil && c.On <= r.AsOf {
			out.LastTemp = day.Add(int(c.On - r.AsOf))
		}
	}
	return out
}

// BinAhead is a bin run forward from a day, with no more feedings.
type BinAhead struct {
	BinID uuid.UUID
	From  measure.Day
	Days  []vermi.ForecastDay
}

// MostAhead is how far a forecast goes, in days, and UsualAhead when nobody says.
const (
	MostAhead  = 60
	UsualAhead = 14
)

// BinForecast runs a bin forward from today. It refuses with bin.not_found,
// and with forecast.invalid more days than MostAhead.
func (s *Service) BinForecast(ctx context.Context, a Actor, garden, id uuid.UUID, days int) (BinAhead, error) {
	if days == 0 {
		days = UsualAhead
	}
	if days < 1 || days > MostAhead {
		return BinAhead{}, farm.Refuse("forecast.invalid", "/days", "days: must be between 1 and %d; got %d", MostAhead, days)
	}
	x, err := s.lookAtBin(ctx, a, garden, id, measure.Day{}, nil)
	if err != nil {
		return BinAhead{}, err
	}
	return BinAhead{id, x.asOf, vermi.Forecast(x.record, days)}, nil
}

// BinsToday is every bin that is not closed with its state, those in need most
// urgently first, then by name. Each state's needs are in that order too.
func (s *Service) BinsToday(ctx context.Context, a Actor, garden uuid.UUID) ([]BinSeen, error) {
	bins, records, today, err := s.allBins(ctx, a, garden)
	if err != nil {
		return nil, err
	}
	out := each(len(bins), func(i int) BinSeen { return s.seenBin(bins[i], records[bins[i].ID], today) })
	slices.SortStableFunc(out, func(x, y BinSeen) int { return cmp.Compare(y.urgency(), x.urgency()) })
	return out, nil
}

func (b BinSeen) urgency() vermi.Urgency {
	if len(b.State.Needs) == 0 {
		return vermi.Calm
	}
	return b.State.Needs[0].Urgency
}
