package store

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"midden/internal/ledger"
	"midden/internal/measure"
)

type totalRow struct {
	Day       date      `db:"day"`
	Site      uuid.UUID `db:"site_id"`
	Account   string    `db:"account"`
	Substance string    `db:"substance"`
	Kind      string    `db:"kind"`
	In        int64     `db:"in_g"`
	Out       int64     `db:"out_g"`
	Weighed   int64     `db:"weighed_g"`
	Container int64     `db:"container_g"`
	Estimate  int64     `db:"estimate_g"`
	Book      int64     `db:"book_g"`
	Records   int64     `db:"records"`
	SDLinear  int64     `db:"sd_linear"`
	SDSquare  string    `db:"sd_square"`
}

func (r totalRow) total() (ledger.KeyedTotal, error) {
	a, err := ledger.ParseAccount(r.Account)
	if err != nil {
		return ledger.KeyedTotal{}, err
	}
	square, ok := ledger.ParseSquares(r.SDSquare)
	if !ok {
		return ledger.KeyedTotal{}, fmt.Errorf("store: roll-up of %s on %s: sd_square %q is no whole number", r.Account, r.Day, r.SDSquare)
	}
	return ledger.KeyedTotal{
		TotalKey: ledger.TotalKey{Day: r.Day.Day, Site: r.Site, Account: a, Substance: ledger.Substance(r.Substance), Kind: r.Kind},
		Total: ledger.Total{In: measure.Grams(r.In), Out: measure.Grams(r.Out), Weighed: measure.Grams(r.Weighed),
			Container: measure.Grams(r.Container), Estimate: measure.Grams(r.Estimate), Book: measure.Grams(r.Book),
			Records: r.Records, SDLinear: r.SDLinear, SDSquare: square},
	}, nil
}

const selectTotals = `
	SELECT day, site_id, account, substance, kind, in_g, out_g, weighed_g, container_g, estimate_g, book_g,
	       records, sd_linear, sd_square::text AS sd_square
	  FROM midden.day_totals WHERE garden_id = midden.garden()`

// Totals asks for the daily roll-ups of a stretch of days, of the account
// kinds named, or of all kinds when none is.
func (b *Batch) Totals(days measure.DayRange, kinds ...ledger.AccountKind) *Rows[ledger.KeyedTotal] {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = string(k)
	}
	return fetchAll(b, totalRow.total, selectTotals+`
		AND day >= $1 AND day < $2 AND (cardinality($3::text[]) = 0 OR account_kind = ANY($3))
		ORDER BY day, site_id, account, substance, kind`, dayArg(days.Start), dayArg(days.End), names)
}

func (c *ledgerCheck) rollUps(ctx context.Context, tx pgx.Tx) error {
	where := func(k ledger.TotalKey) string {
		return fmt.Sprintf("roll-up %s %s %s %s %s", k.Day, k.Site, k.Account, k.Substance, k.Kind)
	}
	seen := map[ledger.TotalKey]bool{}
	err := each(ctx, tx, selectTotals+` ORDER BY day, site_id, account, substance, kind`, func(r totalRow) error {
		t, err := r.total()
		if err != nil {
			c.fault("roll-up "+r.Day.String()+" "+r.Account, "%v", err)
			return nil
		}
		seen[t.TotalKey] = true
		if want := c.totals[t.TotalKey]; t.Total != want {
			c.fault(where(t.TotalKey), "stored %+v; by the entries %+v", t.Total, want)
		}
		return nil
	})
	for _, k := range slices.SortedFunc(maps.Keys(c.totals), ledger.TotalKey.Compare) {
		if !seen[k] {
			c.fault(where(k), "no row; by the entries %+v", c.totals[k])
		}
	}
	return err
}
