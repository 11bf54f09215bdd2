package store

import (
	"context"
	"encoding/json"
	"sync"
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
	var err error
	g.Settings, err = readSettings(r.Settings)
	return g, err
}

// settingsRead keeps settings by the text they were read from: every use case
// reads them, and hardly any changes them.
var settingsRead struct {
	sync.RWMutex
	by map[string]farm.Settings
}

const mostSettings = 4096

// readSettings reads a garden's settings. Its lists must not be changed in place.
func readSettings(text []byte) (farm.Settings, error) {
	settingsRead.RLock()
	known, ok := settingsRead.by[string(text)]
	settingsRead.RUnlock()
	if ok {
		return known, nil
	}
	// Settings added later than the row start at their defaults.
	s := farm.DefaultSettings()
	if err := json.Unmarshal(text, &s); err != nil {
		return s, err
	}
	settingsRead.Lock()
	defer settingsRead.Unlock()
	if settingsRead.by == nil || len(settingsRead.by) >= mostSettings {
		settingsRead.by = map[string]farm.Settings{}
	}
	settingsRead.by[string(text)] = s
	return s, nil
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

type mineRow struct {
	gardenRow
	Member    uuid.UUID  `db:"member_id"`
	Account   uuid.UUID  `db:"account_id"`
	Role      string     `db:"role"`
	Display   string     `db:"display_name"`
	Household *uuid.UUID `db:"household_id"`
	JoinedAt  time.Time  `db:"joined_at"`
	Edition   int        `db:"member_version"`
}

func (r mineRow) mine() (Mine, error) {
	g, err := r.garden()
	return Mine{Garden: g, Member: farm.Member{ID: r.Member, AccountID: r.Account, Role: farm.Role(r.Role), DisplayName: r.Display,
		HouseholdID: idOf(r.Household), Active: true, CreatedAt: r.JoinedAt.UTC(), Version: r.Edition}}, err
}

// MyGardens asks for the gardens that the person of the scope is an active
// member of, by name. The scope must name no garden.
func (b *Batch) MyGardens(p Page) *Paged[Mine] {
	return paged(b, "my gardens", b.scope.Account, p, func(at []string, limit int) *Rows[Mine] {
		return fetchAll(b, mineRow.mine, `
			SELECT g.garden_id, g.name, g.time_zone, g.hemisphere, g.units, g.settings, g.created_at, g.version,
			       m.member_id, m.account_id, m.role, m.display_name, m.household_id, m.created_at AS joined_at, m.version AS member_version
			  FROM midden.memberships m JOIN midden.gardens g ON g.garden_id = m.garden_id
			 WHERE m.account_id = midden.account() AND m.active
			   AND ($1::text IS NULL OR (g.name, g.garden_id) > ($1, $2::uuid))
			 ORDER BY g.name, g.garden_id LIMIT $3`, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(m Mine) []string { return []string{m.Garden.Name, m.Garden.ID.String()} })
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
