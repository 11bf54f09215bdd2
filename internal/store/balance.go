package store

import (
	"github.com/jackc/pgx/v5"

	"midden/internal/ledger"
	"midden/internal/measure"
)

// Balance asks for what an account holds of a substance at the end of a day;
// the zero day means with everything entered so far. An account without
// movement holds 0 g.
func (b *Batch) Balance(h ledger.Holding, on measure.Day) *Row[int64] {
	account, substance := h.Account.String(), string(h.Substance)
	if h.Account.NeverNegative(h.Substance) {
		return fetchValue[int64](b, `
			SELECT coalesce((SELECT s.closing_g FROM midden.stock_days s
			 WHERE s.garden_id = midden.garden() AND s.account = $1 AND s.substance = $2
			   AND ($3::date IS NULL OR s.day <= $3) ORDER BY s.day DESC LIMIT 1), 0)`,
			account, substance, dayArg(on))
	}
	return fetchValue[int64](b, `
		SELECT coalesce(sum(t.in_g - t.out_g), 0)::bigint FROM midden.day_totals t
		 WHERE t.garden_id = midden.garden() AND t.account = $1 AND t.substance = $2
		   AND ($3::date IS NULL OR t.day <= $3)`,
		account, substance, dayArg(on))
}

// leastFrom asks for the least that a stock holds at the end of day `from` or
// of any later day: what can still be taken on that day.
func (b *Batch) leastFrom(h ledger.Holding, from measure.Day) *Row[int64] {
	return fetchValue[int64](b, `
		SELECT least(
		  coalesce((SELECT s.closing_g FROM midden.stock_days s
		    WHERE s.garden_id = midden.garden() AND s.account = $1 AND s.substance = $2 AND s.day <= $3
		    ORDER BY s.day DESC LIMIT 1), 0),
		  (SELECT min(s.closing_g) FROM midden.stock_days s
		    WHERE s.garden_id = midden.garden() AND s.account = $1 AND s.substance = $2 AND s.day > $3))`,
		h.Account.String(), string(h.Substance), dayArg(from))
}

// Stock is what an account holds of one substance, as a write needs to know it.
type Stock struct {
	ledger.Holding
	Closing measure.Grams // at the end of the day asked about
	Least   measure.Grams // the least from that day on: what can be taken on it
	Latest  measure.Grams // with everything entered so far
}

type stockRow struct {
	Account   string `db:"account"`
	Substance string `db:"substance"`
	Latest    int64  `db:"latest_g"`
	Closing   int64  `db:"closing_g"`
	Least     int64  `db:"least_g"`
}

func (r stockRow) stock() (Stock, error) {
	a, err := ledger.ParseAccount(r.Account)
	return Stock{ledger.Holding{Account: a, Substance: ledger.Substance(r.Substance)},
		measure.Grams(r.Closing), measure.Grams(r.Least), measure.Grams(r.Latest)}, err
}

const selectStock = `
	SELECT h.account, h.substance, h.latest_g, c.closing_g, least(c.closing_g, l.least_g) AS least_g
	  FROM midden.stock_heads h,
	       LATERAL (SELECT coalesce((SELECT s.closing_g FROM midden.stock_days s
	          WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance AND s.day <= $2
	          ORDER BY s.day DESC LIMIT 1), 0) AS closing_g) c,
	       LATERAL (SELECT min(s.closing_g) AS least_g FROM midden.stock_days s
	          WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance AND s.day > $2) l
	 WHERE h.garden_id = midden.garden() AND h.account = ANY($1)
	 ORDER BY h.account, h.substance`

// Stocks asks for the never-negative holdings of accounts on a day.
func (b *Batch) Stocks(on measure.Day, accounts ...ledger.Account) *Rows[Stock] {
	return fetchAll(b, stockRow.stock, selectStock, texts(accounts), dayArg(on))
}

// LockStocks is Stocks with the heads held until the end of the transaction.
// Lock every account that a use case will move in one call, so that locks are
// always taken in the same order.
func (tx *Tx) LockStocks(on measure.Day, accounts ...ledger.Account) *Rows[Stock] {
	// Two statements: the second one sees what the lock was waiting for.
	tx.queue(`SELECT 1 FROM midden.stock_heads h WHERE h.garden_id = midden.garden() AND h.account = ANY($1)
		ORDER BY h.account, h.substance FOR UPDATE`, texts(accounts)).Query(func(r pgx.Rows) error {
		r.Close()
		return r.Err()
	})
	return tx.Stocks(on, accounts...)
}

// Find is the stock of one holding in a list; zero when it never moved.
func Find(list []Stock, h ledger.Holding) Stock {
	for _, s := range list {
		if s.Holding == h {
			return s
		}
	}
	return Stock{Holding: h}
}

func texts(accounts []ledger.Account) []string {
	out := make([]string, len(accounts))
	for i, a := range accounts {
		out[i] = a.String()
	}
	return out
}
