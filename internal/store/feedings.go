package store

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("feedings_pkey", "feeding.exists", "/id", "id: another feeding has this id")
	_ = refuseOn("feedings_section_fkey", "section.not_found", "/section_id", "section_id: no such section in this bin")
)

// FeedingSeen is a feeding as it stands in the ledger.
type FeedingSeen struct {
	farm.Feed
	Reversed bool
}

type fedLotDoc struct {
	Lot        uuid.UUID   `json:"lot"`
	Material   string      `json:"material"`
	Unrecorded bool        `json:"unrecorded"`
	Entered    *enteredDoc `json:"entered"`
	Net        int64       `json:"net"`
	RelSD      int         `json:"sd"`
}

type beddingLaidDoc struct {
	Batch     *uuid.UUID  `json:"batch"`
	Dry       *uuid.UUID  `json:"dry"`
	AgedDays  *int        `json:"aged"`
	Moisture  float64     `json:"moisture"`
	Entered   *enteredDoc `json:"entered"`
	RelSD     int         `json:"sd"`
	Materials []string    `json:"materials"`
	Grams     []int64     `json:"grams"`
}

type feedingRow struct {
	ID         uuid.UUID        `db:"feeding_id"`
	Bin        uuid.UUID        `db:"bin_id"`
	Section    uuid.UUID        `db:"section_id"`
	CoverMM    *int             `db:"cover_mm"`
	PlanTask   *uuid.UUID       `db:"plan_task_id"`
	Note       string           `db:"note"`
	Warnings   []farm.Warning   `db:"warnings"`
	Entry      uuid.UUID        `db:"entry_id"`
	FedAt      time.Time        `db:"fed_at"`
	FedOn      date             `db:"fed_on"`
	RecordedAt time.Time        `db:"recorded_at"`
	RecordedBy uuid.UUID        `db:"recorded_by"`
	Lots       []fedLotDoc      `db:"lots"`
	Bedding    []beddingLaidDoc `db:"bedding"`
	Reversed   bool             `db:"reversed"`
}

func (r feedingRow) feeding() (FeedingSeen, error) {
	f := farm.Feed{ID: r.ID, BinID: r.Bin, SectionID: r.Section, CoverMM: r.CoverMM, PlanTaskID: idOf(r.PlanTask), Note: r.Note,
		Warnings: r.Warnings, EntryID: r.Entry, FedAt: r.FedAt.UTC(), FedOn: r.FedOn.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}
	for _, l := range r.Lots {
		f.Lots = append(f.Lots, farm.FedLot{LotID: l.Lot, Material: l.Material, Unrecorded: l.Unrecorded, Entered: l.Entered.entered(),
			Net: measure.Grams(l.Net), RelSDPermille: l.RelSD})
	}
	for _, b := range r.Bedding {
		laid := farm.BeddingLaid{BatchID: idOf(b.Batch), DryID: idOf(b.Dry), AgedDays: orZero(b.AgedDays), MoisturePct: b.Moisture,
			Entered: b.Entered.entered(), RelSDPermille: b.RelSD}
		for i := range b.Materials {
			laid.Kinds = append(laid.Kinds, farm.LaidKind{Material: b.Materials[i], Grams: measure.Grams(b.Grams[i])})
		}
		f.Bedding = append(f.Bedding, laid)
	}
	return FeedingSeen{f, r.Reversed}, nil
}

const selectFeeding = `
	SELECT f.feeding_id, f.bin_id, f.section_id, f.cover_mm, f.plan_task_id, f.note, f.warnings, f.entry_id, f.fed_at, f.fed_on,
	       f.recorded_at, f.recorded_by,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('lot', l.lot_id, 'material', l.material, 'unrecorded', l.unrecorded,
	               'entered', l.entered, 'net', l.net_g, 'sd', l.rel_sd_permille) ORDER BY l.line), '[]')
	          FROM midden.feeding_lots l WHERE l.garden_id = midden.garden() AND l.feeding_id = f.feeding_id) AS lots,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('batch', b.batch_id, 'dry', b.dry_bedding_id, 'aged', b.aged_days,
	               'moisture', b.moisture_pct, 'entered', b.entered, 'sd', b.rel_sd_permille, 'materials', b.materials,
	               'grams', b.grams) ORDER BY b.line), '[]')
	          FROM midden.feeding_bedding b WHERE b.garden_id = midden.garden() AND b.feeding_id = f.feeding_id) AS bedding,
	       EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = f.entry_id) AS reversed
	  FROM midden.feedings f WHERE f.garden_id = midden.garden()`

// Feeding asks for one feeding.
func (b *Batch) Feeding(id uuid.UUID) *Row[FeedingSeen] {
	return fetchOne(b, feedingRow.feeding, selectFeeding+` AND f.feeding_id = $1`, id)
}

// FeedingContent asks for the digest of what a feeding was made from.
func (b *Batch) FeedingContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.feedings WHERE garden_id = midden.garden() AND feeding_id = $1`, id)
}

// FeedingFilter narrows a list of feedings. Zero fields do not narrow.
type FeedingFilter struct {
	BinID       uuid.UUID
	From, Until measure.Day // From is in, Until is not
}

// Feedings asks for feedings, the latest first.
func (b *Batch) Feedings(f FeedingFilter, p Page) *Paged[FeedingSeen] {
	return paged(b, "feedings", f, p, func(at []string, limit int) *Rows[FeedingSeen] {
		return fetchAll(b, feedingRow.feeding, selectFeeding+`
			AND ($1::uuid IS NULL OR f.bin_id = $1)
			AND ($2::date IS NULL OR f.fed_on >= $2) AND ($3::date IS NULL OR f.fed_on < $3)
			AND ($4::timestamptz IS NULL OR (f.fed_at, f.feeding_id) < ($4, $5::uuid))
			ORDER BY f.fed_at DESC, f.feeding_id DESC LIMIT $6`,
			idOrNull(f.BinID), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(x FeedingSeen) []string { return []string{x.FedAt.Format(time.RFC3339Nano), x.ID.String()} })
}

// InsertFeeding writes a feeding with its lots and bedding.
func (tx *Tx) InsertFeeding(f farm.Feed, content [32]byte) error {
	if f.Warnings == nil {
		f.Warnings = []farm.Warning{}
	}
	warnings, err := json.Marshal(f.Warnings)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.feedings (garden_id, feeding_id, bin_id, section_id, cover_mm, plan_task_id, note, warnings, entry_id,
		       fed_at, fed_on, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7::text::jsonb, $8, $9, $10, $11, $12, $13)`,
		f.ID, f.BinID, f.SectionID, f.CoverMM, idOrNull(f.PlanTaskID), f.Note, string(warnings), f.EntryID, f.FedAt, dayArg(f.FedOn),
		f.RecordedAt, f.RecordedBy, content[:])
	for i, l := range f.Lots {
		entered, err := enteredJSON(l.Entered)
		if err != nil {
			return err
		}
		tx.queue(`
			INSERT INTO midden.feeding_lots (garden_id, feeding_id, line, lot_id, material, unrecorded, entered, net_g, rel_sd_permille)
			VALUES (midden.garden(), $1, $2, $3, $4, $5, $6::text::jsonb, $7, $8)`,
			f.ID, i, l.LotID, l.Material, l.Unrecorded, entered, int64(l.Net), l.RelSDPermille)
	}
	for i, b := range f.Bedding {
		if err := tx.insertBeddingLaid(f.ID, i, b); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) insertBeddingLaid(feeding uuid.UUID, line int, b farm.BeddingLaid) error {
	entered, err := enteredJSON(b.Entered)
	if err != nil {
		return err
	}
	var aged *int
	if b.BatchID != uuid.Nil {
		aged = &b.AgedDays
	}
	materials, grams := make([]string, len(b.Kinds)), make([]int64, len(b.Kinds))
	for i, k := range b.Kinds {
		materials[i], grams[i] = k.Material, int64(k.Grams)
	}
	tx.queue(`
		INSERT INTO midden.feeding_bedding (garden_id, feeding_id, line, batch_id, dry_bedding_id, aged_days, moisture_pct, entered,
		       rel_sd_permille, materials, grams)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7::text::jsonb, $8, $9, $10)`,
		feeding, line, idOrNull(b.BatchID), idOrNull(b.DryID), aged, b.MoisturePct, entered, b.RelSDPermille, materials, grams)
	return nil
}
