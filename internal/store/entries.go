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
	ReversedBy *uuid.UUID  `db:"reversed_by"`
	Note       string      `db:"note"`
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
	       p.accounts, p.substances, p.grams, p.methods, p.sds, p.sites,
	       (SELECT r.entry_id FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = e.entry_id) AS reversed_by,
	       coalesce((SELECT n.note FROM midden.entry_notes n WHERE n.garden_id = midden.garden() AND n.entry_id = e.entry_id), '') AS note
	  FROM midden.entries e, LATERAL (
	       SELECT coalesce(array_agg(q.account ORDER BY q.line), '{}') AS accounts,
	              coalesce(array_agg(q.substance ORDER BY q.line), '{}') AS substances,
	              coalesce(array_agg(q.grams ORDER BY q.line), '{}') AS grams,
	              coalesce(array_agg(q.method ORDER BY q.line), '{}') AS methods,
	              coalesce(array_agg(q.rel_sd_permille ORDER BY q.line), '{}') AS sds,
	              coalesce(array_agg(coalesce(q.site_id, '00000000-0000-0000-0000-000000000000') ORDER BY q.line), '{}') AS sites
	         FROM midden.postings q WHERE q.garden_id = midden.garden() AND q.entry_id = e.entry_id) p
	 WHERE e.garden_id = midden.garden()`

// Recorded is an entry as it stands in the ledger. A thing that an entry made (a
// lot, a feeding, a transfer) keeps its entry_id and shows that it was undone
// with EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden()
// AND r.reverses = t.entry_id): nothing is written to it when it is reversed.
type Recorded struct {
	ledger.Entry
	SHA256     [32]byte
	ReversedBy uuid.UUID // zero: still counts
	Note       string    // why it was reversed
}

func (r entryRow) recorded() (Recorded, error) {
	e, err := r.entry()
	out := Recorded{Entry: e, ReversedBy: idOf(r.ReversedBy), Note: r.Note}
	copy(out.SHA256[:], r.SHA256)
	return out, err
}

// Entry asks for one entry with its postings.
func (b *Batch) Entry(id uuid.UUID) *Row[Recorded] {
	return fetchOne(b, entryRow.recorded, selectEntries+` AND e.entry_id = $1`, id)
}

// EntriesOf asks for the entries that a record caused, in the order of writing.
func (b *Batch) EntriesOf(cause uuid.UUID) *Rows[Recorded] {
	return fetchAll(b, entryRow.recorded, selectEntries+` AND e.cause_id = $1 ORDER BY e.recorded_at, e.entry_id`, cause)
}

// AccountEntries asks for the entries that moved an account, by day.
func (b *Batch) AccountEntries(a ledger.Account) *Rows[Recorded] {
	return fetchAll(b, entryRow.recorded, selectEntries+`
		AND e.entry_id IN (SELECT q.entry_id FROM midden.postings q WHERE q.garden_id = midden.garden() AND q.account = $1)
		ORDER BY e.effective_on, e.recorded_at, e.entry_id`, a.String())
}

// EntryFilter narrows a list of entries. Zero fields do not narrow.
type EntryFilter struct {
	Account     string // text form
	Kinds       string // one kind, or several with commas between
	Reversals   bool   // only entries that undo another
	From, Until measure.Day
}

// Entries asks for entries, the newest recorded first.
func (b *Batch) Entries(f EntryFilter, p Page) *Paged[Recorded] {
	of := ``
	if f.Account != "" { // as a join of its own, so that a rarely moved account is found by its postings
		of = ` AND e.entry_id IN (SELECT q.entry_id FROM midden.postings q WHERE q.garden_id = midden.garden() AND q.account = $9)`
	}
	early, _ := instantsOf(f.From, measure.Day{}) // nothing is recorded before it happens
	return paged(b, "entries", f, p, func(at []string, limit int) *Rows[Recorded] {
		args := []any{f.Kinds, f.Reversals, dayArg(f.From), dayArg(f.Until), early, timeKey(at, 0), keyAt(at, 1), limit}
		if f.Account != "" {
			args = append(args, f.Account)
		}
		return fetchAll(b, entryRow.recorded, selectEntries+`
			AND ($1 = '' OR e.kind = ANY(string_to_array($1, ','))) AND (NOT $2 OR e.reverses IS NOT NULL)
			AND ($3::date IS NULL OR e.effective_on >= $3) AND ($4::date IS NULL OR e.effective_on < $4)
			AND ($5::timestamptz IS NULL OR e.recorded_at >= $5)
			AND ($6::timestamptz IS NULL OR (e.recorded_at, e.entry_id) < ($6, $7::uuid))`+of+`
			ORDER BY e.recorded_at DESC, e.entry_id DESC LIMIT $8`, args...)
	}, func(e Recorded) []string { return []string{e.RecordedAt.Format(time.RFC3339Nano), e.ID.String()} })
}

// NoteEntry keeps what a person wrote about an entry of this transaction.
func (tx *Tx) NoteEntry(id uuid.UUID, note string) {
	tx.queue(`INSERT INTO midden.entry_notes (garden_id, entry_id, note) VALUES (midden.garden(), $1, $2)`, id, note)
}

// StockLine is what an account that may not fall below zero holds.
type StockLine struct {
	ledger.Holding
	Grams measure.Grams
}

type stockLineRow struct {
	Account   string `db:"account"`
	Substance string `db:"substance"`
	Grams     int64  `db:"grams"`
}

func (r stockLineRow) line() (StockLine, error) {
	a, err := ledger.ParseAccount(r.Account)
	return StockLine{ledger.Holding{Account: a, Substance: ledger.Substance(r.Substance)}, measure.Grams(r.Grams)}, err
}

// StockLines asks for what is there at the end of a day (the zero day: with
// everything entered so far), of one kind of account or of all. Its cost is that
// of what is on hand and of what moved since the day, not of the garden's age.
func (b *Batch) StockLines(on measure.Day, kind ledger.AccountKind, p Page) *Paged[StockLine] {
	return paged(b, "stock", struct {
		On   measure.Day
		Kind ledger.AccountKind
	}{on, kind}, p, func(at []string, limit int) *Rows[StockLine] {
		return fetchAll(b, stockLineRow.line, `
			SELECT h.account, h.substance, c.closing_g AS grams
			  FROM (SELECT i.account, i.substance FROM midden.stock_heads i
			         WHERE i.garden_id = midden.garden() AND i.held AND i.account >= $2 AND i.account < $3
			         UNION
			        SELECT d.account, d.substance FROM midden.stock_days d
			         WHERE d.garden_id = midden.garden() AND d.day > $1 AND d.account >= $2 AND d.account < $3) h,
			       LATERAL (SELECT s.closing_g FROM midden.stock_days s
			         WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance
			           AND ($1::date IS NULL OR s.day <= $1) ORDER BY s.day DESC LIMIT 1) c
			 WHERE c.closing_g > 0 AND ($4::text IS NULL OR (h.account, h.substance) > ($4, $5))
			 ORDER BY h.account, h.substance LIMIT $6`,
			dayArg(on), kindFrom(kind), kindTo(kind), keyAt(at, 0), keyAt(at, 1), limit)
	}, func(l StockLine) []string { return []string{l.Account.String(), string(l.Substance)} })
}

// kindFrom and kindTo are the range of account texts of a kind: ';' is the
// character after ':'.
func kindFrom(k ledger.AccountKind) string {
	if k == "" {
		return ""
	}
	return string(k) + ":"
}

func kindTo(k ledger.AccountKind) string {
	if k == "" {
		return "~"
	}
	return string(k) + ";"
}
