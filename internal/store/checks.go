package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("checks_pkey", "id.taken", "/id", "id: another check has this id")
	_ = refuseOn("checks_bin_fkey", "bin.not_found", "/bin_id", "bin_id: no such bin in this garden")
)

type lookDoc struct {
	Section   uuid.UUID `json:"section_id"`
	DepthMM   *int      `json:"depth_mm"`
	Worms     *string   `json:"worms"`
	PerTrowel []int     `json:"per_trowel"`
	Texture   string    `json:"texture"`
	WetSpots  *bool     `json:"wet_spots"`
}

type checkRow struct {
	ID            uuid.UUID `db:"check_id"`
	Bin           uuid.UUID `db:"bin_id"`
	Kind          string    `db:"kind"`
	Smell         *string   `db:"smell"`
	SqueezeTop    *int      `db:"squeeze_top"`
	SqueezeBottom *int      `db:"squeeze_bottom"`
	FoodLeft      *string   `db:"food_left"`
	LeftOf        []string  `db:"food_left_of"`
	FeedC         *float64  `db:"feed_c"`
	BedC          *float64  `db:"bed_c"`
	RoomC         *float64  `db:"room_c"`
	Thermometer   *string   `db:"thermometer"`
	Leaving       bool      `db:"leaving"`
	Pests         []string  `db:"pests"`
	Odd           string    `db:"odd"`
	OccurredAt    time.Time `db:"occurred_at"`
	Day           date      `db:"day"`
	RecordedAt    time.Time `db:"recorded_at"`
	RecordedBy    uuid.UUID `db:"recorded_by"`
	Looks         []lookDoc `db:"looks"`
}

func (r checkRow) check() (farm.Check, error) {
	c := farm.Check{ID: r.ID, BinID: r.Bin, Kind: farm.CheckKind(r.Kind), Smell: farm.Smell(orZero(r.Smell)),
		SqueezeTop: farm.Squeeze(orZero(r.SqueezeTop)), SqueezeBottom: farm.Squeeze(orZero(r.SqueezeBottom)),
		FoodLeft: farm.FoodLeft(orZero(r.FoodLeft)), LeftOf: r.LeftOf, FeedC: r.FeedC, BedC: r.BedC, RoomC: r.RoomC,
		Thermometer: farm.Thermometer(orZero(r.Thermometer)), Leaving: r.Leaving, Odd: r.Odd,
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}
	for _, p := range r.Pests {
		c.Pests = append(c.Pests, farm.Pest(p))
	}
	for _, l := range r.Looks {
		c.Sections = append(c.Sections, farm.SectionLook{SectionID: l.Section, DepthMM: l.DepthMM, Worms: farm.WormGrade(orZero(l.Worms)),
			PerTrowel: l.PerTrowel, Texture: l.Texture, WetSpots: l.WetSpots})
	}
	return c, nil
}

const selectCheck = `
	SELECT c.check_id, c.bin_id, c.kind, c.smell, c.squeeze_top, c.squeeze_bottom, c.food_left, c.food_left_of, c.feed_c,
	       c.bed_c, c.room_c, c.thermometer, c.leaving, c.pests, c.odd, c.occurred_at, c.day, c.recorded_at, c.recorded_by,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('section_id', l.section_id, 'depth_mm', l.depth_mm, 'worms', l.worms,
	                 'per_trowel', l.per_trowel, 'texture', l.texture, 'wet_spots', l.wet_spots) ORDER BY s.position, s.section_id), '[]')
	          FROM midden.check_looks l JOIN midden.sections s ON s.garden_id = l.garden_id AND s.section_id = l.section_id
	         WHERE l.garden_id = midden.garden() AND l.check_id = c.check_id) AS looks
	  FROM midden.checks c WHERE c.garden_id = midden.garden()`

// Check asks for one check.
func (b *Batch) Check(id uuid.UUID) *Row[farm.Check] {
	return fetchOne(b, checkRow.check, selectCheck+` AND c.check_id = $1`, id)
}

// CheckContent asks for the digest of what a check was made from.
func (b *Batch) CheckContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.checks WHERE garden_id = midden.garden() AND check_id = $1`, id)
}

// Checks asks for checks, the latest first.
func (b *Batch) Checks(f BinDays, p Page) *Paged[farm.Check] {
	return paged(b, "checks", f, p, func(at []string, limit int) *Rows[farm.Check] {
		return fetchAll(b, checkRow.check, selectCheck+`
			AND ($1::uuid IS NULL OR c.bin_id = $1)
			AND ($2::date IS NULL OR c.day >= $2) AND ($3::date IS NULL OR c.day < $3)
			AND ($4::timestamptz IS NULL OR (c.occurred_at, c.check_id) < ($4, $5::uuid))
			ORDER BY c.occurred_at DESC, c.check_id DESC LIMIT $6`,
			idOrNull(f.Bin), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(c farm.Check) []string { return []string{c.OccurredAt.Format(time.RFC3339Nano), c.ID.String()} })
}

// ChecksSince asks for the checks of a bin, or of all with the zero id, from a
// day on, oldest first.
func (b *Batch) ChecksSince(bin uuid.UUID, from measure.Day) *Rows[farm.Check] {
	return fetchAll(b, checkRow.check, selectCheck+`
		AND ($1::uuid IS NULL OR c.bin_id = $1) AND c.day >= $2 ORDER BY c.occurred_at, c.check_id`, idOrNull(bin), dayArg(from))
}

// InsertCheck writes a check with its looks into sections.
func (tx *Tx) InsertCheck(c farm.Check, content [32]byte) {
	pests := make([]string, len(c.Pests))
	for i, p := range c.Pests {
		pests[i] = string(p)
	}
	tx.queue(`
		INSERT INTO midden.checks (garden_id, check_id, bin_id, kind, smell, squeeze_top, squeeze_bottom, food_left, food_left_of,
		       feed_c, bed_c, room_c, thermometer, leaving, pests, odd, occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20)`,
		c.ID, c.BinID, string(c.Kind), orNull(string(c.Smell)), orNull(int(c.SqueezeTop)), orNull(int(c.SqueezeBottom)),
		orNull(string(c.FoodLeft)), append([]string{}, c.LeftOf...), c.FeedC, c.BedC, c.RoomC, orNull(string(c.Thermometer)), c.Leaving,
		pests, c.Odd, c.OccurredAt, dayArg(c.Day), c.RecordedAt, c.RecordedBy, content[:])
	for _, l := range c.Sections {
		tx.queue(`
			INSERT INTO midden.check_looks (garden_id, check_id, section_id, depth_mm, worms, per_trowel, texture, wet_spots)
			VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7)`,
			c.ID, l.SectionID, l.DepthMM, orNull(string(l.Worms)), append([]int{}, l.PerTrowel...), l.Texture, l.WetSpots)
	}
}
