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

// PutMaterialOverride writes what the garden says about a material; a new row
// has version 1, a changed one goes up by one.
func (tx *Tx) PutMaterialOverride(o farm.MaterialOverride) error {
	figures, err := json.Marshal(o)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.garden_materials AS m (garden_id, key, figures, updated_at, version)
		VALUES (midden.garden(), $1, $2, $3, 1)
		ON CONFLICT (garden_id, key) DO UPDATE SET figures = excluded.figures, updated_at = excluded.updated_at, version = m.version + 1`,
		o.Key, figures, o.UpdatedAt)
	return nil
}

// DropMaterialOverride goes back to the published figures.
func (tx *Tx) DropMaterialOverride(key string) {
	tx.queue(`DELETE FROM midden.garden_materials WHERE garden_id = midden.garden() AND key = $1`, key)
}
