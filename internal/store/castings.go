package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("castings_lots_pkey", "id.taken", "/castings_lot_id", "castings_lot_id: another castings lot has this id")
	_ = refuseOn("giveaways_pkey", "id.taken", "/id", "id: another giveaway has this id")
	_ = refuseOn("giveaways_lot_fkey", "castings.not_found", "/castings_lot_id", "castings_lot_id: no such castings lot in this garden")
	_ = refuseOn("giveaways_member_fkey", "member.not_found", "/member_id", "member_id: no such member in this garden")
	_ = refuseOn("giveaways_household_fkey", "household.not_found", "/household_id", "household_id: no such household in this garden")
)

// CastingsOnHand is a castings lot with what is left of it.
type CastingsOnHand struct {
	farm.CastingsLot
	OnHand measure.Grams
}

type castingsRow struct {
	ID          uuid.UUID `db:"castings_lot_id"`
	Harvest     uuid.UUID `db:"harvest_id"`
	Bin         uuid.UUID `db:"bin_id"`
	Section     uuid.UUID `db:"section_id"`
	HarvestedOn date      `db:"harvested_on"`
	Stage       string    `db:"stage"`
	HarvestedG  int64     `db:"harvested_g"`
	OnHandG     int64     `db:"on_hand_g"`
	Steps       []stepDoc `db:"steps"`
}

type stepDoc struct {
	Stage      string    `json:"stage"`
	OccurredAt time.Time `json:"occurred_at"`
	MassG      *int64    `json:"mass_g"`
	Note       string    `json:"note"`
}

func (r castingsRow) lot() (CastingsOnHand, error) {
	l := farm.CastingsLot{ID: r.ID, HarvestID: r.Harvest, BinID: r.Bin, SectionID: r.Section, HarvestedOn: r.HarvestedOn.Day,
		Stage: farm.CastingsStage(r.Stage), Harvested: measure.Grams(r.HarvestedG)}
	for _, s := range r.Steps {
		l.Steps = append(l.Steps, farm.CastingsStep{Stage: farm.CastingsStage(s.Stage), OccurredAt: s.OccurredAt.UTC(),
			Mass: measure.Grams(orZero(s.MassG)), Weighed: s.MassG != nil, Note: s.Note})
	}
	return CastingsOnHand{l, measure.Grams(r.OnHandG)}, nil
}

// heldCastings is what is left of lot l. See selectLot for why it is looked up
// this way.
const heldCastings = `LEFT JOIN LATERAL (SELECT s.latest_g FROM midden.stock_heads s WHERE s.garden_id = midden.garden()
	       AND s.account = 'castings:' || l.castings_lot_id AND s.substance = 'castings' OFFSET 0) h ON true`

const selectCastings = `
	SELECT l.castings_lot_id, t.harvest_id, l.bin_id, l.section_id, l.harvested_on, l.stage, t.mass_g AS harvested_g,
	       coalesce(h.latest_g, 0) AS on_hand_g,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('stage', s.stage, 'occurred_at', s.occurred_at, 'mass_g', s.mass_g, 'note', s.note)
	               ORDER BY s.occurred_at, s.step_id), '[]') FROM midden.castings_steps s
	         WHERE s.garden_id = midden.garden() AND s.castings_lot_id = l.castings_lot_id) AS steps
	  FROM midden.castings_lots l
	  JOIN midden.harvests t ON t.garden_id = l.garden_id AND t.castings_lot_id = l.castings_lot_id
	  ` + heldCastings + `
	 WHERE l.garden_id = midden.garden()`

// CastingsLot asks for one castings lot with what is left of it.
func (b *Batch) CastingsLot(id uuid.UUID) *Row[CastingsOnHand] {
	return fetchOne(b, castingsRow.lot, selectCastings+` AND l.castings_lot_id = $1`, id)
}

// LockCastingsLot is CastingsLot with the row held; the lot is read after the lock.
func (tx *Tx) LockCastingsLot(id uuid.UUID) *Row[CastingsOnHand] {
	tx.queue(`SELECT 1 FROM midden.castings_lots WHERE garden_id = midden.garden() AND castings_lot_id = $1 FOR UPDATE`, id)
	return tx.CastingsLot(id)
}

// CastingsFilter narrows a list of castings lots. Zero fields do not narrow.
type CastingsFilter struct {
	Stage   farm.CastingsStage
	InStock bool
}

// CastingsLots asks for castings lots, the latest harvest first. Those whose
// harvest was reversed are left out.
func (b *Batch) CastingsLots(f CastingsFilter, p Page) *Paged[CastingsOnHand] {
	return paged(b, "castings lots", f, p, func(at []string, limit int) *Rows[CastingsOnHand] {
		return fetchAll(b, castingsRow.lot, selectCastings+`
			AND ($1::text IS NULL OR l.stage = $1) AND (NOT $2 OR h.latest_g > 0) AND NOT `+wasReversed+`
			AND ($3::text IS NULL OR (l.harvested_on, l.castings_lot_id) < ($3::date, $4::uuid))
			ORDER BY l.harvested_on DESC, l.castings_lot_id DESC LIMIT $5`,
			orNull(string(f.Stage)), f.InStock, keyAt(at, 0), keyAt(at, 1), limit)
	}, func(l CastingsOnHand) []string { return []string{l.HarvestedOn.String(), l.ID.String()} })
}

// InsertCastingsLot writes a new castings lot.
func (tx *Tx) InsertCastingsLot(l farm.CastingsLot) {
	tx.queue(`
		INSERT INTO midden.castings_lots (garden_id, castings_lot_id, bin_id, section_id, harvested_on, stage)
		VALUES (midden.garden(), $1, $2, $3, $4, $5)`, l.ID, l.BinID, l.SectionID, dayArg(l.HarvestedOn), string(l.Stage))
}

// InsertCastingsStep writes a step of a lot whose row is locked or new, and the
// stage it brings the lot to.
func (tx *Tx) InsertCastingsStep(lot uuid.UUID, s farm.CastingsStep) {
	var mass *int64
	if s.Weighed {
		g := int64(s.Mass)
		mass = &g
	}
	tx.queue(`
		INSERT INTO midden.castings_steps (garden_id, step_id, castings_lot_id, stage, mass_g, note, entry_id, occurred_at, recorded_at, recorded_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		s.ID, lot, string(s.Stage), mass, s.Note, idOrNull(s.EntryID), s.OccurredAt, s.RecordedAt, idOrNull(s.RecordedBy))
	tx.queue(`UPDATE midden.castings_lots SET stage = $2 WHERE garden_id = midden.garden() AND castings_lot_id = $1 AND stage <> $2`, lot, string(s.Stage))
}

// BinOfCastings asks for the bin that a castings lot came from.
func (b *Batch) BinOfCastings(lot uuid.UUID) *Row[farm.Bin] {
	return fetchOne(b, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() AND b.bin_id =
		(SELECT l.bin_id FROM midden.castings_lots l WHERE l.garden_id = midden.garden() AND l.castings_lot_id = $1)`, lot)
}
