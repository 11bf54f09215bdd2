package store

import (
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

// Stock is what an account holds of one substance, from a day on.
type Stock struct {
	ledger.Holding
	Latest  measure.Grams // with everything entered so far
	opening measure.Grams // at the end of the day before the first of days
	days    []measure.Day // with movement, in order
	closing []measure.Grams
}

// Closing is what is there at the end of a day, not before the day the stock
// was asked for.
func (s Stock) Closing(on measure.Day) measure.Grams {
	g := s.opening
	for i, d := range s.days {
		if d.After(on) {
			break
		}
		g = s.closing[i]
	}
	return g
}

// Least is the least that is there at the end of a day or of any later one:
// what can be taken on that day.
func (s Stock) Least(from measure.Day) measure.Grams {
	g := s.Closing(from)
	for i, d := range s.days {
		if d.After(from) {
			g = min(g, s.closing[i])
		}
	}
	return g
}

type stockRow struct {
	Account   string  `db:"account"`
	Substance string  `db:"substance"`
	Latest    int64   `db:"latest_g"`
	Opening   int64   `db:"opening_g"`
	Days      []date  `db:"days"`
	Closings  []int64 `db:"closings"`
}

func (r stockRow) stock() (Stock, error) {
	a, err := ledger.ParseAccount(r.Account)
	s := Stock{Holding: ledger.Holding{Account: a, Substance: ledger.Substance(r.Substance)},
		Latest: measure.Grams(r.Latest), opening: measure.Grams(r.Opening)}
	for i := range r.Days {
		s.days, s.closing = append(s.days, r.Days[i].Day), append(s.closing, measure.Grams(r.Closings[i]))
	}
	return s, err
}

const selectStock = `
	SELECT h.account, h.substance, h.latest_g, o.opening_g, l.days, l.closings
	  FROM midden.stock_heads h,
	       LATERAL (SELECT coalesce((SELECT s.closing_g FROM midden.stock_days s
	          WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance AND s.day < $2
	          ORDER BY s.day DESC LIMIT 1), 0) AS opening_g) o,
	       LATERAL (SELECT coalesce(array_agg(s.day ORDER BY s.day), '{}') AS days,
	                       coalesce(array_agg(s.closing_g ORDER BY s.day), '{}') AS closings
	          FROM midden.stock_days s
	         WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance AND s.day >= $2) l
	 WHERE h.garden_id = midden.garden() AND h.account = ANY($1)
	 ORDER BY h.account, h.substance`

// Stocks asks for the never-negative holdings of accounts from a day on. When
// the garden's day is not known yet, ask from the day before the UTC day.
func (b *Batch) Stocks(from measure.Day, accounts ...ledger.Account) *Rows[Stock] {
	return fetchAll(b, stockRow.stock, selectStock, texts(accounts), dayArg(from))
}

// LockStocks is Stocks with the heads held until the end of the transaction.
// Lock every account that a use case will move in one call, so that locks are
// always taken in the same order.
func (tx *Tx) LockStocks(from measure.Day, accounts ...ledger.Account) *Rows[Stock] {
	// Two statements: the second one sees what the lock was waiting for.
	tx.queue(`SELECT 1 FROM midden.stock_heads h WHERE h.garden_id = midden.garden() AND h.account = ANY($1)
		ORDER BY h.account, h.substance FOR UPDATE`, texts(accounts))
	return tx.Stocks(from, accounts...)
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
