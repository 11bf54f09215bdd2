package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("hours_pkey", "hours.exists", "/id", "id: other hours have this id")
	_ = refuseOn("hours_member_fkey", "member.not_found", "/member_id", "member_id: no such member in this garden")
)

type hoursRow struct {
	ID         uuid.UUID `db:"hours_id"`
	Member     uuid.UUID `db:"member_id"`
	Minutes    int       `db:"minutes"`
	Work       string    `db:"work"`
	OccurredAt time.Time `db:"occurred_at"`
	Day        date      `db:"day"`
	RecordedAt time.Time `db:"recorded_at"`
	RecordedBy uuid.UUID `db:"recorded_by"`
}

func (r hoursRow) hours() (farm.Hours, error) {
	return farm.Hours{ID: r.ID, MemberID: r.Member, Minutes: r.Minutes, Work: r.Work, OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day,
		RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}, nil
}

const selectHours = `
	SELECT h.hours_id, h.member_id, h.minutes, h.work, h.occurred_at, h.day, h.recorded_at, h.recorded_by
	  FROM midden.hours h WHERE h.garden_id = midden.garden()`

// Hours asks for one record of hours.
func (b *Batch) Hours(id uuid.UUID) *Row[farm.Hours] {
	return fetchOne(b, hoursRow.hours, selectHours+` AND h.hours_id = $1`, id)
}

// HoursContent asks for the digest of what hours were made from.
func (b *Batch) HoursContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.hours WHERE garden_id = midden.garden() AND hours_id = $1`, id)
}

// HoursFilter narrows a list of hours. Zero fields do not narrow.
type HoursFilter struct {
	Member      uuid.UUID
	From, Until measure.Day // From is in, Until is not
}

// HoursList asks for hours, the newest first: everybody's for a reader with one
// of the roles, and for others their own.
func (b *Batch) HoursList(f HoursFilter, all []farm.Role, p Page) *Paged[farm.Hours] {
	from, until := instantsOf(f.From, f.Until)
	return paged(b, "hours", f, p, func(at []string, limit int) *Rows[farm.Hours] {
		return fetchAll(b, hoursRow.hours, selectHours+`
			AND ($1::uuid IS NULL OR h.member_id = $1)
			AND (h.member_id = (SELECT m.member_id FROM midden.memberships m
			          WHERE m.garden_id = midden.garden() AND m.account_id = midden.account())
			     OR EXISTS (SELECT FROM midden.memberships m
			          WHERE m.garden_id = midden.garden() AND m.account_id = midden.account() AND m.role = ANY($2)))
			AND ($3::date IS NULL OR h.day >= $3) AND ($4::date IS NULL OR h.day < $4)
			AND ($5::timestamptz IS NULL OR h.occurred_at >= $5) AND ($6::timestamptz IS NULL OR h.occurred_at < $6)
			AND ($7::timestamptz IS NULL OR (h.occurred_at, h.hours_id) < ($7, $8::uuid))
			ORDER BY h.occurred_at DESC, h.hours_id DESC LIMIT $9`,
			idOrNull(f.Member), all, dayArg(f.From), dayArg(f.Until), from, until, timeKey(at, 0), keyAt(at, 1), limit)
	}, func(h farm.Hours) []string { return []string{h.OccurredAt.Format(time.RFC3339Nano), h.ID.String()} })
}

// instantsOf gives instants a day outside of a range of days, for an index on
// instants: a garden's day is less than a day off the UTC day.
func instantsOf(from, until measure.Day) (early, late *time.Time) {
	if !from.IsZero() {
		t := from.Add(-1).UTC()
		early = &t
	}
	if !until.IsZero() {
		t := until.Add(1).UTC()
		late = &t
	}
	return early, late
}

// InsertHours writes hours.
func (tx *Tx) InsertHours(h farm.Hours, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.hours (garden_id, hours_id, member_id, minutes, work, occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		h.ID, h.MemberID, h.Minutes, h.Work, h.OccurredAt, dayArg(h.Day), h.RecordedAt, h.RecordedBy, content[:])
}

// MemberMinutes is the time that a member gave.
type MemberMinutes struct {
	Member  uuid.UUID `db:"member_id"`
	Minutes int64     `db:"minutes"`
}

func (m MemberMinutes) itself() (MemberMinutes, error) { return m, nil }

// MinutesByMember asks for the time that each member gave on the days of a
// range, in done shifts and outside of them, in order of member id. Members who
// gave none are left out.
func (b *Batch) MinutesByMember(days measure.DayRange) *Rows[MemberMinutes] {
	return fetchAll(b, MemberMinutes.itself, `
		SELECT g.member_id, sum(g.minutes)::bigint AS minutes FROM (`+workedMinutes+`) g
		 GROUP BY g.member_id ORDER BY g.member_id`, dayArg(days.Start), dayArg(days.End))
}

// workedMinutes are the times given on the days from $1 to before $2.
const workedMinutes = `
		       SELECT h.member_id, h.minutes::bigint AS minutes FROM midden.hours h
		        WHERE h.garden_id = midden.garden() AND h.day >= $1 AND h.day < $2
		       UNION ALL
		       SELECT c.member_id, (extract(epoch FROM s.ends_at - s.starts_at) / 60)::bigint
		         FROM midden.shifts s JOIN midden.shift_claims c ON c.garden_id = s.garden_id AND c.shift_id = s.shift_id
		        WHERE s.garden_id = midden.garden() AND s.day >= $1 AND s.day < $2 AND c.state = 'done'`
