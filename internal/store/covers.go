package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("covers_pkey", "cover.exists", "/id", "id: another cover has this id")
	_ = refuseOn("covers_keeper_fkey", "member.not_found", "/keeper_member_id", "keeper_member_id: no such member in this garden")
	_ = refuseOn("covers_stand_in_fkey", "member.not_found", "/stand_in_member_id", "stand_in_member_id: no such member in this garden")
)

type coverRow struct {
	ID        uuid.UUID `db:"cover_id"`
	Keeper    uuid.UUID `db:"keeper_id"`
	StandIn   uuid.UUID `db:"stand_in_id"`
	From      date      `db:"from_day"`
	Until     date      `db:"until_day"`
	Handover  string    `db:"handover"`
	CreatedAt time.Time `db:"created_at"`
	Version   int       `db:"version"`
}

func (r coverRow) cover() (farm.Cover, error) {
	return farm.Cover{ID: r.ID, KeeperID: r.Keeper, StandInID: r.StandIn,
		Days:     measure.DayRange{Start: r.From.Day, End: r.Until.Day},
		Handover: r.Handover, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectCover = `
	SELECT c.cover_id, c.keeper_id, c.stand_in_id, c.from_day, c.until_day, c.handover, c.created_at, c.version
	  FROM midden.covers c WHERE c.garden_id = midden.garden()`

// CoversOn asks for every cover of a day.
func (b *Batch) CoversOn(day measure.Day) *Rows[farm.Cover] {
	return b.CoversBetween(measure.DayRange{Start: day, End: day.Add(1)})
}

// CoversBetween asks for every cover of at least one day of a range.
func (b *Batch) CoversBetween(days measure.DayRange) *Rows[farm.Cover] {
	return fetchAll(b, coverRow.cover, selectCover+`
		AND c.until_day > $1 AND c.from_day < $2 ORDER BY c.from_day, c.cover_id`, dayArg(days.Start), dayArg(days.End))
}

// Cover asks for one cover.
func (b *Batch) Cover(id uuid.UUID) *Row[farm.Cover] {
	return fetchOne(b, coverRow.cover, selectCover+` AND c.cover_id = $1`, id)
}

// CoverContent asks for the digest of what a cover was made from.
func (b *Batch) CoverContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.covers WHERE garden_id = midden.garden() AND cover_id = $1`, id)
}

// LockCover is Cover with the row held for an update.
func (tx *Tx) LockCover(id uuid.UUID) *Row[farm.Cover] {
	return fetchOne(&tx.Batch, coverRow.cover, selectCover+` AND c.cover_id = $1 FOR UPDATE`, id)
}

// LockCoversOf holds a keeper's row, so that two covers can't be made for them
// at once, and asks for the keeper's covers of a range of days.
func (tx *Tx) LockCoversOf(keeper uuid.UUID, days measure.DayRange) *Rows[farm.Cover] {
	tx.queue(`SELECT 1 FROM midden.memberships WHERE garden_id = midden.garden() AND member_id = $1 FOR NO KEY UPDATE`, keeper)
	return fetchAll(&tx.Batch, coverRow.cover, selectCover+`
		AND c.keeper_id = $1 AND c.until_day > $2 AND c.from_day < $3 ORDER BY c.from_day, c.cover_id`,
		keeper, dayArg(days.Start), dayArg(days.End))
}

// CoverFilter narrows a list of covers to those of a keeper and those of at
// least one day from From on and before Until. Zero fields do not narrow.
type CoverFilter struct {
	Keeper      uuid.UUID
	From, Until measure.Day
}

// Covers asks for covers, the soonest first.
func (b *Batch) Covers(f CoverFilter, p Page) *Paged[farm.Cover] {
	return paged(b, "covers", f, p, func(at []string, limit int) *Rows[farm.Cover] {
		return fetchAll(b, coverRow.cover, selectCover+`
			AND ($1::uuid IS NULL OR c.keeper_id = $1) AND ($2::date IS NULL OR c.until_day > $2)
			AND ($3::date IS NULL OR c.from_day < $3)
			AND ($4::text IS NULL OR (c.from_day, c.cover_id) > ($4::date, $5::uuid))
			ORDER BY c.from_day, c.cover_id LIMIT $6`,
			idOrNull(f.Keeper), dayArg(f.From), dayArg(f.Until), keyAt(at, 0), keyAt(at, 1), limit)
	}, func(c farm.Cover) []string { return []string{c.Days.Start.String(), c.ID.String()} })
}

// InsertCover writes a new cover.
func (tx *Tx) InsertCover(c farm.Cover, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.covers (garden_id, cover_id, keeper_id, stand_in_id, from_day, until_day, handover, created_at,
		       version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, 1, $8)`,
		c.ID, c.KeeperID, c.StandInID, dayArg(c.Days.Start), dayArg(c.Days.End), c.Handover, c.CreatedAt, content[:])
}

// UpdateCover writes what may change of a cover whose keeper's row is held:
// stand-in, days and handover. The version goes up by one.
func (tx *Tx) UpdateCover(c farm.Cover) {
	tx.queue(`
		UPDATE midden.covers SET stand_in_id = $2, from_day = $3, until_day = $4, handover = $5, version = version + 1
		 WHERE garden_id = midden.garden() AND cover_id = $1`,
		c.ID, c.StandInID, dayArg(c.Days.Start), dayArg(c.Days.End), c.Handover)
}
