package store

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("bins_pkey", "id.taken", "/id", "id: another bin has this id")
	_ = refuseOn("bins_name_key", "bin.name_taken", "/name", "name: another bin has this name")
	_ = refuseOn("bins_site_fkey", "site.not_found", "/site_id", "site_id: no such site in this garden")
	_ = refuseOn("bin_keepers_member_fkey", "member.not_found", "/keeper_ids", "keeper_ids: no such member in this garden")
)

type binRow struct {
	ID             uuid.UUID   `db:"bin_id"`
	Name           string      `db:"name"`
	Site           uuid.UUID   `db:"site_id"`
	Method         string      `db:"method"`
	Shape          string      `db:"shape"`
	LengthMM       int         `db:"length_mm"`
	WidthMM        int         `db:"width_mm"`
	DepthMM        int         `db:"depth_mm"`
	RadiusMM       int         `db:"radius_mm"`
	Boxes          int         `db:"boxes"`
	Drained        bool        `db:"drained"`
	Lidded         bool        `db:"lidded"`
	Ventilation    string      `db:"ventilation"`
	Species        string      `db:"species"`
	Status         string      `db:"status"`
	BeddingLaidOn  date        `db:"bedding_laid_on"`
	BeddingDepthMM *int        `db:"bedding_depth_mm"`
	GritAdded      bool        `db:"grit_added"`
	WormsLaidOn    date        `db:"worms_laid_on"`
	FirstFeedOn    date        `db:"first_feed_on"`
	Note           string      `db:"note"`
	CreatedAt      time.Time   `db:"created_at"`
	Version        int         `db:"version"`
	Keepers        []uuid.UUID `db:"keepers"`
}

func (r binRow) bin() (farm.Bin, error) {
	return farm.Bin{
		ID: r.ID, Name: r.Name, SiteID: r.Site, Method: farm.Method(r.Method),
		Shape: farm.Shape{Kind: farm.ShapeKind(r.Shape), LengthMM: r.LengthMM, WidthMM: r.WidthMM,
			DepthMM: r.DepthMM, RadiusMM: r.RadiusMM, Count: r.Boxes},
		Drained: r.Drained, Lidded: r.Lidded, Ventilation: farm.Ventilation(r.Ventilation),
		Species: farm.Species(r.Species), Status: farm.BinStatus(r.Status),
		SetUp: farm.SetUp{BeddingLaidOn: r.BeddingLaidOn.Day, BeddingDepthMM: orZero(r.BeddingDepthMM),
			GritAdded: r.GritAdded, WormsLaidOn: r.WormsLaidOn.Day, FirstFeedOn: r.FirstFeedOn.Day},
		Note: r.Note, Keepers: r.Keepers, CreatedAt: r.CreatedAt.UTC(), Version: r.Version,
	}, nil
}

const selectBin = `
	SELECT b.bin_id, b.name, b.site_id, b.method, b.shape, b.length_mm, b.width_mm, b.depth_mm, b.radius_mm, b.boxes,
	       b.drained, b.lidded, b.ventilation, b.species, b.status, b.bedding_laid_on, b.bedding_depth_mm, b.grit_added,
	       b.worms_laid_on, b.first_feed_on, b.note, b.created_at, b.version,
	       ARRAY(SELECT k.member_id FROM midden.bin_keepers k
	              WHERE k.garden_id = midden.garden() AND k.bin_id = b.bin_id ORDER BY k.member_id) AS keepers
	  FROM midden.bins b`

// Bin asks for one bin of the garden.
func (b *Batch) Bin(id uuid.UUID) *Row[farm.Bin] {
	return fetchOne(b, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() AND b.bin_id = $1`, id)
}

// LockBin is Bin with the row held for an update.
func (tx *Tx) LockBin(id uuid.UUID) *Row[farm.Bin] {
	return fetchOne(&tx.Batch, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() AND b.bin_id = $1 FOR UPDATE OF b`, id)
}

// BinContent asks for the digest of what a bin was made from.
func (b *Batch) BinContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256 FROM midden.bins WHERE garden_id = midden.garden() AND bin_id = $1`, id)
}

// AllBins asks for every bin that is not closed, by name: for planning.
func (b *Batch) AllBins() *Rows[farm.Bin] {
	return fetchAll(b, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() AND b.status <> 'closed' ORDER BY b.name_folded, b.bin_id`)
}

// BinFilter narrows a list of bins. Zero fields do not narrow.
type BinFilter struct {
	Site   uuid.UUID
	Status farm.BinStatus
	Keeper uuid.UUID
}

// Bins asks for bins by name.
func (b *Batch) Bins(f BinFilter, p Page) *Paged[farm.Bin] {
	return paged(b, "bins", f, p, func(at []string, limit int) *Rows[farm.Bin] {
		return fetchAll(b, binRow.bin, selectBin+`
			WHERE b.garden_id = midden.garden() AND ($1::uuid IS NULL OR b.site_id = $1) AND ($2::text IS NULL OR b.status = $2)
			  AND ($3::uuid IS NULL OR EXISTS (SELECT FROM midden.bin_keepers k
			       WHERE k.garden_id = midden.garden() AND k.bin_id = b.bin_id AND k.member_id = $3))
			  AND ($4::text IS NULL OR (b.name_folded, b.bin_id) > ($4, $5::uuid))
			ORDER BY b.name_folded, b.bin_id LIMIT $6`,
			idOrNull(f.Site), orNull(string(f.Status)), idOrNull(f.Keeper), keyAt(at, 0), keyAt(at, 1), limit)
	}, func(x farm.Bin) []string { return []string{farm.Fold(x.Name), x.ID.String()} })
}

// WormBooks is what the ledger holds of a bin's worms.
type WormBooks struct {
	Recorded bool // worms were moved in or out at some time
	Grams    measure.Grams
}

type wormBooksRow struct {
	Recorded bool  `db:"recorded"`
	Grams    int64 `db:"grams"`
}

func (r wormBooksRow) books() (WormBooks, error) {
	return WormBooks{r.Recorded, measure.Grams(r.Grams)}, nil
}

// BinWorms asks for a bin's worms by the books, of every species.
func (b *Batch) BinWorms(bin uuid.UUID) *Row[WormBooks] {
	// '0' is the character after '/': the range holds the bin's sections only.
	return fetchOne(b, wormBooksRow.books, `
		SELECT count(*) > 0 AS recorded, coalesce(sum(h.latest_g), 0)::bigint AS grams FROM midden.stock_heads h
		 WHERE h.garden_id = midden.garden() AND h.account > 'section:' || $1::uuid || '/' AND h.account < 'section:' || $1::uuid || '0'
		   AND h.substance >= 'worms/' AND h.substance < 'worms0'`, bin)
}

// InsertBin writes a new bin with its keepers.
func (tx *Tx) InsertBin(b farm.Bin, content [32]byte) {
	tx.queue(`
		INSERT INTO midden.bins (garden_id, bin_id, name, name_folded, site_id, method, shape, length_mm, width_mm, depth_mm,
		       radius_mm, boxes, drained, lidded, ventilation, species, status, bedding_laid_on, bedding_depth_mm, grit_added,
		       worms_laid_on, first_feed_on, note, created_at, version, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21,
		       $22, $23, 1, $24)`,
		append(binArgs(b), b.CreatedAt, content[:])...)
	tx.setKeepers(b)
}

// UpdateBin writes a bin whose row is locked, and its keepers; the version goes up by one.
func (tx *Tx) UpdateBin(b farm.Bin) {
	tx.queue(`
		UPDATE midden.bins SET name = $2, name_folded = $3, site_id = $4, method = $5, shape = $6, length_mm = $7, width_mm = $8,
		       depth_mm = $9, radius_mm = $10, boxes = $11, drained = $12, lidded = $13, ventilation = $14, species = $15,
		       status = $16, bedding_laid_on = $17, bedding_depth_mm = $18, grit_added = $19, worms_laid_on = $20,
		       first_feed_on = $21, note = $22, version = version + 1
		 WHERE garden_id = midden.garden() AND bin_id = $1`, binArgs(b)...)
	tx.queue(`DELETE FROM midden.bin_keepers WHERE garden_id = midden.garden() AND bin_id = $1`, b.ID)
	tx.setKeepers(b)
}

func (tx *Tx) setKeepers(b farm.Bin) {
	if len(b.Keepers) == 0 {
		return
	}
	tx.queue(`INSERT INTO midden.bin_keepers (garden_id, bin_id, member_id)
		SELECT midden.garden(), $1, u.id FROM unnest($2::uuid[]) AS u (id)`, b.ID, b.Keepers)
}

func binArgs(b farm.Bin) []any {
	return []any{b.ID, b.Name, farm.Fold(b.Name), b.SiteID, string(b.Method), string(b.Shape.Kind), b.Shape.LengthMM,
		b.Shape.WidthMM, b.Shape.DepthMM, b.Shape.RadiusMM, b.Shape.Count, b.Drained, b.Lidded, string(b.Ventilation),
		string(b.Species), string(b.Status), dayArg(b.SetUp.BeddingLaidOn), orNull(b.SetUp.BeddingDepthMM), b.SetUp.GritAdded,
		dayArg(b.SetUp.WormsLaidOn), dayArg(b.SetUp.FirstFeedOn), b.Note}
}
