package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

type giveawayRow struct {
	ID         uuid.UUID   `db:"giveaway_id"`
	Lot        uuid.UUID   `db:"castings_lot_id"`
	Entered    *enteredDoc `db:"entered"`
	MassG      int64       `db:"mass_g"`
	Recipient  string      `db:"recipient"`
	Member     *uuid.UUID  `db:"member_id"`
	Household  *uuid.UUID  `db:"household_id"`
	Class      string      `db:"recipient_class"`
	Note       string      `db:"note"`
	Entry      uuid.UUID   `db:"entry_id"`
	OccurredAt time.Time   `db:"occurred_at"`
	Day        date        `db:"day"`
	RecordedAt time.Time   `db:"recorded_at"`
	RecordedBy *uuid.UUID  `db:"recorded_by"`
	Reversed   bool        `db:"reversed"`
}

func (r giveawayRow) giveaway() (farm.Giveaway, error) {
	return farm.Giveaway{ID: r.ID, LotID: r.Lot, Entered: *r.Entered.entered(), Grams: measure.Grams(r.MassG), To: farm.RecipientKind(r.Recipient),
		MemberID: idOf(r.Member), HouseholdID: idOf(r.Household), Class: r.Class, Note: r.Note, EntryID: r.Entry,
		OccurredAt: r.OccurredAt.UTC(), Day: r.Day.Day, RecordedAt: r.RecordedAt.UTC(), RecordedBy: idOf(r.RecordedBy), Reversed: r.Reversed}, nil
}

const selectGiveaway = `
	SELECT t.giveaway_id, t.castings_lot_id, t.entered, t.mass_g, t.recipient, t.member_id, t.household_id, t.recipient_class,
	       t.note, t.entry_id, t.occurred_at, t.day, t.recorded_at, t.recorded_by, ` + wasReversed + ` AS reversed
	  FROM midden.giveaways t WHERE t.garden_id = midden.garden()`

// Giveaway asks for one giveaway.
func (b *Batch) Giveaway(id uuid.UUID) *Row[farm.Giveaway] {
	return fetchOne(b, giveawayRow.giveaway, selectGiveaway+` AND t.giveaway_id = $1`, id)
}

// LotOfGiveaway asks for the castings lot that a giveaway came from.
func (b *Batch) LotOfGiveaway(id uuid.UUID) *Row[CastingsOnHand] {
	return fetchOne(b, castingsRow.lot, selectCastings+` AND l.castings_lot_id =
		(SELECT g.castings_lot_id FROM midden.giveaways g WHERE g.garden_id = midden.garden() AND g.giveaway_id = $1)`, id)
}

// GiveawayContent asks for the digest of what a giveaway was made from.
func (b *Batch) GiveawayContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.giveaways WHERE garden_id = midden.garden() AND giveaway_id = $1`, id)
}

// GiveawayFilter narrows a list of giveaways. Zero fields do not narrow.
type GiveawayFilter struct {
	Lot         uuid.UUID
	From, Until measure.Day // From is in, Until is not
}

// Giveaways asks for giveaways, the latest first.
func (b *Batch) Giveaways(f GiveawayFilter, p Page) *Paged[farm.Giveaway] {
	return paged(b, "giveaways", f, p, func(at []string, limit int) *Rows[farm.Giveaway] {
		return fetchAll(b, giveawayRow.giveaway, selectGiveaway+`
			AND ($1::uuid IS NULL OR t.castings_lot_id = $1) AND ($2::date IS NULL OR t.day >= $2) AND ($3::date IS NULL OR t.day < $3)
			AND ($4::timestamptz IS NULL OR (t.occurred_at, t.giveaway_id) < ($4, $5::uuid))
			ORDER BY t.occurred_at DESC, t.giveaway_id DESC LIMIT $6`,
			idOrNull(f.Lot), dayArg(f.From), dayArg(f.Until), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(g farm.Giveaway) []string { return []string{g.OccurredAt.Format(time.RFC3339Nano), g.ID.String()} })
}

// InsertGiveaway writes a new giveaway.
func (tx *Tx) InsertGiveaway(g farm.Giveaway, content [32]byte) error {
	entered, err := enteredJSON(&g.Entered)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.giveaways (garden_id, giveaway_id, castings_lot_id, entered, mass_g, recipient, member_id, household_id,
		       recipient_class, note, entry_id, occurred_at, day, recorded_at, recorded_by, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15)`,
		g.ID, g.LotID, entered, int64(g.Grams), string(g.To), idOrNull(g.MemberID), idOrNull(g.HouseholdID), g.Class, g.Note,
		g.EntryID, g.OccurredAt, dayArg(g.Day), g.RecordedAt, idOrNull(g.RecordedBy), content[:])
	return nil
}
