package store

import (
	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

// LotsOnHand asks for every lot with something left that was not turned away,
// in the order of their ids: for planning.
func (b *Batch) LotsOnHand() *Rows[LotOnHand] {
	return fetchAll(b, lotRow.lot, selectLot+` AND h.latest_g > 0 AND l.status <> 'rejected' ORDER BY l.lot_id`)
}

// AllSites asks for every site, used or not, by name: for planning.
func (b *Batch) AllSites() *Rows[farm.Site] {
	return fetchAll(b, siteRow.site, selectSite+` WHERE garden_id = midden.garden() ORDER BY name, site_id`)
}

// Carers asks for every active member whose role may care for bins.
func (b *Batch) Carers() *Rows[farm.Member] {
	return fetchAll(b, memberRow.member, selectMember+`
		WHERE m.garden_id = midden.garden() AND m.active AND m.role IN ('coordinator', 'keeper') ORDER BY m.member_id`)
}

// DayIntake is what a site took in of a material on a day, rejections taken off.
type DayIntake struct {
	Day      measure.Day
	SiteID   uuid.UUID
	Material string
	Mass     measure.Grams
}

type dayIntakeRow struct {
	Day       date      `db:"day"`
	Site      uuid.UUID `db:"site_id"`
	Substance string    `db:"substance"`
	Grams     int64     `db:"grams"`
}

func (r dayIntakeRow) intake() (DayIntake, error) {
	return DayIntake{Day: r.Day.Day, SiteID: r.Site, Material: ledger.Substance(r.Substance).Key(), Mass: measure.Grams(r.Grams)}, nil
}

// IntakeOn asks for the intake of several stretches of days, by day.
func (b *Batch) IntakeOn(stretches []measure.DayRange) *Rows[DayIntake] {
	var from, until []date
	for _, s := range stretches {
		from, until = append(from, dayArg(s.Start)), append(until, dayArg(s.End))
	}
	return fetchAll(b, dayIntakeRow.intake, `
		SELECT t.day, t.site_id, t.substance, sum(t.out_g - t.in_g)::bigint AS grams
		  FROM midden.day_totals t
		 WHERE t.garden_id = midden.garden() AND t.account_kind IN ('source', 'rejected') AND t.substance >= 'scraps/' AND t.substance < 'scraps0'
		   AND EXISTS (SELECT FROM unnest($1::date[], $2::date[]) AS s (first, past) WHERE t.day >= s.first AND t.day < s.past)
		 GROUP BY t.day, t.site_id, t.substance HAVING sum(t.out_g - t.in_g) > 0
		 ORDER BY t.day, t.site_id, t.substance`, from, until)
}
