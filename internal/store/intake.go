package store

import (
	"github.com/google/uuid"

	"midden/internal/ledger"
	"midden/internal/measure"
)

// IntakeDay is what came of one material at one site on one day, less what was
// undone. Rejected is what was turned away or sorted out that day.
type IntakeDay struct {
	Day      measure.Day
	Site     uuid.UUID // zero: not noted
	Material string
	Received measure.Grams
	Rejected measure.Grams
}

type intakeRow struct {
	Day       date      `db:"day"`
	Site      uuid.UUID `db:"site_id"`
	Substance string    `db:"substance"`
	Received  int64     `db:"received_g"`
	Rejected  int64     `db:"rejected_g"`
}

func (r intakeRow) intake() (IntakeDay, error) {
	return IntakeDay{Day: r.Day.Day, Site: r.Site, Material: ledger.Substance(r.Substance).Key(),
		Received: measure.Grams(r.Received), Rejected: measure.Grams(r.Rejected)}, nil
}

// MostIntakeDays is the longest history that IntakeByDay looks at; of a longer
// range it takes the latest part.
const MostIntakeDays = 3 * 366

// IntakeByDay asks for the scraps that came in a stretch of days, from the
// daily roll-ups, by day, site and material.
func (b *Batch) IntakeByDay(days measure.DayRange) *Rows[IntakeDay] {
	if days.Days() > MostIntakeDays {
		days.Start = days.End.Add(-MostIntakeDays)
	}
	return fetchAll(b, intakeRow.intake, `
		SELECT day, site_id, substance,
		       coalesce(sum(out_g - in_g) FILTER (WHERE account_kind = 'source'), 0)::bigint AS received_g,
		       coalesce(sum(in_g - out_g) FILTER (WHERE account_kind = 'rejected'), 0)::bigint AS rejected_g
		  FROM midden.day_totals
		 WHERE garden_id = midden.garden() AND day >= $1 AND day < $2
		   AND account_kind IN ('source', 'rejected') AND substance >= 'scraps/' AND substance < 'scraps0'
		 GROUP BY day, site_id, substance ORDER BY day, site_id, substance`, dayArg(days.Start), dayArg(days.End))
}
