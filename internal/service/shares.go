package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// Shares is what contributors are due of a season's castings. Castings are
// those of the harvests of the season: what is left of them and what was given.
type Shares struct {
	Days     measure.DayRange
	Rule     farm.SharingRule
	Castings measure.Grams
	Reserved measure.Grams
	Shares   []farm.Share
}

// Shares shares a season's castings out under the garden's rule; an empty key
// is the season of today. It refuses with season.unknown. The garden is read
// first, because its calendar says which days the season has.
func (s *Service) Shares(ctx context.Context, a Actor, garden uuid.UUID, key string) (Shares, error) {
	g, _, err := s.read(ctx, a, garden, farm.SeePeople, func(*store.Batch) {})
	if err != nil {
		return Shares{}, err
	}
	cal, err := calendarOf(g)
	if err != nil {
		return Shares{}, err
	}
	which, ok := cal.SeasonOf(cal.DayOf(s.now()))
	if key != "" {
		if which, err = cal.ByKey(key); err != nil {
			return Shares{}, err
		}
	} else if !ok {
		return Shares{}, farm.Refuse("season.unknown", "/season", "season: today lies in no season of this garden's calendar; name one")
	}
	var castings *store.Row[int64]
	var from *store.Rows[farm.Contributor]
	_, _, err = s.read(ctx, a, garden, farm.SeePeople, func(b *store.Batch) {
		castings, from = b.CastingsOf(which.DayRange), b.Contributors(which.DayRange)
	})
	if err != nil {
		return Shares{}, err
	}
	out := Shares{Days: which.DayRange, Rule: g.Settings.Sharing, Castings: measure.Grams(castings.Value)}
	out.Reserved, out.Shares = out.Rule.Apply(out.Castings, from.Values)
	return out, nil
}
