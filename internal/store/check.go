package store

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"midden/internal/ledger"
	"midden/internal/measure"
)

// LedgerFault is one thing that does not add up.
type LedgerFault struct {
	Where string // the row: "entry <id>", "stock <account> <substance> <day>", …
	What  string
}

// String is the fault on one line.
func (f LedgerFault) String() string { return f.Where + ": " + f.What }

// CheckLedger works out a garden's stock, roll-ups and hashes again from its
// entries, at one instant, and lists every difference; none means all is well.
// It reads the whole ledger and holds its sums, not its entries, in memory.
func (s *Store) CheckLedger(ctx context.Context, garden uuid.UUID) ([]LedgerFault, error) {
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return nil, translate(err)
	}
	defer conn.Release()
	c := &ledgerCheck{
		days: map[dayKey]measure.Grams{}, totals: map[ledger.TotalKey]ledger.Total{},
	}
	opts := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err = pgx.BeginTxFunc(ctx, conn, opts, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, setScope, Scope{Garden: garden}.args()...); err != nil {
			return err
		}
		for _, step := range []func(context.Context, pgx.Tx) error{c.entries, c.stock, c.heads, c.rollUps} {
			if err := step(ctx, tx); err != nil {
				return err
			}
		}
		return nil
	})
	return c.faults, translate(err)
}

type dayKey struct {
	account, substance string
	day                measure.Day
}

func (k dayKey) compare(o dayKey) int {
	if c := bytes.Compare([]byte(k.account), []byte(o.account)); c != 0 {
		return c
	}
	if c := bytes.Compare([]byte(k.substance), []byte(o.substance)); c != 0 {
		return c
	}
	return k.day.Compare(o.day)
}

func (k dayKey) String() string { return fmt.Sprintf("stock %s %s %s", k.account, k.substance, k.day) }

type ledgerCheck struct {
	faults []LedgerFault
	days   map[dayKey]measure.Grams // nets by the entries
	totals map[ledger.TotalKey]ledger.Total
	latest map[dayKey]measure.Grams // by the entries; the day is zero
}

func (c *ledgerCheck) fault(where, format string, args ...any) {
	c.faults = append(c.faults, LedgerFault{where, fmt.Sprintf(format, args...)})
}

func each[R any](ctx context.Context, tx pgx.Tx, sql string, do func(R) error) error {
	rows, err := tx.Query(ctx, sql)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		r, err := pgx.RowToStructByName[R](rows)
		if err != nil {
			return err
		}
		if err := do(r); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (c *ledgerCheck) entries(ctx context.Context, tx pgx.Tx) error {
	return each(ctx, tx, selectEntries+` ORDER BY e.effective_on, e.entry_id`, func(r entryRow) error {
		where := "entry " + r.ID.String()
		e, err := r.entry()
		if err != nil {
			c.fault(where, "%v", err)
			return nil
		}
		if err := e.Validate(); err != nil {
			c.fault(where, "%v", err)
		}
		if h := e.Hash(); r.Format != ledger.Format {
			c.fault(where, "hashed in the unknown format %d", r.Format)
		} else if !bytes.Equal(h[:], r.SHA256) {
			c.fault(where, "hash stored %x, by the postings %x", r.SHA256, h)
		}
		for _, m := range ledger.Net(e) {
			if m.Account.NeverNegative(m.Substance) {
				c.days[dayKey{m.Account.String(), string(m.Substance), m.Day}] += m.Net
			}
		}
		for _, t := range ledger.Totals(e) {
			c.totals[t.TotalKey] = c.totals[t.TotalKey].Add(t.Total)
		}
		return nil
	})
}

type stockDayRow struct {
	Account   string `db:"account"`
	Substance string `db:"substance"`
	Day       date   `db:"day"`
	Net       int64  `db:"net_g"`
	Closing   int64  `db:"closing_g"`
}

// stock compares each day with movement. Rows and sums are walked in the same
// order, so the running closing needs one pass.
func (c *ledgerCheck) stock(ctx context.Context, tx pgx.Tx) error {
	stored := map[dayKey]stockDayRow{}
	err := each(ctx, tx, `SELECT account, substance, day, net_g, closing_g FROM midden.stock_days
		WHERE garden_id = midden.garden()`, func(r stockDayRow) error {
		stored[dayKey{r.Account, r.Substance, r.Day.Day}] = r
		return nil
	})
	if err != nil {
		return err
	}
	keys := make([]dayKey, 0, len(c.days))
	for k := range c.days {
		keys = append(keys, k)
	}
	for k := range stored {
		if _, ok := c.days[k]; !ok {
			keys = append(keys, k)
		}
	}
	slices.SortFunc(keys, dayKey.compare)
	c.latest = map[dayKey]measure.Grams{}
	for _, k := range keys {
		holding := dayKey{account: k.account, substance: k.substance}
		c.latest[holding] += c.days[k]
		net, closing := int64(c.days[k]), int64(c.latest[holding])
		r, ok := stored[k]
		switch _, moved := c.days[k]; {
		case !ok:
			c.fault(k.String(), "no row; by the entries net %d g, closing %d g", net, closing)
		case !moved:
			c.fault(k.String(), "a row of net %d g without any entry", r.Net)
		case r.Net != net || r.Closing != closing:
			c.fault(k.String(), "stored net %d g, closing %d g; by the entries net %d g, closing %d g", r.Net, r.Closing, net, closing)
		}
		if closing < 0 {
			c.fault(k.String(), "below zero: %d g", closing)
		}
	}
	return nil
}

type headRow struct {
	Account   string `db:"account"`
	Substance string `db:"substance"`
	Latest    int64  `db:"latest_g"`
}

func (c *ledgerCheck) heads(ctx context.Context, tx pgx.Tx) error {
	seen := map[dayKey]bool{}
	err := each(ctx, tx, `SELECT account, substance, latest_g FROM midden.stock_heads
		WHERE garden_id = midden.garden() ORDER BY account, substance`, func(r headRow) error {
		k := dayKey{account: r.Account, substance: r.Substance}
		seen[k] = true
		if want := int64(c.latest[k]); r.Latest != want {
			c.fault(fmt.Sprintf("head %s %s", r.Account, r.Substance), "stored %d g; by the entries %d g", r.Latest, want)
		}
		return nil
	})
	for _, k := range slices.SortedFunc(maps.Keys(c.latest), dayKey.compare) {
		if !seen[k] {
			c.fault(fmt.Sprintf("head %s %s", k.account, k.substance), "no row; by the entries %d g", c.latest[k])
		}
	}
	return err
}
