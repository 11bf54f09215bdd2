package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("shifts_pkey", "shift.exists", "/id", "id: another shift has this id")
	_ = refuseOn("shifts_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
)

type shiftRow struct {
	ID        uuid.UUID   `db:"shift_id"`
	Kind      string      `db:"kind"`
	Site      uuid.UUID   `db:"site_id"`
	StartsAt  time.Time   `db:"starts_at"`
	EndsAt    time.Time   `db:"ends_at"`
	Day       date        `db:"day"`
	Places    int         `db:"places"`
	Note      string      `db:"note"`
	Cancelled bool        `db:"cancelled"`
	CreatedAt time.Time   `db:"created_at"`
	Version   int         `db:"version"`
	Members   []uuid.UUID `db:"members"`
	States    []string    `db:"states"`
	Changed   []time.Time `db:"changed"`
	By        []uuid.UUID `db:"changed_by"`
	Reasons   []string    `db:"reasons"`
}

func (r shiftRow) shift() (farm.Shift, error) {
	s := farm.Shift{ID: r.ID, Kind: farm.ShiftKind(r.Kind), SiteID: r.Site, StartsAt: r.StartsAt.UTC(), EndsAt: r.EndsAt.UTC(),
		Day: r.Day.Day, Places: r.Places, Note: r.Note, Cancelled: r.Cancelled, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}
	for i := range r.Members {
		s.Claims = append(s.Claims, farm.Claim{MemberID: r.Members[i], State: farm.ClaimState(r.States[i]),
			ChangedAt: r.Changed[i].UTC(), ChangedBy: r.By[i], Reason: r.Reasons[i]})
	}
	return s, nil
}

const selectShift = `
	SELECT s.shift_id, s.kind, s.site_id, s.starts_at, s.ends_at, s.day, s.places, s.note, s.cancelled, s.created_at, s.version,
	       c.members, c.states, c.changed, c.changed_by, c.reasons
	  FROM midden.shifts s, LATERAL (
	       SELECT coalesce(array_agg(q.member_id ORDER BY q.member_id), '{}') AS members,
	              coalesce(array_agg(q.state ORDER BY q.member_id), '{}') AS states,
	              coalesce(array_agg(q.changed_at ORDER BY q.member_id), '{}') AS changed,
	              coalesce(array_agg(q.changed_by ORDER BY q.member_id), '{}') AS changed_by,
	              coalesce(array_agg(q.reason ORDER BY q.member_id), '{}') AS reasons,
	              count(*) FILTER (WHERE q.state IN ('claimed', 'done')) AS taken
	         FROM midden.shift_claims q WHERE q.garden_id = midden.garden() AND q.shift_id = s.shift_id) c
	 WHERE s.garden_id = midden.garden()`

// Shift asks for one shift with its claims.
func (b *Batch) Shift(id uuid.UUID) *Row[farm.Shift] {
	return fetchOne(b, shiftRow.shift, selectShift+` AND s.shift_id = $1`, id)
}

// LockShift is Shift with the row held for an update. The claims are read
// after the lock, so they are those that the last writer left.
func (tx *Tx) LockShift(id uuid.UUID) *Row[farm.Shift] {
	tx.queue(`SELECT 1 FROM midden.shifts WHERE garden_id = midden.garden() AND shift_id = $1 FOR UPDATE`, id)
	return tx.Shift(id)
}

// ShiftContent asks for the digest of what a shift was made from.
func (b *Batch) ShiftContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.shifts WHERE garden_id = midden.garden() AND shift_id = $1`, id)
}

// HostsDuring asks who hosts at the site of a shift while it goes on.
func (b *Batch) HostsDuring(shift uuid.UUID) *Rows[uuid.UUID] {
	return fetchValues[uuid.UUID](b, `
		SELECT c.member_id FROM midden.shifts s
		  JOIN midden.shifts h ON h.garden_id = s.garden_id AND h.site_id = s.site_id AND h.kind = 'host' AND NOT h.cancelled
		   AND h.starts_at BETWEEN s.starts_at - interval '24 hours' AND s.ends_at
		   AND h.starts_at < s.ends_at AND h.ends_at > s.starts_at
		  JOIN midden.shift_claims c ON c.garden_id = h.garden_id AND c.shift_id = h.shift_id AND c.state IN ('claimed', 'done')
		 WHERE s.garden_id = midden.garden() AND s.shift_id = $1`, shift)
}

// ShiftFilter narrows a list of shifts. Zero fields do not narrow; State needs Now.
type ShiftFilter struct {
	Kind        farm.ShiftKind
	State       farm.ShiftState
	Now         time.Time   // must be the same for every page
	From, Until measure.Day // day of the start: From is in, Until is not
}

// Shifts asks for shifts, the soonest first.
func (b *Batch) Shifts(f ShiftFilter, p Page) *Paged[farm.Shift] {
	now := f.Now
	f.Now = time.Time{} // a cursor outlives the instant
	return paged(b, "shifts", f, p, func(at []string, limit int) *Rows[farm.Shift] {
		return b.shifts(f, now, at, limit)
	}, func(s farm.Shift) []string { return []string{s.StartsAt.Format(time.RFC3339Nano), s.ID.String()} })
}

// ShiftsBetween asks for the shifts of a range of days in a state, so many at most.
func (b *Batch) ShiftsBetween(days measure.DayRange, state farm.ShiftState, now time.Time, most int) *Rows[farm.Shift] {
	return b.shifts(ShiftFilter{State: state, From: days.Start, Until: days.End}, now, nil, most)
}

func (b *Batch) shifts(f ShiftFilter, now time.Time, at []string, limit int) *Rows[farm.Shift] {
	// The bound on starts_at is a day wider than the day's: it lets the index skip the past.
	var earliest *time.Time
	if !f.From.IsZero() {
		t := f.From.Add(-1).UTC()
		earliest = &t
	}
	return fetchAll(b, shiftRow.shift, selectShift+`
		AND ($1::text IS NULL OR s.kind = $1)
		AND ($2::text IS NULL OR $2 = CASE WHEN s.cancelled THEN 'cancelled' WHEN s.ends_at <= $3 THEN 'done'
		                                   WHEN c.taken >= s.places THEN 'claimed' ELSE 'open' END)
		AND ($4::timestamptz IS NULL OR s.starts_at >= $4)
		AND ($5::date IS NULL OR s.day >= $5) AND ($6::date IS NULL OR s.day < $6)
		AND ($7::timestamptz IS NULL OR (s.starts_at, s.shift_id) > ($7, $8::uuid))
		ORDER BY s.starts_at, s.shift_id LIMIT $9`,
		orNull(string(f.Kind)), orNull(string(f.State)), now, earliest, dayArg(f.From), dayArg(f.Until),
		timeKey(at, 0), keyAt(at, 1), limit)
}

// InsertShift writes a new shift.
func (tx *Tx) InsertShift(s farm.Shift, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.shifts (garden_id, shift_id, kind, site_id, starts_at, ends_at, day, places, note, cancelled,
		       created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, 1, $11)`,
		append(shiftArgs(s), s.CreatedAt, content[:])...)
}

// UpdateShift writes a shift whose row is locked; the version goes up by one.
func (tx *Tx) UpdateShift(s farm.Shift) {
	tx.queue(`
		UPDATE midden.shifts SET kind = $2, site_id = $3, starts_at = $4, ends_at = $5, day = $6, places = $7, note = $8,
		       cancelled = $9, version = version + 1
		 WHERE garden_id = midden.garden() AND shift_id = $1`, shiftArgs(s)...)
}

func shiftArgs(s farm.Shift) []any {
	return []any{s.ID, string(s.Kind), s.SiteID, s.StartsAt, s.EndsAt, dayArg(s.Day), s.Places, s.Note, s.Cancelled}
}

// SetClaims writes claims of a shift whose row is locked; the shift's version
// goes up by one.
func (tx *Tx) SetClaims(shift uuid.UUID, claims []farm.Claim) {
	for _, c := range claims {
		tx.queue(`
			INSERT INTO midden.shift_claims (garden_id, shift_id, member_id, state, changed_at, changed_by, reason)
			VALUES (midden.garden(), $1, $2, $3, $4, $5, $6)
			ON CONFLICT (garden_id, shift_id, member_id) DO UPDATE
			SET state = excluded.state, changed_at = excluded.changed_at, changed_by = excluded.changed_by, reason = excluded.reason`,
			shift, c.MemberID, string(c.State), c.ChangedAt, c.ChangedBy, c.Reason)
	}
	tx.queue(`UPDATE midden.shifts SET version = version + 1 WHERE garden_id = midden.garden() AND shift_id = $1`, shift)
}
