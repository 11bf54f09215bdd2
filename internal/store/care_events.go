package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var (
	_ = refuseOn("care_events_pkey", "id.taken", "/id", "id: another care event has this id")
	_ = refuseOn("care_events_bin_fkey", "bin.not_found", "/bin_id", "bin_id: no such bin in this garden")
)

type careRow struct {
	ID          uuid.UUID   `db:"care_event_id"`
	Bin         uuid.UUID   `db:"bin_id"`
	Section     *uuid.UUID  `db:"section_id"`
	Kind        string      `db:"kind"`
	WaterValue  string      `db:"water_value"`
	WaterUnit   string      `db:"water_unit"`
	Material    *string     `db:"material"`
	To          *string     `db:"removed_to"`
	Place       *uuid.UUID  `db:"place_id"`
	Batch       *uuid.UUID  `db:"batch_id"`
	Entered     *enteredDoc `db:"entered"`
	Grams       int64       `db:"mass_g"`
	RelSD       int         `db:"rel_sd_permille"`
	MoisturePct *float64    `db:"moisture_pct"`
	Materials   []string    `db:"materials"`
	LaidG       []int64     `db:"grams"`
	Note        string      `db:"note"`
	Entry       *uuid.UUID  `db:"entry_id"`
	OccurredAt  time.Time   `db:"occurred_at"`
	Day         date        `db:"day"`
	RecordedAt  time.Time   `db:"recorded_at"`
	RecordedBy  uuid.UUID   `db:"recorded_by"`
}

func (r careRow) event() (farm.CareEvent, error) {
	c := farm.CareEvent{ID: r.ID, BinID: r.Bin, SectionID: idOf(r.Section), Kind: farm.CareKind(r.Kind),
		Water: measure.Quantity{Value: r.WaterValue, Unit: measure.Unit(r.WaterUnit)}, Material: orZero(r.Material),
		To: farm.RemovedTo(orZero(r.To)), PlaceID: idOf(r.Place), BatchID: idOf(r.Batch), Entered: r.Entered.entered(),
		Grams: measure.Grams(r.Grams), RelSDPermille: r.RelSD, MoisturePct: orZero(r.MoisturePct), Note: r.Note, EntryID: idOf(r.Entry),
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}
	for i, m := range r.Materials {
		c.Laid = append(c.Laid, farm.LaidKind{Material: m, Grams: measure.Grams(r.LaidG[i])})
	}
	return c, nil
}

const selectCare = `
	SELECT c.care_event_id, c.bin_id, c.section_id, c.kind, c.water_value, c.water_unit, c.material, c.removed_to, c.place_id,
	       c.batch_id, c.entered, c.mass_g, c.rel_sd_permille, c.moisture_pct, c.materials, c.grams, c.note, c.entry_id,
	       c.occurred_at, c.day, c.recorded_at, c.recorded_by
	  FROM midden.care_events c WHERE c.garden_id = midden.garden()`

// CareEvent asks for one care event.
func (b *Batch) CareEvent(id uuid.UUID) *Row[farm.CareEvent] {
	return fetchOne(b, careRow.event, selectCare+` AND c.care_event_id = $1`, id)
}

// CareContent asks for the digest of what a care event was made from.
func (b *Batch) CareContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.care_events WHERE garden_id = midden.garden() AND care_event_id = $1`, id)
}

// CareEvents asks for care events, the latest first.
func (b *Batch) CareEvents(f BinDays, p Page) *Paged[farm.CareEvent] {
	return paged(b, "care events", f, p, func(at []string, limit int) *Rows[farm.CareEvent] {
		return fetchAll(b, careRow.event, selectCare+`
			AND ($1::uuid IS NULL OR c.bin_id = $1)
			AND ($2::date IS NULL OR c.day >= $2) AND ($3::date IS NULL OR c.day < $3)
			AND ($4::timestamptz IS NULL OR (c.occurred_at, c.care_event_id) < ($4, $5::uuid))
			ORDER BY c.occurred_at DESC, c.care_event_id DESC LIMIT $6`,
			idOrNull(f.Bin), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(c farm.CareEvent) []string { return []string{c.OccurredAt.Format(time.RFC3339Nano), c.ID.String()} })
}

// CareSince asks for the care events of a bin, or of all with the zero id, from
// a day on, oldest first. Those whose entry was reversed are left out.
func (b *Batch) CareSince(bin uuid.UUID, from measure.Day) *Rows[farm.CareEvent] {
	return fetchAll(b, careRow.event, selectCare+`
		AND ($1::uuid IS NULL OR c.bin_id = $1) AND c.day >= $2
		AND NOT EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = c.entry_id)
		ORDER BY c.occurred_at, c.care_event_id`, idOrNull(bin), dayArg(from))
}

// InsertCareEvent writes a care event.
func (tx *Tx) InsertCareEvent(c farm.CareEvent, content [32]byte) error {
	entered, err := enteredJSON(c.Entered)
	if err != nil {
		return err
	}
	materials, grams := make([]string, len(c.Laid)), make([]int64, len(c.Laid))
	for i, l := range c.Laid {
		materials[i], grams[i] = l.Material, int64(l.Grams)
	}
	tx.queue(`
		INSERT INTO midden.care_events (garden_id, care_event_id, bin_id, section_id, kind, water_value, water_unit, material,
		       removed_to, place_id, batch_id, entered, mass_g, rel_sd_permille, moisture_pct, materials, grams, note, entry_id,
		       occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23)`,
		c.ID, c.BinID, idOrNull(c.SectionID), string(c.Kind), c.Water.Value, string(c.Water.Unit), orNull(c.Material),
		orNull(string(c.To)), idOrNull(c.PlaceID), idOrNull(c.BatchID), entered, int64(c.Grams), c.RelSDPermille, orNull(c.MoisturePct),
		materials, grams, c.Note, idOrNull(c.EntryID), c.OccurredAt, dayArg(c.Day), c.RecordedAt, c.RecordedBy, content[:])
	return nil
}

// RolledStock asks for what a rolled-up account holds of a substance from a
// day on. Unlike Stocks it is added up from the days; hold the thing that the
// account stands for while you use it.
func (b *Batch) RolledStock(h ledger.Holding, from measure.Day) *Row[Stock] {
	return fetchOne(b, stockRow.stock, `
		WITH net AS (
			SELECT t.day, sum(t.in_g - t.out_g)::bigint AS g FROM midden.day_totals t
			 WHERE t.garden_id = midden.garden() AND t.account = $1 AND t.substance = $2 GROUP BY t.day
		), run AS (
			SELECT day, (sum(g) OVER (ORDER BY day))::bigint AS closing_g FROM net
		)
		SELECT $1::text AS account, $2::text AS substance, coalesce((SELECT sum(g) FROM net), 0)::bigint AS latest_g,
		       coalesce((SELECT sum(g) FROM net WHERE day < $3), 0)::bigint AS opening_g,
		       coalesce((SELECT array_agg(day ORDER BY day) FROM run WHERE day >= $3), '{}') AS days,
		       coalesce((SELECT array_agg(closing_g ORDER BY day) FROM run WHERE day >= $3), '{}') AS closings`,
		h.Account.String(), string(h.Substance), dayArg(from))
}
