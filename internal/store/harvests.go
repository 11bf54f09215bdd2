package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var _ = refuseOn("harvests_pkey", "id.taken", "/id", "id: another harvest has this id")

type harvestRow struct {
	ID         uuid.UUID   `db:"harvest_id"`
	Bin        uuid.UUID   `db:"bin_id"`
	Section    uuid.UUID   `db:"section_id"`
	Lot        uuid.UUID   `db:"castings_lot_id"`
	Entered    *enteredDoc `db:"entered"`
	MassG      int64       `db:"mass_g"`
	Worms      *wormsDoc   `db:"worms"`
	WormsG     int64       `db:"worms_g"`
	FoundG     int64       `db:"found_g"`
	Emptied    bool        `db:"emptied"`
	ClosedG    int64       `db:"closed_g"`
	WormsLeftG *int64      `db:"worms_left_g"`
	Note       string      `db:"note"`
	Entry      uuid.UUID   `db:"entry_id"`
	OccurredAt time.Time   `db:"occurred_at"`
	Day        date        `db:"day"`
	RecordedAt time.Time   `db:"recorded_at"`
	RecordedBy *uuid.UUID  `db:"recorded_by"`
	Reversed   bool        `db:"reversed"`
}

func (r harvestRow) harvest() (farm.Harvest, error) {
	h := farm.Harvest{ID: r.ID, BinID: r.Bin, SectionID: r.Section, LotID: r.Lot, Entered: *r.Entered.entered(),
		Grams: measure.Grams(r.MassG), WormsGrams: measure.Grams(r.WormsG), WormsFound: measure.Grams(r.FoundG), Emptied: r.Emptied,
		Closed: measure.Grams(r.ClosedG), WormsLeft: measure.Grams(orZero(r.WormsLeftG)), Note: r.Note, EntryID: r.Entry,
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: idOf(r.RecordedBy), Reversed: r.Reversed}
	if r.Worms != nil {
		a := r.Worms.worms()
		h.WormsOut = &a
	}
	return h, nil
}

const selectHarvest = `
	SELECT t.harvest_id, t.bin_id, t.section_id, t.castings_lot_id, t.entered, t.mass_g, t.worms, t.worms_g, t.found_g, t.emptied,
	       t.closed_g, t.worms_left_g, t.note, t.entry_id, t.occurred_at, t.day, t.recorded_at, t.recorded_by,
	       ` + wasReversed + ` AS reversed
	  FROM midden.harvests t WHERE t.garden_id = midden.garden()`

// Harvest asks for one harvest.
func (b *Batch) Harvest(id uuid.UUID) *Row[farm.Harvest] {
	return fetchOne(b, harvestRow.harvest, selectHarvest+` AND t.harvest_id = $1`, id)
}

// HarvestContent asks for the digest of what a harvest was made from.
func (b *Batch) HarvestContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.harvests WHERE garden_id = midden.garden() AND harvest_id = $1`, id)
}

// HarvestsOf asks for the harvests from a bin since a day (the zero day: all),
// oldest first. Those reversed are left out.
func (b *Batch) HarvestsOf(bin uuid.UUID, since measure.Day) *Rows[farm.Harvest] {
	return fetchAll(b, harvestRow.harvest, selectHarvest+`
		AND t.bin_id = $1 AND ($2::date IS NULL OR t.day >= $2) AND NOT `+wasReversed+`
		ORDER BY t.occurred_at, t.harvest_id`, bin, dayArg(since))
}

// AllHarvests is HarvestsOf for every bin.
func (b *Batch) AllHarvests(since measure.Day) *Rows[farm.Harvest] {
	return fetchAll(b, harvestRow.harvest, selectHarvest+`
		AND ($1::date IS NULL OR t.day >= $1) AND NOT `+wasReversed+`
		ORDER BY t.occurred_at, t.harvest_id`, dayArg(since))
}

// Harvests asks for harvests, the latest first.
func (b *Batch) Harvests(f BinDays, p Page) *Paged[farm.Harvest] {
	return paged(b, "harvests", f, p, func(at []string, limit int) *Rows[farm.Harvest] {
		return fetchAll(b, harvestRow.harvest, selectHarvest+`
			AND ($1::uuid IS NULL OR t.bin_id = $1) AND ($2::date IS NULL OR t.day >= $2) AND ($3::date IS NULL OR t.day < $3)
			AND ($4::timestamptz IS NULL OR (t.occurred_at, t.harvest_id) < ($4, $5::uuid))
			ORDER BY t.occurred_at DESC, t.harvest_id DESC LIMIT $6`,
			idOrNull(f.Bin), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(h farm.Harvest) []string { return []string{h.OccurredAt.Format(time.RFC3339Nano), h.ID.String()} })
}

// InsertHarvest writes a new harvest; its castings lot must be written before.
func (tx *Tx) InsertHarvest(h farm.Harvest, content [32]byte) error {
	entered, err := enteredJSON(&h.Entered)
	if err != nil {
		return err
	}
	var worms *wormsDoc
	if h.WormsOut != nil {
		d := wormsIn(*h.WormsOut)
		worms = &d
	}
	var left *int64
	if h.Emptied {
		n := int64(h.WormsLeft)
		left = &n
	}
	tx.queue(`
		INSERT INTO midden.harvests (garden_id, harvest_id, bin_id, section_id, castings_lot_id, entered, mass_g, worms, worms_g, found_g,
		       emptied, closed_g, worms_left_g, note, entry_id, occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19)`,
		h.ID, h.BinID, h.SectionID, h.LotID, entered, int64(h.Grams), worms, int64(h.WormsGrams), int64(h.WormsFound), h.Emptied,
		int64(h.Closed), left, h.Note, h.EntryID, h.OccurredAt, dayArg(h.Day), h.RecordedAt, idOrNull(h.RecordedBy), content[:])
	return nil
}

// Held is what an account holds of one substance.
type Held struct {
	Substance ledger.Substance
	Grams     measure.Grams
}

type heldRow struct {
	Substance string `db:"substance"`
	Grams     int64  `db:"grams"`
}

func (r heldRow) held() (Held, error) {
	return Held{ledger.Substance(r.Substance), measure.Grams(r.Grams)}, nil
}

// FoodAndBedding asks for the scraps and bedding on a section's books at the
// end of a day, without what is nought.
func (b *Batch) FoodAndBedding(section ledger.Account, on measure.Day) *Rows[Held] {
	return fetchAll(b, heldRow.held, `
		SELECT substance, sum(in_g - out_g)::bigint AS grams FROM midden.day_totals
		 WHERE garden_id = midden.garden() AND account = $1 AND day <= $2
		   AND (substance >= 'bedding/' AND substance < 'bedding0' OR substance >= 'scraps/' AND substance < 'scraps0')
		 GROUP BY substance HAVING sum(in_g - out_g) <> 0 ORDER BY substance`, section.String(), dayArg(on))
}
