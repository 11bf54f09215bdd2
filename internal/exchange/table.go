package exchange

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"midden/internal/measure"
)

// Cell is one field of a table. Make one with Text, Int, Grams or DayCell.
type Cell struct{ s string }

// Text is a field of words. A word that a spreadsheet would run as a formula
// is put behind an apostrophe.
func Text(s string) Cell { return Cell{Neutral(s)} }

// Int is a whole number, also a negative one.
func Int(n int64) Cell { return Cell{strconv.FormatInt(n, 10)} }

// Grams is a mass in whole grams.
func Grams(g measure.Grams) Cell { return Int(int64(g)) }

// DayCell is a civil day, empty for no day.
func DayCell(d measure.Day) Cell { return Cell{d.String()} }

// Neutral puts an apostrophe before text that begins like a formula: = + - @,
// also in full width, tab, carriage return and line feed (OWASP, "CSV
// Injection", from memory).
func Neutral(s string) string {
	if startsFormula(s) {
		return "'" + s
	}
	return s
}

// Plain takes back the apostrophe that Neutral put.
func Plain(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok && startsFormula(rest) {
		return rest
	}
	return s
}

func startsFormula(s string) bool {
	first, _ := utf8.DecodeRuneInString(s)
	return s != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", first)
}

// Table writes CSV as RFC 4180 has it: a header, CRLF after every record,
// quotes where needed, the same number of fields in each record.
type Table struct {
	w       *csv.Writer
	columns int
	err     error
}

// NewTable writes the header.
func NewTable(w io.Writer, columns ...string) *Table {
	cw := csv.NewWriter(w)
	cw.UseCRLF = true
	t := &Table{w: cw, columns: len(columns)}
	cells := make([]Cell, len(columns))
	for i, c := range columns {
		cells[i] = Text(c)
	}
	t.Row(cells...)
	return t
}

// Row writes one record. A record with too few or too many fields is a fault
// of the program and panics. Errors of the writer wait for Close.
func (t *Table) Row(cells ...Cell) {
	if len(cells) != t.columns {
		panic("exchange: a record has " + strconv.Itoa(len(cells)) + " fields, the header " + strconv.Itoa(t.columns))
	}
	if t.err != nil {
		return
	}
	fields := make([]string, len(cells))
	for i, c := range cells {
		fields[i] = strings.ToValidUTF8(c.s, "\uFFFD")
	}
	t.err = t.w.Write(fields)
}

// Close writes what is buffered and tells the first error.
func (t *Table) Close() error {
	t.w.Flush()
	if t.err != nil {
		return t.err
	}
	return t.w.Error()
}
