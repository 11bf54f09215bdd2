package store

import (
	"strconv"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("bedding_batches_pkey", "bedding.exists", "/id", "id: another bedding has this id")
	_ = refuseOn("bedding_batches_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
)

// BatchOnHand is a bedding batch with what is left of it, water and all.
type BatchOnHand struct {
	farm.BeddingBatch
	OnHand   measure.Grams
	Reversed bool
}

// ShownLooks is how many looks at a batch are read, the latest ones.
const ShownLooks = 100

var shownLooks = strconv.Itoa(ShownLooks)

type beddingPartDoc struct {
	Dry      uuid.UUID   `json:"dry"`
	Material string      `json:"material"`
	Entered  *enteredDoc `json:"entered"`
	Net      int64       `json:"net"`
	RelSD    int         `json:"sd"`
}

type beddingLookDoc struct {
	ID         uuid.UUID   `json:"id"`
	SeenAt     time.Time   `json:"seen_at"`
	SeenOn     measure.Day `json:"seen_on"`
	TempC      float64     `json:"temp_c"`
	RoomC      float64     `json:"room_c"`
	Squeeze    int         `json:"squeeze"`
	Smell      string      `json:"smell"`
	RecordedAt time.Time   `json:"recorded_at"`
	RecordedBy uuid.UUID   `json:"recorded_by"`
}

type batchRow struct {
	ID          uuid.UUID        `db:"batch_id"`
	Site        uuid.UUID        `db:"site_id"`
	WaterValue  string           `db:"water_value"`
	WaterUnit   string           `db:"water_unit"`
	WaterG      int64            `db:"water_g"`
	Tubs        *int             `db:"tubs"`
	StandIn     bool             `db:"stand_in"`
	Note        string           `db:"note"`
	MoisturePct float64          `db:"moisture_pct"`
	ReadyOn     date             `db:"ready_on"`
	Entry       uuid.UUID        `db:"entry_id"`
	StartedAt   time.Time        `db:"started_at"`
	StartedOn   date             `db:"started_on"`
	RecordedAt  time.Time        `db:"recorded_at"`
	RecordedBy  uuid.UUID        `db:"recorded_by"`
	Parts       []beddingPartDoc `db:"parts"`
	Looks       []beddingLookDoc `db:"looks"`
	OnHand      int64            `db:"on_hand_g"`
	Reversed    bool             `db:"reversed"`
}

func (r batchRow) batch() (BatchOnHand, error) {
	b := farm.BeddingBatch{ID: r.ID, SiteID: r.Site, Water: measure.Quantity{Value: r.WaterValue, Unit: measure.Unit(r.WaterUnit)},
		WaterG: measure.Grams(r.WaterG), Tubs: orZero(r.Tubs), StandIn: r.StandIn, Note: r.Note, MoisturePct: r.MoisturePct,
		ReadyOn: r.ReadyOn.Day, EntryID: r.Entry, StartedAt: r.StartedAt.UTC(), StartedOn: r.StartedOn.Day,
		RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}
	for _, p := range r.Parts {
		b.Parts = append(b.Parts, farm.BeddingPart{DryID: p.Dry, Material: p.Material, Entered: p.Entered.entered(),
			Net: measure.Grams(p.Net), RelSDPermille: p.RelSD})
	}
	for _, l := range r.Looks {
		b.Looks = append(b.Looks, farm.BeddingLook{ID: l.ID, BatchID: r.ID, SeenAt: l.SeenAt.UTC(), SeenOn: l.SeenOn, TempC: l.TempC,
			RoomC: l.RoomC, Squeeze: farm.Squeeze(l.Squeeze), Smell: farm.Smell(l.Smell), RecordedAt: l.RecordedAt.UTC(), RecordedBy: l.RecordedBy})
	}
	return BatchOnHand{BeddingBatch: b, OnHand: measure.Grams(r.OnHand), Reversed: r.Reversed}, nil
}

var selectBatch = `
	SELECT c.batch_id, c.site_id, c.water_value, c.water_unit, c.water_g, c.tubs, c.stand_in, c.note, c.moisture_pct, c.ready_on,
	       c.entry_id, c.started_at, c.started_on, c.recorded_at, c.recorded_by,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('dry', p.dry_bedding_id, 'material', p.material, 'entered', p.entered,
	               'net', p.net_g, 'sd', p.rel_sd_permille) ORDER BY p.line), '[]')
	          FROM midden.bedding_batch_parts p WHERE p.garden_id = midden.garden() AND p.batch_id = c.batch_id) AS parts,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('id', k.look_id, 'seen_at', k.seen_at, 'seen_on', k.seen_on,
	               'temp_c', k.temp_c, 'room_c', k.room_c, 'squeeze', k.squeeze, 'smell', k.smell,
	               'recorded_at', k.recorded_at, 'recorded_by', k.recorded_by) ORDER BY k.seen_at, k.look_id), '[]')
	          FROM (SELECT look_id, seen_at, seen_on, temp_c, room_c, squeeze, smell, recorded_at, recorded_by
	                  FROM midden.bedding_looks l WHERE l.garden_id = midden.garden() AND l.batch_id = c.batch_id
	                 ORDER BY l.seen_at DESC, l.look_id DESC LIMIT ` + shownLooks + `) k) AS looks,
	       s.on_hand_g, EXISTS (SELECT FROM midden.entries r
	               WHERE r.garden_id = midden.garden() AND r.reverses = c.entry_id) AS reversed
	  FROM midden.bedding_batches c, LATERAL (SELECT coalesce(sum(h.latest_g), 0)::bigint AS on_hand_g FROM midden.stock_heads h
	               WHERE h.garden_id = midden.garden() AND h.account = 'bedding:' || c.batch_id) s
	 WHERE c.garden_id = midden.garden()`

// BeddingBatch asks for one batch with its parts, looks and what is left of it.
func (b *Batch) BeddingBatch(id uuid.UUID) *Row[BatchOnHand] {
	return fetchOne(b, batchRow.batch, selectBatch+` AND c.batch_id = $1`, id)
}

// BeddingBatchesByID asks for several, in the order of their ids.
func (b *Batch) BeddingBatchesByID(ids []uuid.UUID) *Rows[BatchOnHand] {
	return fetchAll(b, batchRow.batch, selectBatch+` AND c.batch_id = ANY($1) ORDER BY c.batch_id`, ids)
}

// BatchFilter narrows a list of batches. Zero fields do not narrow.
type BatchFilter struct {
	SiteID  uuid.UUID
	InStock bool // only with something left
}

// BeddingBatches asks for batches, the latest first.
func (b *Batch) BeddingBatches(f BatchFilter, p Page) *Paged[BatchOnHand] {
	return paged(b, "bedding batches", f, p, func(at []string, limit int) *Rows[BatchOnHand] {
		return fetchAll(b, batchRow.batch, selectBatch+`
			AND ($1::uuid IS NULL OR c.site_id = $1) AND (NOT $2 OR s.on_hand_g > 0)
			AND ($3::timestamptz IS NULL OR (c.started_at, c.batch_id) < ($3, $4::uuid))
			ORDER BY c.started_at DESC, c.batch_id DESC LIMIT $5`,
			idOrNull(f.SiteID), f.InStock, timeKey(at, 0), keyAt(at, 1), limit)
	}, func(x BatchOnHand) []string { return []string{x.StartedAt.Format(time.RFC3339Nano), x.ID.String()} })
}

// InsertBeddingBatch writes a new batch with its parts.
func (tx *Tx) InsertBeddingBatch(x farm.BeddingBatch, content [32]byte) error {
	tx.queue(`
		INSERT INTO midden.bedding_batches (garden_id, batch_id, site_id, water_value, water_unit, water_g, tubs, stand_in, note,
		       moisture_pct, ready_on, entry_id, started_at, started_on, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16)`,
		x.ID, x.SiteID, x.Water.Value, string(x.Water.Unit), int64(x.WaterG), orNull(x.Tubs), x.StandIn, x.Note, x.MoisturePct,
		dayArg(x.ReadyOn), x.EntryID, x.StartedAt, dayArg(x.StartedOn), x.RecordedAt, x.RecordedBy, content[:])
	for i, p := range x.Parts {
		entered, err := enteredJSON(p.Entered)
		if err != nil {
			return err
		}
		tx.queue(`
			INSERT INTO midden.bedding_batch_parts (garden_id, batch_id, line, dry_bedding_id, material, entered, net_g, rel_sd_permille)
			VALUES (midden.garden(), $1, $2, $3, $4, $5::text::jsonb, $6, $7)`,
			x.ID, i, p.DryID, p.Material, entered, int64(p.Net), p.RelSDPermille)
	}
	return nil
}

// InsertBeddingLook notes a look at a batch.
func (tx *Tx) InsertBeddingLook(l farm.BeddingLook) {
	tx.queue(`
		INSERT INTO midden.bedding_looks (garden_id, look_id, batch_id, seen_at, seen_on, temp_c, room_c, squeeze, smell, recorded_at, recorded_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`,
		l.ID, l.BatchID, l.SeenAt, dayArg(l.SeenOn), l.TempC, l.RoomC, int(l.Squeeze), string(l.Smell), l.RecordedAt, l.RecordedBy)
}
