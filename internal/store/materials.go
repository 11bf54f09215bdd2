package store

import (
	"encoding/json"
	"time"

	"midden/internal/farm"
)

type materialRow struct {
	Key       string    `db:"key"`
	Figures   []byte    `db:"figures"`
	UpdatedAt time.Time `db:"updated_at"`
	Version   int       `db:"version"`
}

func (r materialRow) override() (farm.MaterialOverride, error) {
	o := farm.MaterialOverride{}
	if err := json.Unmarshal(r.Figures, &o); err != nil {
		return o, err
	}
	o.Key, o.UpdatedAt, o.Version = r.Key, r.UpdatedAt.UTC(), r.Version
	return o, nil
}

const selectMaterial = `SELECT key, figures, updated_at, version FROM midden.garden_materials`

// MaterialOverrides asks for everything the garden says about materials.
func (b *Batch) MaterialOverrides() *Rows[farm.MaterialOverride] {
	return fetchAll(b, materialRow.override, selectMaterial+` WHERE garden_id = midden.garden() ORDER BY key`)
}

// MaterialOverride asks for what the garden says about one material.
func (b *Batch) MaterialOverride(key string) *Row[farm.MaterialOverride] {
	return fetchOne(b, materialRow.override, selectMaterial+` WHERE garden_id = midden.garden() AND key = $1`, key)
}

// LockMaterialOverride is MaterialOverride with the row held for an update.
func (tx *Tx) LockMaterialOverride(key string) *Row[farm.MaterialOverride] {
	return fetchOne(&tx.Batch, materialRow.override, selectMaterial+` WHERE garden_id = midden.garden() AND key = $1 FOR UPDATE`, key)
}

// PutMaterialOverride writes what the garden says about a material; version 1
// is a new row. Two who write the first one at once don't overwrite each
// other: one looks again.
func (tx *Tx) PutMaterialOverride(o farm.MaterialOverride) error {
	figures, err := json.Marshal(o)
	if err != nil {
		return err
	}
	sql := `UPDATE midden.garden_materials SET figures = $2, updated_at = $3, version = $4 WHERE garden_id = midden.garden() AND key = $1`
	if o.Version == 1 {
		sql = `INSERT INTO midden.garden_materials (garden_id, key, figures, updated_at, version) VALUES (midden.garden(), $1, $2, $3, $4)`
	}
	tx.queue(sql, o.Key, figures, o.UpdatedAt, o.Version)
	return nil
}

// DropMaterialOverride goes back to the published figures.
func (tx *Tx) DropMaterialOverride(key string) {
	tx.queue(`DELETE FROM midden.garden_materials WHERE garden_id = midden.garden() AND key = $1`, key)
}
