package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/ledger"
	"midden/internal/measure"
)

// entryRow is an entry with its postings gathered as arrays, so that a list of
// entries is one query.
type entryRow struct {
	Garden     uuid.UUID   `db:"garden_id"`
	ID         uuid.UUID   `db:"entry_id"`
	Kind       string      `db:"kind"`
	On         date        `db:"effective_on"`
	Occurred   time.Time   `db:"occurred_at"`
	Recorded   time.Time   `db:"recorded_at"`
	Actor      *uuid.UUID  `db:"actor_id"`
	CauseKind  string      `db:"cause_kind"`
	Cause      uuid.UUID   `db:"cause_id"`
	Reverses   *uuid.UUID  `db:"reverses"`
	Format     int         `db:"format"`
	SHA256     []byte      `db:"sha256"`
	Accounts   []string    `db:"accounts"`
	Substances []string    `db:"substances"`
	Grams      []int64     `db:"grams"`
	Methods    []string    `db:"methods"`
	SDs        []int32     `db:"sds"`
	Sites      []uuid.UUID `db:"sites"`
}

func (r entryRow) entry() (ledger.Entry, error) {
	e := ledger.Entry{
		Garden: r.Garden, ID: r.ID, Kind: r.Kind, EffectiveOn: r.On.Day,
		OccurredAt: r.Occurred.UTC(), RecordedAt: r.Recorded.UTC(), Actor: idOf(r.Actor),
		Cause: ledger.Cause{Kind: r.CauseKind, ID: r.Cause}, Reverses: idOf(r.Reverses),
	}
	for i := range r.Accounts {
		a, err := ledger.ParseAccount(r.Accounts[i])
		if err != nil {
			return e, err
		}
		e.Postings = append(e.Postings, ledger.Posting{
			Account: a, Substance: ledger.Substance(r.Substances[i]), Grams: measure.Grams(r.Grams[i]),
			Method: ledger.Method(r.Methods[i]), RelSDPermille: int(r.SDs[i]), Site: r.Sites[i],
		})
	}
	return e, nil
}

const selectEntries = `
	SELECT e.garden_id, e.entry_id, e.kind, e.effective_on, e.occurred_at, e.recorded_at, e.actor_id,
	       e.cause_kind, e.cause_id, e.reverses, e.format, e.sha256,
	       p.accounts, p.substances, p.grams, p.methods, p.sds, p.sites
	  FROM midden.entries e, LATERAL (
	       SELECT coalesce(array_agg(q.account ORDER BY q.line), '{}') AS accounts,
	              coalesce(array_agg(q.substance ORDER BY q.line), '{}') AS substances,
	              coalesce(array_agg(q.grams ORDER BY q.line), '{}') AS grams,
	              coalesce(array_agg(q.method ORDER BY q.line), '{}') AS methods,
	              coalesce(array_agg(q.rel_sd_permille ORDER BY q.line), '{}') AS sds,
	              coalesce(array_agg(coalesce(q.site_id, '00000000-0000-0000-0000-000000000000') ORDER BY q.line), '{}') AS sites
	         FROM midden.postings q WHERE q.garden_id = midden.garden() AND q.entry_id = e.entry_id) p
	 WHERE e.garden_id = midden.garden()`

// Entry asks for one entry with its postings.
func (b *Batch) Entry(id uuid.UUID) *Row[ledger.Entry] {
	return fetchOne(b, entryRow.entry, selectEntries+` AND e.entry_id = $1`, id)
}

// ReversalOf asks for the entry that undid another.
func (b *Batch) ReversalOf(id uuid.UUID) *Row[ledger.Entry] {
	return fetchOne(b, entryRow.entry, selectEntries+` AND e.reverses = $1`, id)
}

// EntriesOf asks for the entries that a record caused, in the order of writing.
func (b *Batch) EntriesOf(cause uuid.UUID) *Rows[ledger.Entry] {
	return fetchAll(b, entryRow.entry, selectEntries+` AND e.cause_id = $1 ORDER BY e.recorded_at, e.entry_id`, cause)
}

// AccountEntries asks for the entries that moved an account, by day.
func (b *Batch) AccountEntries(a ledger.Account) *Rows[ledger.Entry] {
	return fetchAll(b, entryRow.entry, selectEntries+`
		AND e.entry_id IN (SELECT q.entry_id FROM midden.postings q WHERE q.garden_id = midden.garden() AND q.account = $1)
		ORDER BY e.effective_on, e.recorded_at, e.entry_id`, a.String())
}
