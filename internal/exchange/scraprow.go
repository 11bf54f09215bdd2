package exchange

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math/big"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"midden/internal/farm"
	"midden/internal/measure"
)

// DateForm is how dates are written in a file. It is chosen, never guessed:
// 03/04/2026 is two different days.
type DateForm string

// The forms. DateDMY and DateMDY take / . or - between the numbers and need a
// year of four digits.
const (
	DateISO DateForm = "YYYY-MM-DD"
	DateDMY DateForm = "DD/MM/YYYY"
	DateMDY DateForm = "MM/DD/YYYY"
)

func (f DateForm) valid() bool { return f == "" || f == DateISO || f == DateDMY || f == DateMDY }

func (f DateForm) parse(s string) (measure.Day, error) {
	if f == "" || f == DateISO {
		return measure.ParseDay(s)
	}
	for _, sep := range []string{"/", ".", "-"} {
		parts := strings.Split(s, sep)
		if len(parts) != 3 || len(parts[0]) > 2 || len(parts[1]) > 2 || len(parts[2]) != 4 {
			continue
		}
		var n [3]int
		for i, p := range parts {
			v, err := strconv.ParseUint(p, 10, 16)
			if err != nil {
				return measure.Day{}, measure.ErrDay
			}
			n[i] = int(v)
		}
		if f == DateMDY {
			n[0], n[1] = n[1], n[0]
		}
		return measure.NewDay(n[2], time.Month(n[1]), n[0])
	}
	return measure.Day{}, measure.ErrDay
}

// ScrapRow is one line of a scrap log, read and converted.
type ScrapRow struct {
	Line int
	Day  measure.Day
	Who  string // as written, without blanks around it
	What string

	// Value and Unit are the quantity as entered, with a point for decimals
	// and no trailing zeros. Bucket rows have Unit "bucket".
	Value     string
	Unit      string
	Container bool            // counted in buckets
	Method    farm.MassMethod // weighed for a unit of mass, else container

	Mass    measure.Grams
	Volume  measure.Millilitres // 0 when weighed
	Density measure.Density     // that made mass of volume; 0 when weighed

	// Key is the same for the same row each time the file is read, also when
	// rows were added before it: a hash of the row and of which one it is
	// among equal rows.
	Key string
}

// BucketUnit is the Unit of rows counted in buckets.
const BucketUnit = "bucket"

type rowHash [sha256.Size]byte

const maxText = 200

// Next reads a row. Either row is good and faults is empty, or faults says
// what is wrong with it; both are nil at the end. err is io.EOF after the last
// row, import.too_long or import.too_large beyond the limits, or the reader's.
func (l *ScrapLog) Next() (row *ScrapRow, faults []RowFault, err error) {
	for {
		record, err := l.r.Read()
		if e := (*csv.ParseError)(nil); errors.As(err, &e) {
			if err := l.count(); err != nil {
				return nil, nil, err
			}
			return nil, []RowFault{{Line: e.StartLine, Code: CodeRowQuotes,
				Message: "quotes: a field in quotes must close, and a quote inside it be doubled"}}, nil
		}
		if err != nil {
			return nil, nil, err
		}
		if blank(record) {
			continue
		}
		if err := l.count(); err != nil {
			return nil, nil, err
		}
		line, _ := l.r.FieldPos(0)
		row, faults = l.read(line, record)
		return row, faults, nil
	}
}

func (l *ScrapLog) count() error {
	if l.rows++; l.rows > l.opt.MaxRows {
		return farm.Refuse(CodeImportTooLong, "", "file: must have at most %d rows; split it by season", l.opt.MaxRows)
	}
	return nil
}

func blank(record []string) bool {
	for _, f := range record {
		if strings.TrimSpace(f) != "" {
			return false
		}
	}
	return true
}

// rowReader gathers the faults of one row.
type rowReader struct {
	log    *ScrapLog
	line   int
	record []string
	faults []RowFault
}

func (l *ScrapLog) read(line int, record []string) (*ScrapRow, []RowFault) {
	r := &rowReader{log: l, line: line, record: record}
	if len(record) != len(l.names) {
		return nil, []RowFault{{Line: line, Code: CodeRowFields, Value: clip(strings.Join(record, string(l.r.Comma))),
			Message: fmt.Sprintf("fields: must be %d as in the header; got %d", len(l.names), len(record))}}
	}
	row := &ScrapRow{Line: line, Day: r.day(), Who: r.text(colWho), What: r.text(colWhat)}
	r.quantity(row)
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	row.Key = l.key(row)
	return row, nil
}

func (r *rowReader) field(c int) string { return strings.TrimSpace(r.record[r.log.columns[c]]) }

func (r *rowReader) fault(c int, code farm.Code, format string, args ...any) {
	r.faults = append(r.faults, RowFault{Line: r.line, Column: r.log.names[r.log.columns[c]], Code: code,
		Message: columnNames[c] + ": " + fmt.Sprintf(format, args...), Value: clip(r.record[r.log.columns[c]])})
}

func clip(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	if r := []rune(s); len(r) > 80 {
		return string(r[:79]) + "…"
	}
	return s
}

func (r *rowReader) day() measure.Day {
	s, opt := r.field(colDate), r.log.opt
	form := opt.Dates
	if form == "" {
		form = DateISO
	}
	d, err := form.parse(s)
	switch {
	case err != nil:
		r.fault(colDate, CodeRowDate, "must be a day written %s; got %q", form, clip(s))
	case !opt.NotBefore.IsZero() && d.Before(opt.NotBefore):
		r.fault(colDate, CodeRowDate, "must not be before %s; got %s", opt.NotBefore, d)
	case !opt.NotAfter.IsZero() && d.After(opt.NotAfter):
		r.fault(colDate, CodeRowDate, "must not be after %s; got %s", opt.NotAfter, d)
	}
	return d
}

func (r *rowReader) text(c int) string {
	s := Plain(r.field(c))
	switch n := utf8.RuneCountInString(s); {
	case !utf8.ValidString(s):
		r.fault(c, CodeRowText, "must be UTF-8 text; save the file as CSV UTF-8")
	case n < 1 || n > maxText:
		r.fault(c, CodeRowText, "must be 1 to %d characters; got %d", maxText, n)
	case strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' }):
		r.fault(c, CodeRowText, "must not hold control characters")
	}
	return s
}

func (r *rowReader) quantity(row *ScrapRow) {
	number, ok := r.number()
	unit, known := r.unit()
	if !ok || !known {
		return
	}
	q := measure.Quantity{Value: number, Unit: unit}
	count := big.NewRat(1, 1)
	row.Value, row.Unit, row.Method = number, string(unit), farm.ByScale
	if unit == BucketUnit {
		q = r.log.bucket
		count, _ = new(big.Rat).SetString(number)
		row.Container = true
	}
	exact, kind, err := q.Exact()
	if err != nil {
		r.fault(colHowMuch, CodeRowQuantity, "must be a number of at most 18 digits; got %q", clip(number))
		return
	}
	exact.Mul(exact, count)
	if kind == measure.Mass {
		g, err := measure.RoundHalfEven(exact)
		r.checkMass(measure.Grams(g), err)
		row.Mass = measure.Grams(g)
		return
	}
	row.Method, row.Density = farm.ByContainer, r.log.opt.Density
	row.Mass, err = row.Density.Mass(exact)
	if r.checkMass(row.Mass, err) {
		ml, err := measure.RoundHalfEven(exact)
		if err != nil || ml < 1 {
			r.fault(colHowMuch, CodeRowQuantity, "must be at least 1 mL; got %q", clip(r.field(colHowMuch)))
		}
		row.Volume = measure.Millilitres(ml)
	}
}

func (r *rowReader) checkMass(g measure.Grams, err error) bool {
	if err == nil && g >= 1 && g <= r.log.opt.MaxMass {
		return true
	}
	r.fault(colHowMuch, CodeRowQuantity, "must come to between 1 g and %s; got %q %s",
		r.log.opt.MaxMass.Format(measure.Metric), clip(r.field(colHowMuch)), clip(r.field(colUnit)))
	return false
}

// number reads the decimal and brings it to one form: "03,50" becomes "3.5".
func (r *rowReader) number() (string, bool) {
	s, mark := r.field(colHowMuch), string(r.log.opt.Decimal)
	canonical := s
	if mark == string(CommaMark) {
		canonical = strings.NewReplacer(",", ".", ".", "?").Replace(s)
	}
	if _, err := measure.ParseDecimal(canonical); err != nil {
		r.fault(colHowMuch, CodeRowQuantity, "must be a plain number such as 2%s5, without sign, unit or thousands mark; got %q", mark, clip(s))
		return "", false
	}
	whole, frac, _ := strings.Cut(canonical, ".")
	whole, frac = strings.TrimLeft(whole, "0"), strings.TrimRight(frac, "0")
	if whole == "" {
		whole = "0"
	}
	if frac != "" {
		return whole + "." + frac, true
	}
	return whole, true
}

func (r *rowReader) unit() (measure.Unit, bool) {
	s := r.field(colUnit)
	if w := strings.TrimSuffix(strings.ToLower(s), "."); w == "bucket" || w == "buckets" {
		return BucketUnit, true
	}
	u, err := measure.ParseUnit(s)
	if err != nil {
		r.fault(colUnit, CodeRowUnit, "must be kg, g, lb, oz, L, gal or buckets; got %q", clip(s))
		return "", false
	}
	return u, true
}

// key hashes what makes the row, ignoring case and blanks, and numbers equal
// rows in the order they stand.
func (l *ScrapLog) key(row *ScrapRow) string {
	fold := func(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }
	h := rowHash(sha256.Sum256([]byte(strings.Join(
		[]string{row.Day.String(), fold(row.Who), fold(row.What), row.Value, row.Unit}, "\x1f"))))
	l.seen[h]++
	sum := sha256.Sum256(append(h[:], fmt.Sprintf("#%d", l.seen[h])...))
	return hex.EncodeToString(sum[:])
}

// ReadAll reads the rest of the log: every good row and every fault. It fails
// as Next does, but not with io.EOF.
func (l *ScrapLog) ReadAll() (rows []ScrapRow, faults []RowFault, err error) {
	for {
		row, wrong, err := l.Next()
		if errors.Is(err, io.EOF) {
			return rows, faults, nil
		}
		if err != nil {
			return rows, faults, err
		}
		if row != nil {
			rows = append(rows, *row)
		}
		faults = append(faults, wrong...)
	}
}
