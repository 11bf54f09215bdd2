package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var (
	_ = refuseOn("overflow_places_pkey", "overflow.exists", "/id", "id: another overflow place has this id")
	_ = refuseOn("overflow_places_name_key", "overflow.name_taken", "/name", "name: another overflow place of this garden has this name")
)

type overflowRow struct {
	ID          uuid.UUID `db:"place_id"`
	Name        string    `db:"name"`
	Kind        string    `db:"kind"`
	WeeklyG     *int64    `db:"weekly_g"`
	BrownsRatio *float64  `db:"browns_ratio"`
	Note        string    `db:"note"`
	Active      bool      `db:"active"`
	CreatedAt   time.Time `db:"created_at"`
	Version     int       `db:"version"`
}

func (r overflowRow) place() (farm.OverflowPlace, error) {
	return farm.OverflowPlace{ID: r.ID, Name: r.Name, Kind: farm.OverflowKind(r.Kind), WeeklyG: orZero(r.WeeklyG),
		BrownsRatio: orZero(r.BrownsRatio), Note: r.Note, Active: r.Active, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectOverflow = `SELECT place_id, name, kind, weekly_g, browns_ratio, note, active, created_at, version FROM midden.overflow_places`

// OverflowPlace asks for one overflow place of the garden.
func (b *Batch) OverflowPlace(id uuid.UUID) *Row[farm.OverflowPlace] {
	return fetchOne(b, overflowRow.place, selectOverflow+` WHERE garden_id = midden.garden() AND place_id = $1`, id)
}

// OverflowPlaces asks for overflow places by name: those in use, those no
// longer, or with the empty standing both.
func (b *Batch) OverflowPlaces(st Standing, p Page) *Paged[farm.OverflowPlace] {
	return paged(b, "overflow places", st, p, func(at []string, limit int) *Rows[farm.OverflowPlace] {
		return fetchAll(b, overflowRow.place, selectOverflow+`
			WHERE garden_id = midden.garden() AND ($1::text = '' OR active = ($1 = 'active'))
			  AND ($2::text IS NULL OR (name, place_id) > ($2, $3::uuid))
			ORDER BY name, place_id LIMIT $4`, string(st), keyAt(at, 0), keyAt(at, 1), limit)
	}, func(p farm.OverflowPlace) []string { return []string{p.Name, p.ID.String()} })
}

// LockOverflowPlace is OverflowPlace with the row held for an update.
func (tx *Tx) LockOverflowPlace(id uuid.UUID) *Row[farm.OverflowPlace] {
	return fetchOne(&tx.Batch, overflowRow.place, selectOverflow+` WHERE garden_id = midden.garden() AND place_id = $1 FOR UPDATE`, id)
}

// OverflowContent asks for the digest of what an overflow place was made from.
func (b *Batch) OverflowContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.overflow_places WHERE garden_id = midden.garden() AND place_id = $1`, id)
}

// InsertOverflowPlace writes a new overflow place.
func (tx *Tx) InsertOverflowPlace(p farm.OverflowPlace, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.overflow_places (garden_id, place_id, name, kind, weekly_g, browns_ratio, note, active, created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, 1, $9)`,
		p.ID, p.Name, string(p.Kind), orNull(p.WeeklyG), orNull(p.BrownsRatio), p.Note, p.Active, p.CreatedAt, content[:])
}

// UpdateOverflowPlace writes a place whose row is locked; the version goes up by one.
func (tx *Tx) UpdateOverflowPlace(p farm.OverflowPlace) {
	tx.queue(`
		UPDATE midden.overflow_places SET name = $2, kind = $3, weekly_g = $4, browns_ratio = $5, note = $6, active = $7, version = version + 1
		 WHERE garden_id = midden.garden() AND place_id = $1`,
		p.ID, p.Name, string(p.Kind), orNull(p.WeeklyG), orNull(p.BrownsRatio), p.Note, p.Active)
}
