package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var (
	_ = refuseOn("sites_pkey", "site.exists", "/id", "id: another site has this id")
	_ = refuseOn("sites_name_key", "site.name_taken", "/name", "name: another site of this garden has this name")
)

type siteRow struct {
	ID        uuid.UUID `db:"site_id"`
	Name      string    `db:"name"`
	Kind      string    `db:"kind"`
	Latitude  *float64  `db:"latitude"`
	Longitude *float64  `db:"longitude"`
	FreezerL  int       `db:"freezer_l"`
	AreaM2    float64   `db:"area_m2"`
	Note      string    `db:"note"`
	Active    bool      `db:"active"`
	CreatedAt time.Time `db:"created_at"`
	Version   int       `db:"version"`
}

func (r siteRow) site() (farm.Site, error) {
	s := farm.Site{ID: r.ID, Name: r.Name, Kind: farm.SiteKind(r.Kind), FreezerL: r.FreezerL, AreaM2: r.AreaM2, Note: r.Note, Active: r.Active,
		CreatedAt: r.CreatedAt.UTC(), Version: r.Version}
	if r.Latitude != nil && r.Longitude != nil {
		s.At = &farm.Coordinates{Latitude: *r.Latitude, Longitude: *r.Longitude}
	}
	return s, nil
}

const selectSite = `SELECT site_id, name, kind, latitude, longitude, freezer_l, area_m2, note, active, created_at, version FROM midden.sites`

// Site asks for one site of the garden.
func (b *Batch) Site(id uuid.UUID) *Row[farm.Site] {
	return fetchOne(b, siteRow.site, selectSite+` WHERE garden_id = midden.garden() AND site_id = $1`, id)
}

// Sites asks for sites by name: those in use, those no longer, or with the
// empty standing both.
func (b *Batch) Sites(st Standing, p Page) *Paged[farm.Site] {
	return paged(b, "sites", st, p, func(at []string, limit int) *Rows[farm.Site] {
		return fetchAll(b, siteRow.site, selectSite+`
			WHERE garden_id = midden.garden() AND ($1::text = '' OR active = ($1 = 'active'))
			  AND ($2::text IS NULL OR (name, site_id) > ($2, $3::uuid))
			ORDER BY name, site_id LIMIT $4`, string(st), keyAt(at, 0), keyAt(at, 1), limit)
	}, func(s farm.Site) []string { return []string{s.Name, s.ID.String()} })
}

// SiteIDs asks for the ids of the garden's sites; a garden has few.
func (b *Batch) SiteIDs() *Rows[uuid.UUID] {
	return fetchValues[uuid.UUID](b, `SELECT site_id FROM midden.sites WHERE garden_id = midden.garden()`)
}

// LockSite is Site with the row held for an update.
func (tx *Tx) LockSite(id uuid.UUID) *Row[farm.Site] {
	return fetchOne(&tx.Batch, siteRow.site, selectSite+` WHERE garden_id = midden.garden() AND site_id = $1 FOR UPDATE`, id)
}

// SiteContent asks for the digest of what a site was made from.
func (b *Batch) SiteContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.sites WHERE garden_id = midden.garden() AND site_id = $1`, id)
}

func coordinates(c *farm.Coordinates) (latitude, longitude *float64) {
	if c == nil {
		return nil, nil
	}
	return &c.Latitude, &c.Longitude
}

// InsertSite writes a new site; site.name_taken when its name is.
func (tx *Tx) InsertSite(s farm.Site, content [32]byte) {
	lat, lon := coordinates(s.At)
	tx.queue(`
		INSERT INTO midden.sites (garden_id, site_id, name, kind, latitude, longitude, note, active, created_at, version, content_sha256, freezer_l, area_m2)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, 1, $9, $10, $11)`,
		s.ID, s.Name, string(s.Kind), lat, lon, s.Note, s.Active, s.CreatedAt, content[:], s.FreezerL, s.AreaM2)
}

// UpdateSite writes a site whose row is locked; the version goes up by one.
func (tx *Tx) UpdateSite(s farm.Site) {
	lat, lon := coordinates(s.At)
	tx.queue(`
		UPDATE midden.sites SET name = $2, kind = $3, latitude = $4, longitude = $5, note = $6, active = $7, freezer_l = $8, area_m2 = $9, version = version + 1
		 WHERE garden_id = midden.garden() AND site_id = $1`,
		s.ID, s.Name, string(s.Kind), lat, lon, s.Note, s.Active, s.FreezerL, s.AreaM2)
}
