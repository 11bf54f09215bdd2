package store

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

type availabilityRow struct {
	Member     uuid.UUID `db:"member_id"`
	Weekdays   *int16    `db:"weekdays"`
	Exceptions []byte    `db:"exceptions"`
	Version    *int      `db:"version"`
}

func (r availabilityRow) availability() (farm.Availability, error) {
	a := farm.AnyDay(r.Member)
	if r.Version == nil {
		return a, nil
	}
	for d := range a.Weekdays {
		a.Weekdays[d] = *r.Weekdays&(1<<d) != 0
	}
	a.Version = *r.Version
	return a, json.Unmarshal(r.Exceptions, &a.Exceptions)
}

const selectAvailability = `
	SELECT m.member_id, a.weekdays, a.exceptions, a.version
	  FROM midden.memberships m LEFT JOIN midden.availabilities a ON a.garden_id = m.garden_id AND a.member_id = m.member_id
	 WHERE m.garden_id = midden.garden()`

// Availabilities asks for when each active keeper and coordinator can visit
// bins, by member; one who never said can come on any day.
func (b *Batch) Availabilities() *Rows[farm.Availability] {
	return fetchAll(b, availabilityRow.availability, selectAvailability+`
		AND m.active AND m.role IN ('coordinator', 'keeper') ORDER BY m.member_id`)
}

// Availability asks for when one member can visit bins, whatever their role.
func (b *Batch) Availability(member uuid.UUID) *Row[farm.Availability] {
	return fetchOne(b, availabilityRow.availability, selectAvailability+` AND m.member_id = $1`, member)
}

// PutAvailability writes when a member can visit bins; the member's row must be locked.
func (tx *Tx) PutAvailability(a farm.Availability, now time.Time) error {
	exceptions, err := json.Marshal(orEmpty(a.Exceptions))
	if err != nil {
		return err
	}
	var week int16
	for d, can := range a.Weekdays {
		if can {
			week |= 1 << d
		}
	}
	tx.queue(`
		INSERT INTO midden.availabilities AS a (garden_id, member_id, weekdays, exceptions, updated_at, version)
		VALUES (midden.garden(), $1, $2, $3, $4, 1)
		ON CONFLICT (garden_id, member_id) DO UPDATE SET weekdays = excluded.weekdays, exceptions = excluded.exceptions,
		       updated_at = excluded.updated_at, version = a.version + 1`, a.MemberID, week, exceptions, now)
	return nil
}
