package exchange

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf8"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Codes of refusals of a scrap log. The first five end the reading; the rest
// are about one row, and the next row is read.
const (
	CodeImportHeader   farm.Code = "import.header"
	CodeImportEncoding farm.Code = "import.encoding"
	CodeImportTooLarge farm.Code = "import.too_large"
	CodeImportTooLong  farm.Code = "import.too_long"
	CodeImportOptions  farm.Code = "import.options"

	CodeRowQuotes   farm.Code = "row.quotes"
	CodeRowFields   farm.Code = "row.fields"
	CodeRowText     farm.Code = "row.text"
	CodeRowDate     farm.Code = "row.date"
	CodeRowQuantity farm.Code = "row.quantity"
	CodeRowUnit     farm.Code = "row.unit"
)

// ScrapLogOptions says how to read a scrap log. The zero value reads
// YYYY-MM-DD dates and 5-gallon buckets of food scraps at 3.8 lb per gallon.
type ScrapLogOptions struct {
	Dates     DateForm
	NotBefore measure.Day // zero: no earliest day
	NotAfter  measure.Day // zero: no latest day; pass the garden's today

	// Separator is ',', ';' or tab; zero finds out from the header.
	Separator rune
	// Decimal is the decimal mark; empty takes a comma when the separator is
	// a semicolon, else a point. The other mark is refused, never guessed.
	Decimal DecimalMark

	Bucket  measure.Quantity // volume of one bucket; empty: 5 US gallons
	Density measure.Density  // of buckets and volumes; 0: DefaultDensity
	MaxMass measure.Grams    // of one row; 0: farm.MaxLot

	MaxBytes int64 // of the file; 0: 10 MiB
	MaxRows  int   // 0: 50,000
}

// DecimalMark is what stands before the tenths.
type DecimalMark string

// The two marks.
const (
	PointMark DecimalMark = "."
	CommaMark DecimalMark = ","
)

// DefaultDensity is 3.8 lb per US gallon: food scraps, US EPA, Volume-to-Weight
// Conversion Factors (2016). The same table's 396 lb per cubic yard is about
// half of it, so a garden does well to weigh its own buckets.
func DefaultDensity() measure.Density {
	d, err := measure.DensityOf(
		measure.Quantity{Value: "3.8", Unit: measure.Pound}, measure.Quantity{Value: "1", Unit: measure.GallonUS})
	if err != nil {
		panic(err) // constants
	}
	return d
}

// RowFault is what is wrong with one field of one row, so that a person can
// find it in the file and put it right.
type RowFault struct {
	Line    int       `json:"line"` // of the file, the header being line 1
	Column  string    `json:"column"`
	Code    farm.Code `json:"code"`
	Message string    `json:"message"`
	Value   string    `json:"value"` // as found, cut at 80 characters
}

// ScrapLog reads a CSV of scraps received, row by row. Make one with
// OpenScrapLog; then call Next until io.EOF.
type ScrapLog struct {
	opt     ScrapLogOptions
	r       *csv.Reader
	columns [fields]int // place of each column in the file
	names   []string    // the header as found
	ignored []string
	rows    int
	seen    map[rowHash]int
	bucket  measure.Quantity
}

// The columns of a scrap log.
const (
	colDate = iota
	colWho
	colWhat
	colHowMuch
	colUnit
	fields
)

var columnNames = [fields]string{"date", "who", "what", "how much", "unit"}

// columnAliases are other headings for the same, in lower case with single
// spaces.
var columnAliases = [fields][]string{
	colDate:    {"date", "day", "on", "dropped off", "drop-off date", "drop off date", "date received", "received on"},
	colWho:     {"who", "from", "name", "donor", "giver", "brought by", "household", "plot", "member", "contributor"},
	colWhat:    {"what", "material", "scraps", "item", "type", "kind", "contents"},
	colHowMuch: {"how much", "amount", "quantity", "qty", "number", "weight", "mass", "volume"},
	colUnit:    {"unit", "units", "measure", "in"},
}

const (
	defaultMaxBytes = 10 << 20
	defaultMaxRows  = 50_000
	maxHeader       = 64 << 10
)

// OpenScrapLog reads the header. It refuses with import.options,
// import.encoding (not UTF-8), import.header (a column is missing or there
// twice) or import.too_large. Other errors are those of the reader.
func OpenScrapLog(r io.Reader, opt ScrapLogOptions) (*ScrapLog, error) {
	opt, err := opt.complete()
	if err != nil {
		return nil, err
	}
	in := bufio.NewReaderSize(&limited{r: r, left: opt.MaxBytes}, maxHeader)
	if bom, _ := in.Peek(3); bytes.HasPrefix(bom, []byte("\xEF\xBB\xBF")) {
		_, _ = in.Discard(3)
	} else if bytes.HasPrefix(bom, []byte("\xFF\xFE")) || bytes.HasPrefix(bom, []byte("\xFE\xFF")) {
		return nil, farm.Refuse(CodeImportEncoding, "", "file: must be UTF-8; this is UTF-16. Save it as CSV UTF-8")
	}
	top, header, err := headerLine(in)
	if err != nil {
		return nil, err
	}
	l := &ScrapLog{opt: opt, seen: map[rowHash]int{}, bucket: opt.Bucket}
	sep, err := l.readHeader(header)
	if err != nil {
		return nil, err
	}
	if l.opt.Decimal == "" {
		l.opt.Decimal = PointMark
		if sep == ';' {
			l.opt.Decimal = CommaMark
		}
	}
	l.r = csv.NewReader(io.MultiReader(bytes.NewReader(top), in))
	l.r.Comma = sep
	l.r.FieldsPerRecord = -1
	l.r.ReuseRecord = true
	for {
		// Lines of blanks may stand before the header.
		record, err := l.r.Read()
		if err != nil {
			return nil, farm.Refuse(CodeImportHeader, "", "header: the first line is not a line of CSV")
		}
		if !blank(record) {
			return l, nil
		}
	}
}

func (o ScrapLogOptions) complete() (ScrapLogOptions, error) {
	var faults farm.Faults
	if o.Bucket == (measure.Quantity{}) {
		o.Bucket = measure.Quantity{Value: "5", Unit: measure.GallonUS}
	}
	if ml, err := o.Bucket.Millilitres(); err != nil || ml < 1 {
		faults.Add(CodeImportOptions, "/bucket", "bucket: must be a volume such as 20 L; got %q %q", o.Bucket.Value, o.Bucket.Unit)
	}
	if o.Density == 0 {
		o.Density = DefaultDensity()
	}
	if !(o.Density >= 10 && o.Density <= 2000) {
		faults.Add(CodeImportOptions, "/density", "density: must be between 10 and 2000 g/L; got %g", float64(o.Density))
	}
	if !o.Dates.valid() {
		faults.Add(CodeImportOptions, "/dates", "dates: must be %s, %s or %s; got %q", DateISO, DateDMY, DateMDY, o.Dates)
	}
	if o.Separator != 0 && !strings.ContainsRune(",;\t", o.Separator) {
		faults.Add(CodeImportOptions, "/separator", "separator: must be a comma, a semicolon or a tab; got %q", o.Separator)
	}
	if o.Decimal != "" && o.Decimal != PointMark && o.Decimal != CommaMark {
		faults.Add(CodeImportOptions, "/decimal", "decimal mark: must be a point or a comma; got %q", o.Decimal)
	}
	o.MaxMass = cmp.Or(o.MaxMass, farm.MaxLot)
	o.MaxBytes = cmp.Or(o.MaxBytes, defaultMaxBytes)
	o.MaxRows = cmp.Or(o.MaxRows, defaultMaxRows)
	if o.MaxMass < 1 || o.MaxBytes < 1 || o.MaxRows < 1 {
		faults.Add(CodeImportOptions, "", "limits: must be above zero")
	}
	return o, faults.Err()
}

// headerLine reads the first line that is not blank. It also gives everything
// read so far, so that lines are numbered as in the file.
func headerLine(in *bufio.Reader) (top []byte, header string, err error) {
	for {
		line, err := in.ReadSlice('\n')
		top = append(top, line...)
		if errors.Is(err, bufio.ErrBufferFull) || len(top) > maxHeader {
			return nil, "", farm.Refuse(CodeImportHeader, "", "header: the first line is over 64 KiB; lines must end with LF or CRLF")
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, "", err
		}
		if len(bytes.TrimSpace(line)) > 0 {
			if !utf8.Valid(line) {
				return nil, "", farm.Refuse(CodeImportEncoding, "", "file: must be UTF-8. Save it as CSV UTF-8")
			}
			return top, string(line), nil
		}
		if err != nil {
			return nil, "", farm.Refuse(CodeImportHeader, "", "header: the file is empty")
		}
	}
}

// readHeader finds the separator under which the header names every column.
func (l *ScrapLog) readHeader(line string) (rune, error) {
	separators := []rune{',', ';', '\t'}
	if l.opt.Separator != 0 {
		separators = []rune{l.opt.Separator}
	}
	var best error
	most := -1
	for _, sep := range separators {
		r := csv.NewReader(strings.NewReader(line))
		r.Comma = sep
		names, err := r.Read()
		if err != nil {
			best = cmp.Or(best, error(farm.Refuse(CodeImportHeader, "", "header: the quotes do not close on the first line")))
			continue
		}
		found, err := l.matchColumns(names)
		if err == nil {
			return sep, nil
		}
		if found > most {
			most, best = found, err
		}
	}
	return 0, best
}

// matchColumns tells how many columns it found, and what is amiss.
func (l *ScrapLog) matchColumns(names []string) (found int, err error) {
	var faults farm.Faults
	l.columns = [fields]int{-1, -1, -1, -1, -1}
	l.ignored = nil
	for i, name := range names {
		c := columnOf(name)
		switch {
		case c < 0:
			l.ignored = append(l.ignored, name)
		case l.columns[c] >= 0:
			faults.Add(CodeImportHeader, "", "header: %q and %q both stand for %q; keep one", names[l.columns[c]], name, columnNames[c])
		default:
			l.columns[c] = i
			found++
		}
	}
	for c, at := range l.columns {
		if at < 0 {
			faults.Add(CodeImportHeader, "", "header: no column %q; it may also be called %s", columnNames[c], strings.Join(columnAliases[c][1:4], ", "))
		}
	}
	l.names = names
	return found, faults.Err()
}

func columnOf(name string) int {
	word := strings.Join(strings.Fields(strings.ToLower(strings.ReplaceAll(Plain(name), "_", " "))), " ")
	for c, aliases := range columnAliases {
		for _, a := range aliases {
			if word == a {
				return c
			}
		}
	}
	return -1
}

// Ignored lists the headings of columns that are not read.
func (l *ScrapLog) Ignored() []string { return l.ignored }

// Separator is the one the file uses.
func (l *ScrapLog) Separator() rune { return l.r.Comma }

// limited fails once more than the allowed bytes were read.
type limited struct {
	r    io.Reader
	left int64
}

func (l *limited) Read(p []byte) (int, error) {
	if int64(len(p)) > l.left+1 {
		p = p[:l.left+1]
	}
	n, err := l.r.Read(p)
	if l.left -= int64(n); l.left < 0 {
		return 0, farm.Refuse(CodeImportTooLarge, "", "file: is larger than allowed; split it by season")
	}
	return n, err
}
