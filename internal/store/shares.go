package store

import (
	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

type contributorRow struct {
	Household *uuid.UUID `db:"household_id"`
	Member    *uuid.UUID `db:"member_id"`
	Name      string     `db:"name"`
	ScrapsG   int64      `db:"scraps_g"`
	ReceivedG int64      `db:"received_g"`
	Minutes   int64      `db:"minutes"`
}

func (r contributorRow) contributor() (farm.Contributor, error) {
	return farm.Contributor{HouseholdID: idOf(r.Household), MemberID: idOf(r.Member), Name: r.Name,
		Scraps: measure.Grams(r.ScrapsG), Received: measure.Grams(r.ReceivedG), Minutes: r.Minutes}, nil
}

// Contributors asks for every household, and every member without one, with
// the scraps brought and castings received on the days of a range; a member of
// a household counts with it. Those without any are left out.
func (b *Batch) Contributors(days measure.DayRange) *Rows[farm.Contributor] {
	return fetchAll(b, contributorRow.contributor, `
		WITH flow AS (
			SELECT split_part(split_part(t.account, ':', 2), '/', 1) AS party, split_part(t.account, '/', 2) AS id,
			       sum(t.out_g - t.in_g) FILTER (WHERE t.account_kind = 'source') AS scraps_g,
			       sum(t.in_g - t.out_g) FILTER (WHERE t.account_kind = 'recipient') AS received_g
			  FROM midden.day_totals t
			 WHERE t.garden_id = midden.garden() AND t.day >= $1 AND t.day < $2
			   AND (t.account_kind = 'source' AND t.kind = 'intake' OR t.account_kind = 'recipient' AND t.kind = 'giveaway')
			 GROUP BY 1, 2
		), worked AS (
			SELECT g.member_id, sum(g.minutes) AS minutes FROM (`+workedMinutes+`) g GROUP BY g.member_id
		), gave AS (
			SELECT h.household_id, NULL::uuid AS member_id, h.name, f.scraps_g, f.received_g, 0::numeric AS minutes
			  FROM midden.households h LEFT JOIN flow f ON f.party = 'household' AND f.id = h.household_id::text
			 WHERE h.garden_id = midden.garden()
			UNION ALL
			SELECT m.household_id, CASE WHEN m.household_id IS NULL THEN m.member_id END, coalesce(h.name, m.display_name),
			       f.scraps_g, f.received_g, w.minutes
			  FROM midden.memberships m
			  LEFT JOIN midden.households h ON h.garden_id = m.garden_id AND h.household_id = m.household_id
			  LEFT JOIN flow f ON f.party = 'member' AND f.id = m.member_id::text
			  LEFT JOIN worked w ON w.member_id = m.member_id
			 WHERE m.garden_id = midden.garden()
		)
		SELECT household_id, member_id, name, coalesce(sum(scraps_g), 0)::bigint AS scraps_g,
		       coalesce(sum(received_g), 0)::bigint AS received_g, coalesce(sum(minutes), 0)::bigint AS minutes
		  FROM gave GROUP BY household_id, member_id, name
		HAVING sum(scraps_g) > 0 OR sum(received_g) > 0 OR sum(minutes) > 0
		 ORDER BY name, household_id, member_id LIMIT 5000`, dayArg(days.Start), dayArg(days.End))
}

// CastingsOf asks how many castings the harvests of a range of days came to:
// what is left of their lots and what was given of them. Water and screenings
// are out of it.
func (b *Batch) CastingsOf(days measure.DayRange) *Row[int64] {
	return fetchValue[int64](b, `
		SELECT coalesce(sum(coalesce(h.latest_g, 0) + coalesce((SELECT sum(t.mass_g) FROM midden.giveaways t
		         WHERE t.garden_id = midden.garden() AND t.castings_lot_id = l.castings_lot_id AND NOT `+wasReversed+`), 0)), 0)::bigint
		  FROM midden.castings_lots l `+heldCastings+`
		 WHERE l.garden_id = midden.garden() AND l.harvested_on >= $1 AND l.harvested_on < $2`, dayArg(days.Start), dayArg(days.End))
}
