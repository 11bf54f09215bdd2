package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("dry_bedding_pkey", "bedding.exists", "/id", "id: another bedding has this id")
	_ = refuseOn("dry_bedding_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
)

// DryOnHand is dry bedding with what is left of it.
type DryOnHand struct {
	farm.DryBedding
	OnHand   measure.Grams
	Reversed bool
}

type dryRow struct {
	ID         uuid.UUID   `db:"dry_bedding_id"`
	Material   string      `db:"material"`
	Site       uuid.UUID   `db:"site_id"`
	Reserve    bool        `db:"reserve"`
	Entered    *enteredDoc `db:"entered"`
	NetG       int64       `db:"net_g"`
	RelSD      int         `db:"rel_sd_permille"`
	Note       string      `db:"note"`
	Entry      uuid.UUID   `db:"entry_id"`
	ReceivedAt time.Time   `db:"received_at"`
	ReceivedOn date        `db:"received_on"`
	RecordedAt time.Time   `db:"recorded_at"`
	RecordedBy uuid.UUID   `db:"recorded_by"`
	OnHand     int64       `db:"on_hand_g"`
	Reversed   bool        `db:"reversed"`
}

func (r dryRow) dry() (DryOnHand, error) {
	return DryOnHand{DryBedding: farm.DryBedding{
		ID: r.ID, Material: r.Material, SiteID: r.Site, Reserve: r.Reserve, Entered: *r.Entered.entered(),
		Weight: farm.Weight{Net: measure.Grams(r.NetG), RelSDPermille: r.RelSD}, Note: r.Note, EntryID: r.Entry,
		ReceivedAt: r.ReceivedAt.UTC(), ReceivedOn: r.ReceivedOn.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy,
	}, OnHand: measure.Grams(r.OnHand), Reversed: r.Reversed}, nil
}

// See selectLot for why what is left is looked up this way.
const selectDry = `
	SELECT d.dry_bedding_id, d.material, d.site_id, d.reserve, d.entered, d.net_g, d.rel_sd_permille, d.note, d.entry_id,
	       d.received_at, d.received_on, d.recorded_at, d.recorded_by, coalesce(h.latest_g, 0) AS on_hand_g,
	       EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = d.entry_id) AS reversed
	  FROM midden.dry_bedding d LEFT JOIN LATERAL (SELECT s.latest_g FROM midden.stock_heads s WHERE s.garden_id = midden.garden()
	       AND s.account = 'bedding:' || d.dry_bedding_id AND s.substance = 'bedding/' || d.material OFFSET 0) h ON true
	 WHERE d.garden_id = midden.garden()`

// DryBedding asks for one receipt of dry bedding with what is left of it.
func (b *Batch) DryBedding(id uuid.UUID) *Row[DryOnHand] {
	return fetchOne(b, dryRow.dry, selectDry+` AND d.dry_bedding_id = $1`, id)
}

// DryBeddingByID asks for several, in the order of their ids.
func (b *Batch) DryBeddingByID(ids []uuid.UUID) *Rows[DryOnHand] {
	return fetchAll(b, dryRow.dry, selectDry+` AND d.dry_bedding_id = ANY($1) ORDER BY d.dry_bedding_id`, ids)
}

// BeddingContent asks for the digest of what dry bedding or a batch was made
// from. The two share the ledger's accounts, so an id serves only one of them.
func (b *Batch) BeddingContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `
		SELECT content_sha256 FROM midden.dry_bedding WHERE garden_id = midden.garden() AND dry_bedding_id = $1
		UNION ALL
		SELECT content_sha256 FROM midden.bedding_batches WHERE garden_id = midden.garden() AND batch_id = $1`, id)
}

// DryFilter narrows a list of dry bedding. Zero fields do not narrow.
type DryFilter struct {
	Material string
	SiteID   uuid.UUID
	InStock  bool // only with something left
}

// DryBeddings asks for dry bedding, the latest first.
func (b *Batch) DryBeddings(f DryFilter, p Page) *Paged[DryOnHand] {
	return paged(b, "dry bedding", f, p, func(at []string, limit int) *Rows[DryOnHand] {
		return fetchAll(b, dryRow.dry, selectDry+`
			AND ($1::text IS NULL OR d.material = $1) AND ($2::uuid IS NULL OR d.site_id = $2) AND (NOT $3 OR h.latest_g > 0)
			AND ($4::timestamptz IS NULL OR (d.received_at, d.dry_bedding_id) < ($4, $5::uuid))
			ORDER BY d.received_at DESC, d.dry_bedding_id DESC LIMIT $6`,
			orNull(f.Material), idOrNull(f.SiteID), f.InStock, timeKey(at, 0), keyAt(at, 1), limit)
	}, func(d DryOnHand) []string { return []string{d.ReceivedAt.Format(time.RFC3339Nano), d.ID.String()} })
}

// InsertDryBedding writes a receipt of dry bedding.
func (tx *Tx) InsertDryBedding(d farm.DryBedding, content [32]byte) error {
	entered, err := enteredJSON(&d.Entered)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.dry_bedding (garden_id, dry_bedding_id, material, site_id, reserve, entered, net_g, rel_sd_permille,
		       note, entry_id, received_at, received_on, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5::text::jsonb, $6, $7, $8, $9, $10, $11, $12, $13, $14)`,
		d.ID, d.Material, d.SiteID, d.Reserve, entered, int64(d.Weight.Net), d.Weight.RelSDPermille, d.Note, d.EntryID,
		d.ReceivedAt, dayArg(d.ReceivedOn), d.RecordedAt, d.RecordedBy, content[:])
	return nil
}

// BeddingStock is what is left of one material in a dry receipt or a batch.
type BeddingStock struct {
	ID          uuid.UUID // of the receipt or the batch
	SiteID      uuid.UUID
	Material    string
	Dry         bool
	Reserve     bool        // dry bedding kept for rescuing wet bins
	StandIn     bool        // a batch soaked and wrung out
	StartedOn   measure.Day // a batch began to age; the day dry bedding came
	ReadyOn     measure.Day // a batch counts as aged; dry bedding has none
	LastLook    *farm.BeddingLook
	MoisturePct float64 // of a batch as it was made; 0 for dry bedding: the material's own
	Grams       measure.Grams
}

// ReadyFrom is the first day a batch may be laid, as far as can be told today.
func (x BeddingStock) ReadyFrom(today measure.Day) measure.Day {
	b := farm.BeddingBatch{StandIn: x.StandIn, ReadyOn: x.ReadyOn}
	if x.LastLook != nil {
		b.Looks = []farm.BeddingLook{*x.LastLook}
	}
	return b.ReadyFrom(today)
}

type beddingStockRow struct {
	ID          uuid.UUID `db:"id"`
	Site        uuid.UUID `db:"site_id"`
	Material    string    `db:"material"`
	Dry         bool      `db:"dry"`
	Reserve     bool      `db:"reserve"`
	StandIn     bool      `db:"stand_in"`
	StartedOn   date      `db:"started_on"`
	ReadyOn     date      `db:"ready_on"`
	TempC       *float64  `db:"temp_c"`
	RoomC       *float64  `db:"room_c"`
	Squeeze     *int      `db:"squeeze"`
	Smell       *string   `db:"smell"`
	MoisturePct float64   `db:"moisture_pct"`
	Grams       int64     `db:"grams"`
}

func (r beddingStockRow) stock() (BeddingStock, error) {
	var look *farm.BeddingLook
	if r.Squeeze != nil {
		look = &farm.BeddingLook{TempC: orZero(r.TempC), RoomC: orZero(r.RoomC), Squeeze: farm.Squeeze(*r.Squeeze), Smell: farm.Smell(orZero(r.Smell))}
	}
	return BeddingStock{ID: r.ID, SiteID: r.Site, Material: r.Material, Dry: r.Dry, Reserve: r.Reserve, StandIn: r.StandIn,
		StartedOn: r.StartedOn.Day, ReadyOn: r.ReadyOn.Day, LastLook: look, MoisturePct: r.MoisturePct, Grams: measure.Grams(r.Grams)}, nil
}

// BeddingOnHand asks for all bedding with something left, dry first, then by
// the day a batch is ready: for planning.
func (b *Batch) BeddingOnHand() *Rows[BeddingStock] {
	return fetchAll(b, beddingStockRow.stock, `
		SELECT d.dry_bedding_id AS id, d.site_id, d.material, true AS dry, d.reserve, false AS stand_in, d.received_on AS started_on,
		       NULL::date AS ready_on, NULL::float8 AS temp_c, NULL::float8 AS room_c, NULL::int AS squeeze, NULL::text AS smell,
		       0::float8 AS moisture_pct, h.latest_g AS grams
		  FROM midden.stock_heads h JOIN midden.dry_bedding d
		    ON d.garden_id = h.garden_id AND h.account = 'bedding:' || d.dry_bedding_id
		 WHERE h.garden_id = midden.garden() AND h.account >= 'bedding:' AND h.account < 'bedding;' AND h.latest_g > 0
		UNION ALL
		SELECT c.batch_id, c.site_id, split_part(h.substance, '/', 2), false, false, c.stand_in, c.started_on, c.ready_on,
		       l.temp_c, l.room_c, l.squeeze::int, l.smell, c.moisture_pct, h.latest_g
		  FROM midden.stock_heads h JOIN midden.bedding_batches c
		    ON c.garden_id = h.garden_id AND h.account = 'bedding:' || c.batch_id
		  LEFT JOIN LATERAL (SELECT k.temp_c, k.room_c, k.squeeze, k.smell FROM midden.bedding_looks k
		        WHERE k.garden_id = midden.garden() AND k.batch_id = c.batch_id
		        ORDER BY k.seen_at DESC, k.look_id DESC LIMIT 1) l ON true
		 WHERE h.garden_id = midden.garden() AND h.account >= 'bedding:' AND h.account < 'bedding;' AND h.latest_g > 0
		 ORDER BY dry DESC, ready_on, started_on, id, material`)
}
