package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var (
	_ = refuseOn("lures_pkey", "id.taken", "/id", "id: another lure has this id")
	_ = refuseOn("lures_open", "lure.exists", "/section_id", "section_id: worms are being lured out of this section already")
)

type lureStepDoc struct {
	Kind       string     `json:"kind"`
	Value      string     `json:"dusting_value"`
	Unit       string     `json:"dusting_unit"`
	Transfer   *uuid.UUID `json:"transfer_id"`
	Note       string     `json:"note"`
	OccurredAt time.Time  `json:"occurred_at"`
	Day        string     `json:"day"`
	RecordedAt time.Time  `json:"recorded_at"`
	RecordedBy uuid.UUID  `json:"recorded_by"`
}

func (d lureStepDoc) step() (farm.LureStep, error) {
	day, err := measure.ParseDay(d.Day)
	return farm.LureStep{Kind: farm.LureStepKind(d.Kind), Dusting: measure.Quantity{Value: d.Value, Unit: measure.Unit(d.Unit)},
		TransferID: idOf(d.Transfer), Note: d.Note, OccurredAt: d.OccurredAt.UTC(), Day: day, RecordedAt: d.RecordedAt.UTC(), RecordedBy: d.RecordedBy}, err
}

type lureRow struct {
	ID         uuid.UUID     `db:"lure_id"`
	Bin        uuid.UUID     `db:"bin_id"`
	Section    uuid.UUID     `db:"section_id"`
	UnfedSince date          `db:"unfed_since"`
	State      string        `db:"state"`
	Note       string        `db:"note"`
	OccurredAt time.Time     `db:"occurred_at"`
	Day        date          `db:"day"`
	RecordedAt time.Time     `db:"recorded_at"`
	RecordedBy uuid.UUID     `db:"recorded_by"`
	Steps      []lureStepDoc `db:"steps"`
}

func (r lureRow) lure() (farm.Lure, error) {
	l := farm.Lure{ID: r.ID, BinID: r.Bin, SectionID: r.Section, UnfedSince: r.UnfedSince.Day, State: farm.LureState(r.State), Note: r.Note,
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: r.RecordedBy}
	for _, d := range r.Steps {
		s, err := d.step()
		if err != nil {
			return l, err
		}
		l.Steps = append(l.Steps, s)
	}
	return l, nil
}

const selectLure = `
	SELECT l.lure_id, l.bin_id, l.section_id, l.unfed_since, l.state, l.note, l.occurred_at, l.day, l.recorded_at, l.recorded_by,
	       (SELECT coalesce(jsonb_agg(jsonb_build_object('kind', s.kind, 'dusting_value', s.dusting_value, 'dusting_unit', s.dusting_unit,
	                 'transfer_id', s.transfer_id, 'note', s.note, 'occurred_at', s.occurred_at, 'day', s.day, 'recorded_at', s.recorded_at,
	                 'recorded_by', s.recorded_by) ORDER BY s.line), '[]')
	          FROM midden.lure_steps s WHERE s.garden_id = midden.garden() AND s.lure_id = l.lure_id) AS steps
	  FROM midden.lures l WHERE l.garden_id = midden.garden()`

// Lure asks for one lure.
func (b *Batch) Lure(id uuid.UUID) *Row[farm.Lure] {
	return fetchOne(b, lureRow.lure, selectLure+` AND l.lure_id = $1`, id)
}

// LockLure is Lure with the row held for an update.
func (tx *Tx) LockLure(id uuid.UUID) *Row[farm.Lure] {
	// Two statements: the second one sees the steps the lock was waiting for.
	tx.queue(`SELECT 1 FROM midden.lures WHERE garden_id = midden.garden() AND lure_id = $1 FOR UPDATE`, id)
	return tx.Lure(id)
}

// LureContent asks for the digest of what a lure was made from.
func (b *Batch) LureContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.lures WHERE garden_id = midden.garden() AND lure_id = $1`, id)
}

// BinOfLure asks for the bin that a lure is in.
func (b *Batch) BinOfLure(lure uuid.UUID) *Row[farm.Bin] {
	return fetchOne(b, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() AND b.bin_id =
		(SELECT l.bin_id FROM midden.lures l WHERE l.garden_id = midden.garden() AND l.lure_id = $1)`, lure)
}

// SectionsOfLure asks for the sections of the bin that a lure is in, in order.
func (b *Batch) SectionsOfLure(lure uuid.UUID) *Rows[farm.Section] {
	return fetchAll(b, sectionRow.section, selectSection+` WHERE garden_id = midden.garden() AND bin_id =
		(SELECT l.bin_id FROM midden.lures l WHERE l.garden_id = midden.garden() AND l.lure_id = $1) ORDER BY position, section_id`, lure)
}

// LureFilter narrows a list of lures. Zero fields do not narrow.
type LureFilter struct {
	Bin   uuid.UUID
	State farm.LureState
}

// Lures asks for lures, the latest first.
func (b *Batch) Lures(f LureFilter, p Page) *Paged[farm.Lure] {
	return paged(b, "lures", f, p, func(at []string, limit int) *Rows[farm.Lure] {
		return fetchAll(b, lureRow.lure, selectLure+`
			AND ($1::uuid IS NULL OR l.bin_id = $1) AND ($2::text IS NULL OR l.state = $2)
			AND ($3::timestamptz IS NULL OR (l.occurred_at, l.lure_id) < ($3, $4::uuid))
			ORDER BY l.occurred_at DESC, l.lure_id DESC LIMIT $5`,
			idOrNull(f.Bin), orNull(string(f.State)), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(l farm.Lure) []string { return []string{l.OccurredAt.Format(time.RFC3339Nano), l.ID.String()} })
}

// LastFed asks for the last day on which scraps went into a section.
func (b *Batch) LastFed(bin, section uuid.UUID) *Row[measure.Day] {
	return fetchOne(b, func(r struct {
		Day date `db:"day"`
	}) (measure.Day, error) {
		return r.Day.Day, nil
	}, `
		SELECT t.day FROM midden.day_totals t
		 WHERE t.garden_id = midden.garden() AND t.account = $1 AND t.substance >= 'scraps/' AND t.substance < 'scraps0'
		 GROUP BY t.day HAVING sum(t.in_g - t.out_g) > 0 ORDER BY t.day DESC LIMIT 1`, ledger.SectionAccount(bin, section).String())
}

// InsertLure writes a new lure.
func (tx *Tx) InsertLure(l farm.Lure, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.lures (garden_id, lure_id, bin_id, section_id, unfed_since, state, note, occurred_at, day, recorded_at,
		       recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		l.ID, l.BinID, l.SectionID, dayArg(l.UnfedSince), string(l.State), l.Note, l.OccurredAt, dayArg(l.Day), l.RecordedAt, l.RecordedBy, content[:])
}

// TakeLureStep writes the last step of a lure whose row is locked, and its state.
func (tx *Tx) TakeLureStep(l farm.Lure) {
	line := len(l.Steps) - 1
	s := l.Steps[line]
	tx.queue(`UPDATE midden.lures SET state = $2 WHERE garden_id = midden.garden() AND lure_id = $1`, l.ID, string(l.State))
	tx.queue(`
		INSERT INTO midden.lure_steps (garden_id, lure_id, line, kind, dusting_value, dusting_unit, transfer_id, note, occurred_at, day,
		       recorded_at, recorded_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
		l.ID, line, string(s.Kind), s.Dusting.Value, string(s.Dusting.Unit), idOrNull(s.TransferID), s.Note, s.OccurredAt, dayArg(s.Day),
		s.RecordedAt, s.RecordedBy)
}
