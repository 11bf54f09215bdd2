package store

import (
	"github.com/google/uuid"

	"midden/internal/measure"
)

// Fed is so much of one material that went into a section on a day, as food or
// as bedding laid with food.
type Fed struct {
	FeedingID   uuid.UUID
	BinID       uuid.UUID
	SectionID   uuid.UUID
	On          measure.Day
	Material    string
	Grams       measure.Grams
	MoisturePct float64 // of bedding as laid; 0: the material's own
}

type fedRow struct {
	Feeding     uuid.UUID `db:"feeding_id"`
	Bin         uuid.UUID `db:"bin_id"`
	Section     uuid.UUID `db:"section_id"`
	On          date      `db:"fed_on"`
	Material    string    `db:"material"`
	Grams       int64     `db:"grams"`
	MoisturePct float64   `db:"moisture_pct"`
}

func (r fedRow) fed() (Fed, error) {
	return Fed{r.Feeding, r.Bin, r.Section, r.On.Day, r.Material, measure.Grams(r.Grams), r.MoisturePct}, nil
}

// What was undone is left out of all four.
const (
	selectFood = `
	SELECT f.feeding_id, f.bin_id, f.section_id, f.fed_on, l.material, l.net_g AS grams, 0::float8 AS moisture_pct
	  FROM midden.feedings f JOIN midden.feeding_lots l ON l.garden_id = f.garden_id AND l.feeding_id = f.feeding_id
	 WHERE f.garden_id = midden.garden() AND f.fed_on >= $1
	   AND NOT EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = f.entry_id)`
	orderFood = ` ORDER BY f.bin_id, f.fed_on, f.fed_at, f.feeding_id, l.line`

	selectLaid = `
	SELECT f.feeding_id, f.bin_id, f.section_id, f.fed_on, k.material, k.grams, b.moisture_pct
	  FROM midden.feedings f JOIN midden.feeding_bedding b ON b.garden_id = f.garden_id AND b.feeding_id = f.feeding_id,
	       unnest(b.materials, b.grams) WITH ORDINALITY AS k (material, grams, n)
	 WHERE f.garden_id = midden.garden() AND f.fed_on >= $1
	   AND NOT EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = f.entry_id)`
	orderLaid = ` ORDER BY f.bin_id, f.fed_on, f.fed_at, f.feeding_id, b.line, k.n`
)

// FeedingsOf asks for the food that a bin was given from a day on, in order.
func (b *Batch) FeedingsOf(bin uuid.UUID, since measure.Day) *Rows[Fed] {
	return fetchAll(b, fedRow.fed, selectFood+` AND f.bin_id = $2`+orderFood, dayOrFirst(since), bin)
}

// AllFeedings is FeedingsOf for every bin, by bin: for planning.
func (b *Batch) AllFeedings(since measure.Day) *Rows[Fed] {
	return fetchAll(b, fedRow.fed, selectFood+orderFood, dayOrFirst(since))
}

// BeddingLaidOf asks for the bedding laid with a bin's feedings from a day on,
// in order. Bedding laid without food is a care event.
func (b *Batch) BeddingLaidOf(bin uuid.UUID, since measure.Day) *Rows[Fed] {
	return fetchAll(b, fedRow.fed, selectLaid+` AND f.bin_id = $2`+orderLaid, dayOrFirst(since), bin)
}

// AllBeddingLaid is BeddingLaidOf for every bin, by bin: for planning.
func (b *Batch) AllBeddingLaid(since measure.Day) *Rows[Fed] {
	return fetchAll(b, fedRow.fed, selectLaid+orderLaid, dayOrFirst(since))
}

// dayOrFirst is a day that no record comes before, for the zero day.
func dayOrFirst(d measure.Day) date {
	if d.IsZero() {
		return dayArg(measure.MustDay("1900-01-01"))
	}
	return dayArg(d)
}
