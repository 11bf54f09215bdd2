package store

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var _ = refuseOn("gardens_pkey", "garden.exists", "/id", "id: another garden has this id")

type gardenRow struct {
	ID         uuid.UUID `db:"garden_id"`
	Name       string    `db:"name"`
	TimeZone   string    `db:"time_zone"`
	Hemisphere string    `db:"hemisphere"`
	Units      string    `db:"units"`
	Settings   []byte    `db:"settings"`
	CreatedAt  time.Time `db:"created_at"`
	Version    int       `db:"version"`
}

func (r gardenRow) garden() (farm.Garden, error) {
	g := farm.Garden{ID: r.ID, Name: r.Name, TimeZone: r.TimeZone, Hemisphere: farm.Hemisphere(r.Hemisphere),
		Units: measure.System(r.Units), CreatedAt: r.CreatedAt.UTC(), Version: r.Version}
	// Settings added later than the row start at their defaults.
	g.Settings = farm.DefaultSettings()
	return g, json.Unmarshal(r.Settings, &g.Settings)
}

const selectGarden = `SELECT garden_id, name, time_zone, hemisphere, units, settings, created_at, version FROM midden.gardens`

// Garden asks for the garden of the scope.
func (b *Batch) Garden() *Row[farm.Garden] {
	return fetchOne(b, gardenRow.garden, selectGarden+` WHERE garden_id = midden.garden()`)
}

// LockGarden is Garden with the row held for an update.
func (tx *Tx) LockGarden() *Row[farm.Garden] {
	return fetchOne(&tx.Batch, gardenRow.garden, selectGarden+` WHERE garden_id = midden.garden() FOR UPDATE`)
}

// GardenContent asks for the digest of what the garden was made from.
func (b *Batch) GardenContent() *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.gardens WHERE garden_id = midden.garden()`)
}

// Mine is one of a person's own gardens, with their membership in it.
type Mine struct {
	Garden farm.Garden
	Member farm.Member
}

// MyGardens lists the gardens a person is an active member of, by name. It
// needs a scope with an account and no garden.
func (s *Store) MyGardens(ctx context.Context, account uuid.UUID) ([]Mine, error) {
	var gardens *Rows[farm.Garden]
	var members *Rows[gardenMember]
	err := s.Read(ctx, Scope{Account: account}, func(b *Batch) {
		gardens = fetchAll(b, gardenRow.garden, selectGarden+` ORDER BY name, garden_id`)
		members = fetchAll(b, memberRow.ofGarden, selectMember+` WHERE m.account_id = midden.account() AND m.active`)
	})
	if err != nil {
		return nil, err
	}
	of := map[uuid.UUID]farm.Member{}
	for _, m := range members.Values {
		of[m.garden] = m.member
	}
	out := []Mine{}
	for _, g := range gardens.Values {
		if m, ok := of[g.ID]; ok {
			out = append(out, Mine{g, m})
		}
	}
	return out, nil
}

// GardenIDs lists every garden for schedulers, which then work in one
// transaction per garden.
func (s *Store) GardenIDs(ctx context.Context) ([]uuid.UUID, error) {
	var ids *Rows[uuid.UUID]
	err := s.Read(ctx, Scope{}, func(b *Batch) { ids = fetchValues[uuid.UUID](b, `SELECT midden.garden_ids()`) })
	if err != nil {
		return nil, err
	}
	return ids.Values, nil
}

// InsertGarden writes a new garden; the scope must name it.
func (tx *Tx) InsertGarden(g farm.Garden, content [32]byte) error {
	settings, err := json.Marshal(g.Settings)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.gardens (garden_id, name, time_zone, hemisphere, units, settings, created_at, version, content_sha256)
		VALUES ($1, $2, $3, $4, $5, $6, $7, 1, $8)`,
		g.ID, g.Name, g.TimeZone, string(g.Hemisphere), string(g.Units), settings, g.CreatedAt, content[:])
	return nil
}

// UpdateGarden writes a garden whose row is locked; the version goes up by one.
func (tx *Tx) UpdateGarden(g farm.Garden) error {
	settings, err := json.Marshal(g.Settings)
	if err != nil {
		return err
	}
	tx.queue(`
		UPDATE midden.gardens SET name = $1, time_zone = $2, hemisphere = $3, units = $4, settings = $5, version = version + 1
		 WHERE garden_id = midden.garden()`,
		g.Name, g.TimeZone, string(g.Hemisphere), string(g.Units), settings)
	return nil
}
