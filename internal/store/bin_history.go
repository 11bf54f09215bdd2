package store

import (
	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

// BinHistory is what happened to bins from a day on, one statement for each
// kind of record. What was undone is left out.
type BinHistory struct {
	From      measure.Day
	Opening   *Rows[OpeningWorms] // before From
	Food      *Rows[Fed]
	Bedding   *Rows[Fed]
	Checks    *Rows[farm.Check]
	Care      *Rows[farm.CareEvent]
	Transfers *Rows[farm.Transfer]
	Harvests  *Rows[farm.Harvest]
}

// BinHistory asks for what happened to one bin.
func (b *Batch) BinHistory(bin uuid.UUID, from measure.Day) BinHistory {
	return BinHistory{from, b.openingWorms(bin, from), b.FeedingsOf(bin, from), b.BeddingLaidOf(bin, from), b.ChecksSince(bin, from),
		b.CareSince(bin, from), b.TransfersOf(bin, from), b.HarvestsOf(bin, from)}
}

// AllBinHistory asks for what happened to every bin, in as many statements.
func (b *Batch) AllBinHistory(from measure.Day) BinHistory {
	return BinHistory{from, b.openingWorms(uuid.Nil, from), b.AllFeedings(from), b.AllBeddingLaid(from), b.ChecksSince(uuid.Nil, from),
		b.CareSince(uuid.Nil, from), b.AllTransfers(from), b.AllHarvests(from)}
}

// OpeningWorms is what the books held of a bin's worms when a history opens.
type OpeningWorms struct {
	Bin   uuid.UUID
	Grams measure.Grams
}

type openingRow struct {
	Account string `db:"account"`
	Grams   int64  `db:"grams"`
}

func (r openingRow) worms() (OpeningWorms, error) {
	a, err := ledger.ParseAccount(r.Account)
	return OpeningWorms{a.Bin, measure.Grams(r.Grams)}, err
}

func (b *Batch) openingWorms(bin uuid.UUID, day measure.Day) *Rows[OpeningWorms] {
	within := ""
	if bin != uuid.Nil {
		within = bin.String() + "/"
	}
	// '~' comes after every character of an id.
	return fetchAll(b, openingRow.worms, `
		SELECT h.account, c.closing_g AS grams
		  FROM midden.stock_heads h, LATERAL (SELECT s.closing_g FROM midden.stock_days s
		       WHERE s.garden_id = midden.garden() AND s.account = h.account AND s.substance = h.substance AND s.day < $1
		       ORDER BY s.day DESC LIMIT 1) c
		 WHERE h.garden_id = midden.garden() AND h.account > 'section:' || $2 AND h.account < 'section:' || $2 || '~'
		   AND h.substance >= 'worms/' AND h.substance < 'worms0' AND c.closing_g > 0
		 ORDER BY h.account, h.substance`, dayArg(day), within)
}
