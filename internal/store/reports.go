package store

import (
	"encoding/hex"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/season"
)

var _ = refuseOn("season_reports_id_key", "report.exists", "/id", "id: another report has this id")

// KeptReport is a season report as prepared. Lists leave Canonical out.
type KeptReport struct {
	ID         uuid.UUID
	Season     season.Season
	Revision   int
	PreparedAt time.Time
	PreparedBy uuid.UUID // member
	Diverted   measure.Grams
	SHA256     string // of Canonical, in lower-case hexadecimal
	Canonical  []byte
}

type reportRow struct {
	ID         uuid.UUID `db:"report_id"`
	Key        string    `db:"season_key"`
	Label      string    `db:"season_label"`
	Start      date      `db:"starts_on"`
	End        date      `db:"ends_on"`
	Revision   int       `db:"revision"`
	PreparedAt time.Time `db:"prepared_at"`
	PreparedBy uuid.UUID `db:"prepared_by"`
	Diverted   int64     `db:"diverted_g"`
	SHA256     []byte    `db:"sha256"`
	Canonical  []byte    `db:"canonical"`
}

func (r reportRow) report() (KeptReport, error) {
	return KeptReport{ID: r.ID, Revision: r.Revision, PreparedAt: r.PreparedAt.UTC(), PreparedBy: r.PreparedBy,
		Season:   season.Season{Key: r.Key, Label: r.Label, DayRange: measure.DayRange{Start: r.Start.Day, End: r.End.Day}},
		Diverted: measure.Grams(r.Diverted), SHA256: hex.EncodeToString(r.SHA256), Canonical: r.Canonical}, nil
}

const (
	selectReportLine = `SELECT report_id, season_key, season_label, starts_on, ends_on, revision, prepared_at, prepared_by, diverted_g, sha256`
	fromReports      = ` FROM midden.season_reports WHERE garden_id = midden.garden()`
)

// SeasonReport asks for one report with its bytes.
func (b *Batch) SeasonReport(id uuid.UUID) *Row[KeptReport] {
	return fetchOne(b, reportRow.report, selectReportLine+`, canonical`+fromReports+` AND report_id = $1`, id)
}

// SeasonReportContent asks for the digest of what a report was asked for with.
func (b *Batch) SeasonReportContent(id uuid.UUID) *Row[[]byte] {
	return fetchValue[[]byte](b, `SELECT content_sha256`+fromReports+` AND report_id = $1`, id)
}

// LastRevision asks for the latest revision of a season's report, 0 for none.
func (b *Batch) LastRevision(seasonKey string) *Row[int] {
	return fetchValue[int](b, `SELECT coalesce(max(revision), 0)`+fromReports+` AND season_key = $1`, seasonKey)
}

// SeasonReports asks for reports, the latest first, of one season or of all.
func (b *Batch) SeasonReports(seasonKey string, p Page) *Paged[KeptReport] {
	return paged(b, "season_reports", seasonKey, p, func(at []string, limit int) *Rows[KeptReport] {
		return fetchAll(b, reportRow.report, selectReportLine+`, ''::bytea AS canonical`+fromReports+`
			AND ($1 = '' OR season_key = $1) AND ($2::timestamptz IS NULL OR (prepared_at, report_id) < ($2, $3::uuid))
			ORDER BY prepared_at DESC, report_id DESC LIMIT $4`, seasonKey, timeKey(at, 0), keyAt(at, 1), limit)
	}, func(r KeptReport) []string { return []string{r.PreparedAt.Format(time.RFC3339Nano), r.ID.String()} })
}

// InsertSeasonReport writes a prepared report. Two with the same revision meet
// at the primary key, and the later one is tried again.
func (tx *Tx) InsertSeasonReport(r KeptReport, content [32]byte) error {
	digest, err := hex.DecodeString(r.SHA256)
	if err != nil {
		return err
	}
	tx.queue(`
		INSERT INTO midden.season_reports (garden_id, season_key, revision, report_id, season_label, starts_on, ends_on,
		       prepared_at, prepared_by, diverted_g, canonical, sha256, content_sha256)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
		r.Season.Key, r.Revision, r.ID, r.Season.Label, dayArg(r.Season.Start), dayArg(r.Season.End),
		r.PreparedAt, r.PreparedBy, int64(r.Diverted), r.Canonical, digest, content[:])
	return nil
}

// SubstanceStock is what all accounts of a kind hold of a substance.
type SubstanceStock struct {
	Substance ledger.Substance
	Grams     measure.Grams
}

type substanceRow struct {
	Substance string `db:"substance"`
	Grams     int64  `db:"grams"`
}

func (r substanceRow) stock() (SubstanceStock, error) {
	return SubstanceStock{ledger.Substance(r.Substance), measure.Grams(r.Grams)}, nil
}

// StockOn asks what the accounts of a kind that may not fall below zero held
// at the end of a day, by substance. It looks at what is on hand now and at
// what moved after that day, not at every account there ever was.
func (b *Batch) StockOn(on measure.Day, kind ledger.AccountKind) *Rows[SubstanceStock] {
	return fetchAll(b, substanceRow.stock, `
		WITH there AS (
			SELECT h.account, h.substance FROM midden.stock_heads h
			 WHERE h.garden_id = midden.garden() AND h.latest_g > 0 AND h.account >= $2 AND h.account < $3
			UNION
			SELECT s.account, s.substance FROM midden.stock_days s
			 WHERE s.garden_id = midden.garden() AND s.day > $1 AND s.account >= $2 AND s.account < $3
		)
		SELECT t.substance, sum(c.closing_g)::bigint AS grams
		  FROM there t, LATERAL (SELECT s.closing_g FROM midden.stock_days s
		       WHERE s.garden_id = midden.garden() AND s.account = t.account AND s.substance = t.substance AND s.day <= $1
		       ORDER BY s.day DESC LIMIT 1) c
		 WHERE c.closing_g > 0 GROUP BY t.substance ORDER BY t.substance`,
		dayArg(on), kindFrom(kind), kindTo(kind))
}

type firstDayRow struct {
	Day date `db:"effective_on"`
}

func (r firstDayRow) day() (measure.Day, error) { return r.Day.Day, nil }

// FirstDay asks for the first day with an entry.
func (b *Batch) FirstDay() *Row[measure.Day] {
	return fetchOne(b, firstDayRow.day, `SELECT effective_on FROM midden.entries WHERE garden_id = midden.garden()
		ORDER BY effective_on, entry_id LIMIT 1`)
}

// KindCount is how many entries of a kind there are, less those reversed.
type KindCount struct {
	Kind string
	N    int
}

type kindCountRow struct {
	Kind string `db:"kind"`
	N    int    `db:"n"`
}

func (r kindCountRow) count() (KindCount, error) { return KindCount(r), nil }

// EntryCounts asks how many entries of each kind count on a stretch of days.
func (b *Batch) EntryCounts(days measure.DayRange) *Rows[KindCount] {
	return fetchAll(b, kindCountRow.count, `
		SELECT kind, (count(*) FILTER (WHERE reverses IS NULL) - count(*) FILTER (WHERE reverses IS NOT NULL))::int AS n
		  FROM midden.entries WHERE garden_id = midden.garden() AND effective_on >= $1 AND effective_on < $2
		 GROUP BY kind ORDER BY kind`, dayArg(days.Start), dayArg(days.End))
}

// EveryBin asks for every bin there ever was, by name: to name them in reports.
func (b *Batch) EveryBin() *Rows[farm.Bin] {
	return fetchAll(b, binRow.bin, selectBin+` WHERE b.garden_id = midden.garden() ORDER BY b.name_folded, b.bin_id`)
}

// EverySite asks for every site there ever was, by name: to name them in reports.
func (b *Batch) EverySite() *Rows[farm.Site] {
	return fetchAll(b, siteRow.site, selectSite+` WHERE garden_id = midden.garden() ORDER BY name, site_id`)
}
