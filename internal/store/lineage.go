package store

import (
	"github.com/google/uuid"

	"midden/internal/measure"
)

// Bounds of a walk through transfers.
const (
	deepestLineage = 20
	longestLineage = 200
)

// LineageStep is one transfer on the way to or from a bin. Depth 1 touches
// the bin itself.
type LineageStep struct {
	TransferID uuid.UUID
	Day        measure.Day
	FromBin    uuid.UUID // zero: from outside
	ToBin      uuid.UUID // zero: to outside
	Outside    string
	Grams      measure.Grams
	Depth      int
}

type lineageRow struct {
	ID      uuid.UUID  `db:"transfer_id"`
	Day     date       `db:"day"`
	FromBin *uuid.UUID `db:"from_bin"`
	ToBin   *uuid.UUID `db:"to_bin"`
	Outside string     `db:"outside"`
	MassG   int64      `db:"mass_g"`
	Depth   int        `db:"depth"`
}

func (r lineageRow) step() (LineageStep, error) {
	return LineageStep{r.ID, r.Day.Day, idOf(r.FromBin), idOf(r.ToBin), r.Outside, measure.Grams(r.MassG), r.Depth}, nil
}

// A walk follows worms through time: back, only what came to a bin before its
// worms went on; forward, only what left after they came. UNION drops what was
// met before at the same depth, so cycles and diamonds stay small.
const lineageShown = `
	SELECT t.transfer_id, t.day, t.from_bin, t.to_bin, t.from_outside || t.to_outside AS outside, t.mass_g, m.depth
	  FROM (SELECT transfer_id, min(depth) AS depth FROM walk GROUP BY transfer_id) m
	  JOIN midden.worm_transfers t ON t.garden_id = midden.garden() AND t.transfer_id = m.transfer_id
	 ORDER BY m.depth, t.occurred_at DESC, t.transfer_id LIMIT $3`

// LineageBack asks where a bin's worms came from, up to 20 transfers back and
// 200 in all. Moves within a bin and reversed transfers are left out.
func (b *Batch) LineageBack(bin uuid.UUID) *Rows[LineageStep] {
	return fetchAll(b, lineageRow.step, `
		WITH RECURSIVE walk (transfer_id, bin, at, depth) AS (
			SELECT t.transfer_id, t.from_bin, t.occurred_at, 1 FROM midden.worm_transfers t
			 WHERE t.garden_id = midden.garden() AND t.to_bin = $1 AND t.from_bin IS DISTINCT FROM t.to_bin AND NOT `+wasReversed+`
			UNION
			SELECT t.transfer_id, t.from_bin, t.occurred_at, w.depth + 1 FROM walk w JOIN midden.worm_transfers t
			    ON t.garden_id = midden.garden() AND t.to_bin = w.bin AND t.occurred_at <= w.at
			 WHERE w.depth < $2 AND t.from_bin IS DISTINCT FROM t.to_bin AND NOT `+wasReversed+`
		)`+lineageShown, bin, deepestLineage, longestLineage)
}

// LineageForward asks where a bin's worms went, within the same bounds.
func (b *Batch) LineageForward(bin uuid.UUID) *Rows[LineageStep] {
	return fetchAll(b, lineageRow.step, `
		WITH RECURSIVE walk (transfer_id, bin, at, depth) AS (
			SELECT t.transfer_id, t.to_bin, t.occurred_at, 1 FROM midden.worm_transfers t
			 WHERE t.garden_id = midden.garden() AND t.from_bin = $1 AND t.from_bin IS DISTINCT FROM t.to_bin AND NOT `+wasReversed+`
			UNION
			SELECT t.transfer_id, t.to_bin, t.occurred_at, w.depth + 1 FROM walk w JOIN midden.worm_transfers t
			    ON t.garden_id = midden.garden() AND t.from_bin = w.bin AND t.occurred_at >= w.at
			 WHERE w.depth < $2 AND t.from_bin IS DISTINCT FROM t.to_bin AND NOT `+wasReversed+`
		)`+lineageShown, bin, deepestLineage, longestLineage)
}
