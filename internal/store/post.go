package store

import (
	"context"
	"errors"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5/pgconn"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var (
	_ = refuseOn("entries_pkey", "entry.exists", "/id", "id: another entry has this id")
	_ = refuseOn("entries_reversed_once", "entry.reversed", "", "the entry was already reversed")
	_ = refuseOn("entries_reverses_fkey", "entry.not_found", "", "no such entry in this garden")
	_ = refuseOn("postings_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
)

// stockConstraint refuses a stock below zero at the end of any day.
const stockConstraint = "stock_not_below_zero"

// Post adds entries to what this transaction will write. They are written,
// with their hashes, stock and roll-ups, when the use case returns. It refuses
// with entry.invalid what breaks a rule of the ledger; the commit refuses with
// lot.empty, worms.none, castings.short or bedding.short what is not there.
func (tx *Tx) Post(entries ...ledger.Entry) error {
	for _, e := range entries {
		if e.Garden != tx.scope.Garden {
			return farm.Refuse("entry.invalid", "/garden_id", "garden_id: must be the transaction's garden %s; got %s", tx.scope.Garden, e.Garden)
		}
		if err := e.Validate(); err != nil {
			return err
		}
		tx.entries = append(tx.entries, e)
	}
	return nil
}

// queuePostings queues every entry of the transaction. The order matters:
// heads are locked before days are read, and the roll-ups, which many writers
// share, come last so that their locks are held for the shortest time.
func (tx *Tx) queuePostings() {
	if len(tx.entries) == 0 {
		return
	}
	tx.queueEntries()
	tx.queueStock(stockMoves(tx.entries))
	tx.queueTotals(ledger.Totals(tx.entries...))
}

func stockMoves(entries []ledger.Entry) []ledger.Move {
	var out []ledger.Move
	for _, m := range ledger.Net(entries...) {
		if m.Account.NeverNegative(m.Substance) {
			out = append(out, m)
		}
	}
	return out
}

func (tx *Tx) queueEntries() {
	var e struct {
		id, actor, cause, reverses []uuid.UUID
		kind, causeKind            []string
		on                         []date
		occurred, recorded         []time.Time
		hash                       [][]byte
	}
	var p struct {
		entry, site                      []uuid.UUID
		line, sd                         []int32
		account, kind, substance, method []string
		grams                            []int64
	}
	for _, x := range tx.entries {
		h := x.Hash()
		e.id, e.kind, e.on = append(e.id, x.ID), append(e.kind, x.Kind), append(e.on, dayArg(x.EffectiveOn))
		e.occurred, e.recorded = append(e.occurred, x.OccurredAt.Truncate(time.Microsecond)), append(e.recorded, x.RecordedAt.Truncate(time.Microsecond))
		e.actor, e.causeKind, e.cause = append(e.actor, x.Actor), append(e.causeKind, x.Cause.Kind), append(e.cause, x.Cause.ID)
		e.reverses, e.hash = append(e.reverses, x.Reverses), append(e.hash, h[:])
		for i, q := range x.Postings {
			p.entry, p.line = append(p.entry, x.ID), append(p.line, int32(i))
			p.account, p.kind = append(p.account, q.Account.String()), append(p.kind, string(q.Account.Kind))
			p.substance, p.grams = append(p.substance, string(q.Substance)), append(p.grams, int64(q.Grams))
			p.method, p.sd = append(p.method, string(q.Method)), append(p.sd, int32(q.RelSDPermille))
			p.site = append(p.site, q.Site)
		}
	}
	tx.queue(`
		INSERT INTO midden.entries (garden_id, entry_id, kind, effective_on, occurred_at, recorded_at,
		       actor_id, cause_kind, cause_id, reverses, format, sha256)
		SELECT midden.garden(), u.id, u.kind, u.effective_on, u.occurred, u.recorded,
		       nullif(u.actor, $11), u.cause_kind, u.cause, nullif(u.reverses, $11), $10, u.hash
		  FROM unnest($1::uuid[], $2::text[], $3::date[], $4::timestamptz[], $5::timestamptz[],
		              $6::uuid[], $7::text[], $8::uuid[], $9::uuid[], $12::bytea[])
		    AS u (id, kind, effective_on, occurred, recorded, actor, cause_kind, cause, reverses, hash)`,
		e.id, e.kind, e.on, e.occurred, e.recorded, e.actor, e.causeKind, e.cause, e.reverses,
		ledger.Format, uuid.Nil, e.hash)
	tx.queue(`INSERT INTO midden.entry_queue (garden_id, entry_id)
		SELECT midden.garden(), u.id FROM unnest($1::uuid[]) AS u (id)`, e.id)
	tx.queue(`
		INSERT INTO midden.postings (garden_id, entry_id, line, account, account_kind, substance, grams,
		       method, rel_sd_permille, site_id)
		SELECT midden.garden(), u.entry, u.line, u.account, u.kind, u.substance, u.grams, u.method, u.sd, nullif(u.site, $10)
		  FROM unnest($1::uuid[], $2::int[], $3::text[], $4::text[], $5::text[], $6::bigint[], $7::text[], $8::int[], $9::uuid[])
		    AS u (entry, line, account, kind, substance, grams, method, sd, site)`,
		p.entry, p.line, p.account, p.kind, p.substance, p.grams, p.method, p.sd, p.site, uuid.Nil)
}

func (tx *Tx) queueStock(moves []ledger.Move) {
	if len(moves) == 0 {
		return
	}
	var h, d struct {
		account, substance []string
		day                []date
		net                []int64
	}
	var last ledger.Holding
	for _, m := range moves { // in locking order
		account, substance := m.Account.String(), string(m.Substance)
		if m.Holding != last {
			h.account, h.substance, h.net = append(h.account, account), append(h.substance, substance), append(h.net, 0)
			last = m.Holding
		}
		h.net[len(h.net)-1] += int64(m.Net)
		d.account, d.substance = append(d.account, account), append(d.substance, substance)
		d.day, d.net = append(d.day, dayArg(m.Day)), append(d.net, int64(m.Net))
	}
	tx.queue(`
		INSERT INTO midden.stock_heads AS h (garden_id, account, substance, latest_g)
		SELECT midden.garden(), u.account, u.substance, u.net
		  FROM unnest($1::text[], $2::text[], $3::bigint[]) WITH ORDINALITY AS u (account, substance, net, n)
		 ORDER BY u.n
		ON CONFLICT (garden_id, account, substance) DO UPDATE SET latest_g = h.latest_g + excluded.latest_g`,
		h.account, h.substance, h.net)
	// The heads are locked, and this statement sees what their last holder
	// committed. It writes each moved day and every later day with movement,
	// so the CHECK judges only what would be true in the end. Later days are
	// looked up by key for each holding: joined, the whole garden would be read.
	tx.queue(`
		WITH delta AS (
			SELECT u.account, u.substance, u.day, u.net
			  FROM unnest($1::text[], $2::text[], $3::date[], $4::bigint[]) AS u (account, substance, day, net)
		), since AS (
			SELECT account, substance, min(day) AS day FROM delta GROUP BY account, substance
		), touched AS (
			SELECT account, substance, day FROM delta
			UNION
			SELECT f.account, f.substance, s.day
			  FROM since f CROSS JOIN LATERAL (
			       SELECT d.day FROM midden.stock_days d
			        WHERE d.garden_id = midden.garden() AND d.account = f.account AND d.substance = f.substance AND d.day > f.day
			       OFFSET 0) s
		)
		INSERT INTO midden.stock_days AS s (garden_id, account, substance, day, net_g, closing_g)
		SELECT midden.garden(), t.account, t.substance, t.day,
		       coalesce((SELECT d.net FROM delta d
		                  WHERE d.account = t.account AND d.substance = t.substance AND d.day = t.day), 0),
		       coalesce((SELECT b.closing_g FROM midden.stock_days b
		                  WHERE b.garden_id = midden.garden() AND b.account = t.account AND b.substance = t.substance AND b.day <= t.day
		                  ORDER BY b.day DESC LIMIT 1), 0)
		       + (SELECT coalesce(sum(d.net), 0)::bigint FROM delta d
		           WHERE d.account = t.account AND d.substance = t.substance AND d.day <= t.day)
		  FROM touched t
		ON CONFLICT (garden_id, account, substance, day)
		DO UPDATE SET net_g = s.net_g + excluded.net_g, closing_g = excluded.closing_g`,
		d.account, d.substance, d.day, d.net)
}

func (tx *Tx) queueTotals(totals []ledger.KeyedTotal) {
	if len(totals) == 0 {
		return
	}
	n := len(totals)
	day, site := make([]date, n), make([]uuid.UUID, n)
	account, substance, kind, accountKind, square := make([]string, n), make([]string, n), make([]string, n), make([]string, n), make([]string, n)
	sums := make([][]int64, 8)
	for i := range sums {
		sums[i] = make([]int64, n)
	}
	for i, t := range totals {
		day[i], site[i], account[i], substance[i], kind[i] = dayArg(t.Day), t.Site, t.Account.String(), string(t.Substance), t.Kind
		accountKind[i], square[i] = string(t.Account.Kind), t.SDSquare.String()
		for j, v := range [...]int64{int64(t.In), int64(t.Out), int64(t.Weighed), int64(t.Container),
			int64(t.Estimate), int64(t.Book), t.Records, t.SDLinear} {
			sums[j][i] = v
		}
	}
	tx.queue(`
		INSERT INTO midden.day_totals AS t (garden_id, day, site_id, account, substance, kind, account_kind,
		       in_g, out_g, weighed_g, container_g, estimate_g, book_g, records, sd_linear, sd_square)
		SELECT midden.garden(), u.day, u.site, u.account, u.substance, u.kind, u.account_kind,
		       u.a, u.b, u.c, u.d, u.e, u.f, u.g, u.h, u.square::numeric
		  FROM unnest($1::date[], $2::uuid[], $3::text[], $4::text[], $5::text[], $6::text[],
		              $7::bigint[], $8::bigint[], $9::bigint[], $10::bigint[], $11::bigint[], $12::bigint[],
		              $13::bigint[], $14::bigint[], $15::text[]) WITH ORDINALITY
		    AS u (day, site, account, substance, kind, account_kind, a, b, c, d, e, f, g, h, square, n)
		 ORDER BY u.n
		ON CONFLICT (garden_id, day, site_id, account, substance, kind) DO UPDATE SET
		       in_g = t.in_g + excluded.in_g, out_g = t.out_g + excluded.out_g,
		       weighed_g = t.weighed_g + excluded.weighed_g, container_g = t.container_g + excluded.container_g,
		       estimate_g = t.estimate_g + excluded.estimate_g, book_g = t.book_g + excluded.book_g,
		       records = t.records + excluded.records, sd_linear = t.sd_linear + excluded.sd_linear,
		       sd_square = t.sd_square + excluded.sd_square`,
		day, site, account, substance, kind, accountKind,
		sums[0], sums[1], sums[2], sums[3], sums[4], sums[5], sums[6], sums[7], square)
}

// shortfall says which stock was not there, and how much was, when the commit
// was refused for it; nil for any other end.
func (s *Store) shortfall(ctx context.Context, tx *Tx) error {
	var pg *pgconn.PgError
	if !errors.As(tx.cause, &pg) || pg.ConstraintName != stockConstraint {
		return nil
	}
	type want struct {
		move ledger.Move // Net is the sum of this and the earlier days
		have *Row[int64]
	}
	var wants []want
	err := s.Read(ctx, tx.scope, func(b *Batch) {
		running := map[ledger.Holding]measure.Grams{}
		for _, m := range stockMoves(tx.entries) {
			running[m.Holding] += m.Net
			if m.Net = running[m.Holding]; m.Net < 0 {
				wants = append(wants, want{m, b.leastFrom(m.Holding, m.Day)})
			}
		}
	})
	if err != nil || len(wants) == 0 {
		return translate(tx.cause)
	}
	worst := wants[0]
	for _, w := range wants {
		if w.have.Value+int64(w.move.Net) < 0 {
			worst = w
			break
		}
	}
	return short(worst.move.Holding, worst.move.Day, -worst.move.Net, measure.Grams(worst.have.Value))
}

// short names the stock that was asked for and how much there is.
func short(h ledger.Holding, on measure.Day, want, have measure.Grams) error {
	switch h.Account.Kind {
	case ledger.Castings:
		return farm.Refuse("castings.short", "/amount", "castings lot %s holds %d g from %s on; asked for %d g", h.Account.ID, have, on, want)
	case ledger.Bedding:
		return farm.Refuse("bedding.short", "/amount", "bedding batch %s holds %d g from %s on; asked for %d g", h.Account.ID, have, on, want)
	case ledger.Section:
		return farm.Refuse("worms.none", "/amount", "section %s holds %d g of %s worms from %s on; asked for %d g",
			h.Account.ID, have, h.Substance.Key(), on, want)
	}
	return farm.Refuse("lot.empty", "/amount", "lot %s holds %d g from %s on; asked for %d g", h.Account.ID, have, on, want)
}
