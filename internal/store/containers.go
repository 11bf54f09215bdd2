package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("containers_pkey", "container.exists", "/id", "id: another container has this id")
	_ = refuseOn("containers_name_key", "container.name_taken", "/name", "name: another container of this garden has this name")
)

type containerRow struct {
	ID          uuid.UUID `db:"container_id"`
	Name        string    `db:"name"`
	VolumeValue string    `db:"volume_value"`
	VolumeUnit  string    `db:"volume_unit"`
	VolumeML    int64     `db:"volume_ml"`
	TareValue   string    `db:"tare_value"`
	TareUnit    string    `db:"tare_unit"`
	TareG       *int64    `db:"tare_g"`
	CreatedAt   time.Time `db:"created_at"`
	Version     int       `db:"version"`
}

func (r containerRow) container() (farm.Container, error) {
	return farm.Container{ID: r.ID, Name: r.Name,
		Volume:   measure.Quantity{Value: r.VolumeValue, Unit: measure.Unit(r.VolumeUnit)},
		Tare:     measure.Quantity{Value: r.TareValue, Unit: measure.Unit(r.TareUnit)},
		VolumeML: measure.Millilitres(r.VolumeML), TareG: measure.Grams(orZero(r.TareG)),
		CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectContainer = `
	SELECT container_id, name, volume_value, volume_unit, volume_ml, tare_value, tare_unit, tare_g, created_at, version
	  FROM midden.containers WHERE garden_id = midden.garden()`

// Container asks for one container of the garden.
func (b *Batch) Container(id uuid.UUID) *Row[farm.Container] {
	return fetchOne(b, containerRow.container, selectContainer+` AND container_id = $1`, id)
}

// ContainersByID asks for several containers, in no order.
func (b *Batch) ContainersByID(ids []uuid.UUID) *Rows[farm.Container] {
	return fetchAll(b, containerRow.container, selectContainer+` AND container_id = ANY($1)`, ids)
}

// Containers asks for the containers by name.
func (b *Batch) Containers(p Page) *Paged[farm.Container] {
	return paged(b, "containers", "", p, func(at []string, limit int) *Rows[farm.Container] {
		return fetchAll(b, containerRow.container, selectContainer+`
			AND ($1::text IS NULL OR (name, container_id) > ($1, $2::uuid))
			ORDER BY name, container_id LIMIT $3`, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(c farm.Container) []string { return []string{c.Name, c.ID.String()} })
}

// LockContainer is Container with the row held for an update.
func (tx *Tx) LockContainer(id uuid.UUID) *Row[farm.Container] {
	return fetchOne(&tx.Batch, containerRow.container, selectContainer+` AND container_id = $1 FOR UPDATE`, id)
}

// ContainerContent asks for the digest of what a container was made from.
func (b *Batch) ContainerContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.containers WHERE garden_id = midden.garden() AND container_id = $1`, id)
}

// tareOrNull is the tare in grams; NULL when none is noted, for a tare may be 0.
func tareOrNull(c farm.Container) *int64 {
	if c.Tare.Value == "" {
		return nil
	}
	g := int64(c.TareG)
	return &g
}

// InsertContainer writes a new container.
func (tx *Tx) InsertContainer(c farm.Container, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.containers (garden_id, container_id, name, volume_value, volume_unit, volume_ml, tare_value, tare_unit, tare_g,
		       created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, 1, $10)`,
		c.ID, c.Name, c.Volume.Value, string(c.Volume.Unit), int64(c.VolumeML), c.Tare.Value, string(c.Tare.Unit), tareOrNull(c),
		c.CreatedAt, content[:])
}

// UpdateContainer writes a container whose row is locked; the version goes up by one.
func (tx *Tx) UpdateContainer(c farm.Container) {
	tx.queue(`
		UPDATE midden.containers SET name = $2, volume_value = $3, volume_unit = $4, volume_ml = $5, tare_value = $6, tare_unit = $7,
		       tare_g = $8, version = version + 1
		 WHERE garden_id = midden.garden() AND container_id = $1`,
		c.ID, c.Name, c.Volume.Value, string(c.Volume.Unit), int64(c.VolumeML), c.Tare.Value, string(c.Tare.Unit), tareOrNull(c))
}
