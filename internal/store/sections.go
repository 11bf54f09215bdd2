package store

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
)

var (
	_ = refuseOn("sections_pkey", "id.taken", "/id", "id: another section has this id")
	_ = refuseOn("sections_bin_fkey", "bin.not_found", "/bin_id", "bin_id: no such bin in this garden")
)

type sectionRow struct {
	ID        uuid.UUID `db:"section_id"`
	Bin       uuid.UUID `db:"bin_id"`
	Name      string    `db:"name"`
	Position  int       `db:"position"`
	Stage     string    `db:"stage"`
	StartedOn date      `db:"started_on"`
	EmptiedOn date      `db:"emptied_on"`
	CreatedAt time.Time `db:"created_at"`
	Version   int       `db:"version"`
}

func (r sectionRow) section() (farm.Section, error) {
	return farm.Section{ID: r.ID, BinID: r.Bin, Name: r.Name, Position: r.Position, Stage: farm.Stage(r.Stage),
		StartedOn: r.StartedOn.Day, EmptiedOn: r.EmptiedOn.Day, CreatedAt: r.CreatedAt.UTC(), Version: r.Version}, nil
}

const selectSection = `SELECT section_id, bin_id, name, position, stage, started_on, emptied_on, created_at, version FROM midden.sections`

// Section asks for one section of a bin.
func (b *Batch) Section(bin, id uuid.UUID) *Row[farm.Section] {
	return fetchOne(b, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() AND bin_id = $1 AND section_id = $2`, bin, id)
}

// LockSection is Section with the row held for an update.
func (tx *Tx) LockSection(bin, id uuid.UUID) *Row[farm.Section] {
	return fetchOne(&tx.Batch, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() AND bin_id = $1 AND section_id = $2 FOR UPDATE`, bin, id)
}

// Sections asks for a bin's sections, in order.
func (b *Batch) Sections(bin uuid.UUID) *Rows[farm.Section] {
	return fetchAll(b, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() AND bin_id = $1 ORDER BY position, section_id`, bin)
}

// SectionPage asks for a page of a bin's sections, in order.
func (b *Batch) SectionPage(bin uuid.UUID, p Page) *Paged[farm.Section] {
	return paged(b, "sections", bin, p, func(at []string, limit int) *Rows[farm.Section] {
		return fetchAll(b, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() AND bin_id = $1
			AND ($2::text IS NULL OR (position, section_id) > ($2::text::int, $3::uuid))
			ORDER BY position, section_id LIMIT $4`, bin, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(x farm.Section) []string { return []string{strconv.Itoa(x.Position), x.ID.String()} })
}

// AllSections asks for the sections of every bin, by bin and in order: for planning.
func (b *Batch) AllSections() *Rows[farm.Section] {
	return fetchAll(b, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() ORDER BY bin_id, position, section_id`)
}

// SectionContent asks for the digest of what a section was made from.
func (b *Batch) SectionContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.sections WHERE garden_id = midden.garden() AND section_id = $1`, id)
}

// InsertSection writes a new section.
func (tx *Tx) InsertSection(s farm.Section, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.sections (garden_id, section_id, bin_id, name, position, stage, started_on, emptied_on, created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, 1, $9)`,
		s.ID, s.BinID, s.Name, s.Position, string(s.Stage), dayArg(s.StartedOn), dayArg(s.EmptiedOn), s.CreatedAt, content[:])
}

// UpdateSection writes a section whose row is locked; the version goes up by one.
func (tx *Tx) UpdateSection(s farm.Section) {
	tx.queue(`
		UPDATE midden.sections SET name = $2, position = $3, stage = $4, started_on = $5, emptied_on = $6, version = version + 1
		 WHERE garden_id = midden.garden() AND section_id = $1`,
		s.ID, s.Name, s.Position, string(s.Stage), dayArg(s.StartedOn), dayArg(s.EmptiedOn))
}
