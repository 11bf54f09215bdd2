package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var _ = refuseOn("households_pkey", "household.exists", "/id", "id: another household has this id")

type householdRow struct {
	ID        uuid.UUID  `db:"household_id"`
	Name      string     `db:"name"`
	Plot      string     `db:"plot"`
	Contact   string     `db:"contact"`
	Baseline  string     `db:"baseline"`
	ErasedAt  *time.Time `db:"erased_at"`
	CreatedAt time.Time  `db:"created_at"`
	Version   int        `db:"version"`
}

func (r householdRow) household() (farm.Household, error) {
	return farm.Household{ID: r.ID, Name: r.Name, Plot: r.Plot, Contact: r.Contact, Baseline: farm.Baseline(r.Baseline),
		ErasedAt: timeOf(r.ErasedAt), CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectHousehold = `SELECT household_id, name, plot, contact, baseline, erased_at, created_at, version FROM midden.households`

// Household asks for one household of the garden.
func (b *Batch) Household(id uuid.UUID) *Row[farm.Household] {
	return fetchOne(b, householdRow.household, selectHousehold+` WHERE garden_id = midden.garden() AND household_id = $1`, id)
}

// LockHousehold is Household with the row held for an update.
func (tx *Tx) LockHousehold(id uuid.UUID) *Row[farm.Household] {
	return fetchOne(&tx.Batch, householdRow.household, selectHousehold+` WHERE garden_id = midden.garden() AND household_id = $1 FOR UPDATE`, id)
}

// HouseholdContent asks for the digest of what a household was made from.
func (b *Batch) HouseholdContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.households WHERE garden_id = midden.garden() AND household_id = $1`, id)
}

// Households asks for the households that are not erased, by name.
func (b *Batch) Households(prefix string, p Page) *Paged[farm.Household] {
	low, high := prefixRange(prefix)
	return paged(b, "households", prefix, p, func(at []string, limit int) *Rows[farm.Household] {
		return fetchAll(b, householdRow.household, selectHousehold+`
			WHERE garden_id = midden.garden() AND erased_at IS NULL
			  AND name_folded >= $1 AND ($2::text IS NULL OR name_folded < $2)
			  AND ($3::text IS NULL OR (name_folded, household_id) > ($3, $4::uuid))
			ORDER BY name_folded, household_id LIMIT $5`, low, high, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(h farm.Household) []string { return []string{farm.Fold(h.Name), h.ID.String()} })
}

// InsertHousehold writes a new household.
func (tx *Tx) InsertHousehold(h farm.Household, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.households (garden_id, household_id, name, name_folded, plot, contact, created_at, version, content_sha256, baseline)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, 1, $7, $8)`,
		h.ID, h.Name, farm.Fold(h.Name), h.Plot, h.Contact, h.CreatedAt, content[:], string(h.Baseline))
}

// UpdateHousehold writes a household whose row is locked; the version goes up
// by one. An erased one loses its content digest too: a digest of a short name
// could be guessed; and the stored answer to the request that added it goes.
func (tx *Tx) UpdateHousehold(h farm.Household) {
	tx.queue(`
		UPDATE midden.households SET name = $2, name_folded = $3, plot = $4, contact = $5, erased_at = $6, baseline = $7,
		       content_sha256 = CASE WHEN $6::timestamptz IS NULL THEN content_sha256 ELSE decode(repeat('00', 32), 'hex') END,
		       version = version + 1
		 WHERE garden_id = midden.garden() AND household_id = $1`,
		h.ID, h.Name, farm.Fold(h.Name), h.Plot, h.Contact, timeOrNull(h.ErasedAt), string(h.Baseline))
	if h.Erased() {
		tx.queue(`SELECT midden.forget_household_answers($1)`, h.ID)
	}
}

// KnownHouseholds asks for every household that is not erased, by id: to match
// the names of a log.
func (b *Batch) KnownHouseholds() *Rows[farm.Household] {
	return fetchAll(b, householdRow.household, selectHousehold+`
		WHERE garden_id = midden.garden() AND erased_at IS NULL ORDER BY household_id`)
}
