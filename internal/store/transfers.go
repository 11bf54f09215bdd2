package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var _ = refuseOn("worm_transfers_pkey", "id.taken", "/id", "id: another transfer has this id")

type transferRow struct {
	ID          uuid.UUID    `db:"transfer_id"`
	FromBin     *uuid.UUID   `db:"from_bin"`
	FromSection *uuid.UUID   `db:"from_section"`
	FromOutside string       `db:"from_outside"`
	ToBin       *uuid.UUID   `db:"to_bin"`
	ToSection   *uuid.UUID   `db:"to_section"`
	ToOutside   string       `db:"to_outside"`
	Species     string       `db:"species"`
	Reason      string       `db:"reason"`
	Worms       wormsDoc     `db:"worms"`
	Bedding     *enteredDoc  `db:"bedding_along"`
	Lost        *quantityDoc `db:"lost"`
	MassG       int64        `db:"mass_g"`
	LostG       int64        `db:"lost_g"`
	FoundG      int64        `db:"found_g"`
	RelSD       int          `db:"rel_sd_permille"`
	Note        string       `db:"note"`
	Entry       uuid.UUID    `db:"entry_id"`
	OccurredAt  time.Time    `db:"occurred_at"`
	Day         date         `db:"day"`
	RecordedAt  time.Time    `db:"recorded_at"`
	RecordedBy  *uuid.UUID   `db:"recorded_by"`
	Reversed    bool         `db:"reversed"`
}

func (r transferRow) transfer() (farm.Transfer, error) {
	return farm.Transfer{
		ID: r.ID, From: farm.WormEnd{BinID: idOf(r.FromBin), SectionID: idOf(r.FromSection), Outside: r.FromOutside},
		To:      farm.WormEnd{BinID: idOf(r.ToBin), SectionID: idOf(r.ToSection), Outside: r.ToOutside},
		Species: farm.Species(r.Species), Reason: farm.TransferReason(r.Reason), Worms: r.Worms.worms(),
		BeddingAlong: r.Bedding.entered(), LostEntered: orZero(r.Lost).quantity(), Grams: measure.Grams(r.MassG),
		Lost: measure.Grams(r.LostG), Found: measure.Grams(r.FoundG), RelSDPermille: r.RelSD, Note: r.Note, EntryID: r.Entry,
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: idOf(r.RecordedBy), Reversed: r.Reversed,
	}, nil
}

// wasReversed tells whether the entry of a record in t was undone.
const wasReversed = `EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = t.entry_id)`

const selectTransfer = `
	SELECT t.transfer_id, t.from_bin, t.from_section, t.from_outside, t.to_bin, t.to_section, t.to_outside, t.species, t.reason,
	       t.worms, t.bedding_along, t.lost, t.mass_g, t.lost_g, t.found_g, t.rel_sd_permille, t.note, t.entry_id,
	       t.occurred_at, t.day, t.recorded_at, t.recorded_by, ` + wasReversed + ` AS reversed
	  FROM midden.worm_transfers t WHERE t.garden_id = midden.garden()`

// Transfer asks for one worm transfer.
func (b *Batch) Transfer(id uuid.UUID) *Row[farm.Transfer] {
	return fetchOne(b, transferRow.transfer, selectTransfer+` AND t.transfer_id = $1`, id)
}

// TransferContent asks for the digest of what a transfer was made from.
func (b *Batch) TransferContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.worm_transfers WHERE garden_id = midden.garden() AND transfer_id = $1`, id)
}

// TransfersOf asks for the transfers into and out of a bin since a day (the
// zero day: all), oldest first. Those reversed are left out.
func (b *Batch) TransfersOf(bin uuid.UUID, since measure.Day) *Rows[farm.Transfer] {
	return fetchAll(b, transferRow.transfer, selectTransfer+`
		AND (t.from_bin = $1 OR t.to_bin = $1) AND ($2::date IS NULL OR t.day >= $2) AND NOT `+wasReversed+`
		ORDER BY t.occurred_at, t.transfer_id`, bin, dayArg(since))
}

// AllTransfers is TransfersOf for every bin.
func (b *Batch) AllTransfers(since measure.Day) *Rows[farm.Transfer] {
	return fetchAll(b, transferRow.transfer, selectTransfer+`
		AND ($1::date IS NULL OR t.day >= $1) AND NOT `+wasReversed+`
		ORDER BY t.occurred_at, t.transfer_id`, dayArg(since))
}

// BinDays narrows a list of records of bins. Zero fields do not narrow.
type BinDays struct {
	Bin         uuid.UUID
	From, Until measure.Day // From is in, Until is not
}

// Transfers asks for transfers, the latest first.
func (b *Batch) Transfers(f BinDays, p Page) *Paged[farm.Transfer] {
	return paged(b, "worm transfers", f, p, func(at []string, limit int) *Rows[farm.Transfer] {
		return fetchAll(b, transferRow.transfer, selectTransfer+`
			AND ($1::uuid IS NULL OR t.from_bin = $1 OR t.to_bin = $1)
			AND ($2::date IS NULL OR t.day >= $2) AND ($3::date IS NULL OR t.day < $3)
			AND ($4::timestamptz IS NULL OR (t.occurred_at, t.transfer_id) < ($4, $5::uuid))
			ORDER BY t.occurred_at DESC, t.transfer_id DESC LIMIT $6`,
			idOrNull(f.Bin), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(t farm.Transfer) []string { return []string{t.OccurredAt.Format(time.RFC3339Nano), t.ID.String()} })
}

// InsertTransfer writes a new transfer.
func (tx *Tx) InsertTransfer(t farm.Transfer, content [32]byte) error {
	bedding, err := enteredJSON(t.BeddingAlong)
	if err != nil {
		return err
	}
	var lost *quantityDoc
	if t.LostEntered.Value != "" {
		q := quantityIn(t.LostEntered)
		lost = &q
	}
	tx.queue(`
		INSERT INTO midden.worm_transfers (garden_id, transfer_id, from_bin, from_section, from_outside, to_bin, to_section, to_outside,
		       species, reason, worms, bedding_along, lost, mass_g, lost_g, found_g, rel_sd_permille, note, entry_id,
		       occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23)`,
		t.ID, idOrNull(t.From.BinID), idOrNull(t.From.SectionID), t.From.Outside, idOrNull(t.To.BinID), idOrNull(t.To.SectionID), t.To.Outside,
		string(t.Species), string(t.Reason), wormsIn(t.Worms), bedding, lost, int64(t.Grams), int64(t.Lost),
		int64(t.Found), t.RelSDPermille, t.Note, t.EntryID, t.OccurredAt, dayArg(t.Day), t.RecordedAt, idOrNull(t.RecordedBy), content[:])
	return nil
}

// FirstWorms is the day from which worms of a species are on a section's books.
type FirstWorms struct {
	Species farm.Species
	Day     measure.Day
}

type firstWormsRow struct {
	Substance string `db:"substance"`
	Day       date   `db:"day"`
}

func (r firstWormsRow) first() (FirstWorms, error) {
	return FirstWorms{farm.Species(ledger.Substance(r.Substance).Key()), r.Day.Day}, nil
}

// FirstWorms asks for the first day on which each species came to a section,
// by entries that still count. When the last look into it at or before an
// instant saw no worms, what came before that look is gone and left out.
func (b *Batch) FirstWorms(section ledger.Account, at time.Time) *Rows[FirstWorms] {
	return fetchAll(b, firstWormsRow.first, `
		WITH look AS (
			SELECT c.occurred_at, l.worms FROM midden.check_looks l
			  JOIN midden.checks c ON c.garden_id = l.garden_id AND c.check_id = l.check_id
			 WHERE l.garden_id = midden.garden() AND l.section_id = $2 AND l.worms IS NOT NULL AND c.occurred_at <= $3
			 ORDER BY c.occurred_at DESC, c.check_id DESC LIMIT 1
		)
		SELECT p.substance, min(t.effective_on) AS day
		  FROM midden.postings p JOIN midden.entries t ON t.garden_id = p.garden_id AND t.entry_id = p.entry_id
		 WHERE p.garden_id = midden.garden() AND p.account = $1 AND p.substance >= 'worms/' AND p.substance < 'worms0'
		   AND p.grams > 0 AND t.reverses IS NULL AND NOT `+wasReversed+`
		   AND NOT EXISTS (SELECT FROM look k WHERE k.worms = 'none' AND k.occurred_at >= t.occurred_at)
		 GROUP BY p.substance ORDER BY p.substance`, section.String(), section.ID, at)
}
