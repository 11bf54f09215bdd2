package exchange_test

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"

	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/measure"
)

const head = "date,who,what,how much,unit\n"

func open(t testing.TB, text string, opt exchange.ScrapLogOptions) *exchange.ScrapLog {
	t.Helper()
	l, err := exchange.OpenScrapLog(strings.NewReader(text), opt)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func readAll(t testing.TB, text string, opt exchange.ScrapLogOptions) ([]exchange.ScrapRow, []exchange.RowFault) {
	t.Helper()
	rows, faults, err := open(t, text, opt).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows, faults
}

func testdata(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "testdata", "import", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestTwoSeasonsOfAScrapLogComeInWhole(t *testing.T) {
	t.Parallel()
	rows, faults := readAll(t, testdata(t, "scraplog.csv"), exchange.ScrapLogOptions{})
	if len(faults) != 0 || len(rows) != 121 {
		t.Fatalf("%d rows, faults %+v", len(rows), faults)
	}
	sums, counts := map[string]measure.Grams{}, map[string]int{}
	var spring, summer measure.Grams
	keys := map[string]bool{}
	for i, r := range rows {
		sums[r.Unit] += r.Mass
		counts[r.Unit]++
		if r.Day.Before(measure.MustDay("2026-06-01")) {
			spring += r.Mass
		} else {
			summer += r.Mass
		}
		if r.Line != i+2 || keys[r.Key] || (r.Method == farm.ByScale) != (r.Volume == 0) || r.Container != (r.Unit == exchange.BucketUnit) {
			t.Errorf("row %+v", r)
		}
		keys[r.Key] = true
	}
	// Worked out apart from this program in exact fractions: NIST Handbook 44,
	// Appendix C for pound, ounce and gallon; US EPA (2016) for 3.8 lb per gallon.
	want := map[string]struct {
		n int
		g measure.Grams
	}{"kg": {53, 281_800}, "g": {6, 2281}, "lb": {21, 91_035}, "oz": {5, 2326}, "L": {5, 26_136}, "gal_us": {4, 13_099}, "bucket": {27, 396_440}}
	for u, w := range want {
		if counts[u] != w.n || sums[u] != w.g {
			t.Errorf("%s: %d rows, %d g; want %d, %d", u, counts[u], sums[u], w.n, w.g)
		}
	}
	if spring != 410_352 || summer != 402_765 {
		t.Errorf("spring %d g, summer %d g", spring, summer)
	}
}

func TestEveryFaultOfAFileIsFoundAndPlaced(t *testing.T) {
	t.Parallel()
	l := open(t, testdata(t, "scraplog_faulty.csv"), exchange.ScrapLogOptions{NotAfter: measure.MustDay("2026-12-31")})
	rows, faults, err := l.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var good, got []string
	for _, r := range rows {
		good = append(good, fmt.Sprintf("%d %s %s", r.Line, r.Value, r.Unit))
	}
	for _, f := range faults {
		got = append(got, fmt.Sprintf("%d %s %s %q", f.Line, f.Column, f.Code, f.Value))
		if f.Message == "" {
			t.Errorf("no message: %+v", f)
		}
	}
	if want := "2 2.4 kg|18 1.5 bucket|20 250 g"; strings.Join(good, "|") != want {
		t.Errorf("good rows %s\nwant %s", strings.Join(good, "|"), want)
	}
	want := []string{
		`3 Date row.date "03/04/2026"`, `4 Date row.date "2026-02-30"`, `5 Date row.date "2027-01-05"`,
		`6 Who row.text ""`, `7 What row.text ""`, `8 How much row.quantity "0"`, `9 How much row.quantity "-3"`,
		`10 How much row.quantity "3.5"`, `11 How much row.quantity "a handful"`, `12 Unit row.unit "stone"`,
		`13 Unit row.unit ""`, `14 How much row.quantity "9000"`, `15  row.fields "2026-03-13;Maud P.;melon rind;2"`,
		`16  row.quotes ""`, `19 Date row.date "16.3.2026"`, `19 Who row.text ""`, `19 How much row.quantity "x"`, `19 Unit row.unit "sacks"`,
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("faults:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if l.Separator() != ';' || strings.Join(l.Ignored(), ",") != "Note" {
		t.Errorf("separator %q, ignored %v", l.Separator(), l.Ignored())
	}
}

func TestABucketWeighsItsVolumeTimesItsDensity(t *testing.T) {
	t.Parallel()
	// US EPA, Volume-to-Weight Conversion Factors (2016): 3.8 lb per gallon, so
	// 19 lb or 8.618 kg in five gallons; NIST Handbook 44 for the units.
	tests := []struct {
		row    string
		opt    exchange.ScrapLogOptions
		mass   measure.Grams
		volume measure.Millilitres
	}{
		{"1,bucket", exchange.ScrapLogOptions{}, 8618, 18_927},
		{"0.7,Buckets", exchange.ScrapLogOptions{}, 6033, 13_249}, // 13.3 lb
		{"2,buckets", exchange.ScrapLogOptions{Bucket: measure.Quantity{Value: "20", Unit: measure.Litre}, Density: 500}, 20_000, 40_000},
		{"3.5,gal", exchange.ScrapLogOptions{}, 6033, 13_249}, // 13.3 lb
		{"10,L", exchange.ScrapLogOptions{}, 4553, 10_000},    // 0.4553 kg per litre
		{"10,L", exchange.ScrapLogOptions{Density: 235}, 2350, 10_000},
	}
	for _, tt := range tests {
		rows, faults := readAll(t, head+"2026-03-03,A,b,"+tt.row, tt.opt)
		if len(rows) != 1 || rows[0].Mass != tt.mass || rows[0].Volume != tt.volume || rows[0].Method != farm.ByContainer || rows[0].Density == 0 {
			t.Errorf("%s: %+v, %v; want %d g, %d mL", tt.row, rows, faults, tt.mass, tt.volume)
		}
	}
}

func TestHeadingsAndSeparatorsOfOtherProgramsAreRead(t *testing.T) {
	t.Parallel()
	tests := map[string]string{
		"plain":                head + "2026-03-03,A,b,1.5,kg\n",
		"byte order mark":      "\uFEFF" + head + "2026-03-03,A,b,1.5,kg\n",
		"CRLF":                 strings.ReplaceAll(head, "\n", "\r\n") + "2026-03-03,A,b,1.5,kg\r\n",
		"semicolons":           "Date;Who;What;How much;Unit\n2026-03-03;A;b;1,5;kg\n",
		"tabs":                 "DAY\tDonor\tMaterial\tQTY\tUnits\n2026-03-03\tA\tb\t1.5\tkg\n",
		"other order":          "units,amount,scraps,from,drop-off date\nkg,1.5,b,A,2026-03-03\n",
		"quoted":               "\"date\",\"who\",\"what\",\"how much\",\"unit\"\n\"2026-03-03\",\"A\",\"b\",\"1.5\",\"kg\"\n",
		"commas in headings":   "date;who;what;how much;unit;note, if any\n2026-03-03;A;b;1,5;kg;x\n",
		"underscores":          "date_received,brought_by,what,how_much,unit\n2026-03-03,A,b,1.5,kg\n",
		"blank lines":          "\n \n" + head + "\n2026-03-03,A,b,1.5,kg\n,,,,\n\n",
		"no final line end":    head + "2026-03-03,A,b,1.5,kg",
		"blanks round a value": head + " 2026-03-03 , A , b , 01.50 , KG. \n",
	}
	for name, text := range tests {
		rows, faults := readAll(t, text, exchange.ScrapLogOptions{})
		if len(rows) != 1 || len(faults) != 0 {
			t.Errorf("%s: %d rows, %+v", name, len(rows), faults)
			continue
		}
		r := rows[0]
		if r.Day != measure.MustDay("2026-03-03") || r.Who != "A" || r.What != "b" || r.Value != "1.5" || r.Unit != "kg" || r.Mass != 1500 || r.Density != 0 {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

func TestDateFormsAreChosenNeverGuessed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		form       exchange.DateForm
		text, want string // empty: refused
	}{
		{exchange.DateISO, "2026-03-04", "2026-03-04"}, {exchange.DateISO, "03/04/2026", ""}, {"", "4.3.2026", ""},
		{exchange.DateDMY, "03/04/2026", "2026-04-03"}, {exchange.DateDMY, "3.4.2026", "2026-04-03"}, {exchange.DateDMY, "31-12-2026", "2026-12-31"},
		{exchange.DateMDY, "03/04/2026", "2026-03-04"}, {exchange.DateMDY, "12/31/2026", "2026-12-31"},
		{exchange.DateDMY, "12/31/2026", ""}, {exchange.DateDMY, "03/04/26", ""}, {exchange.DateDMY, "2026-04-03", ""},
		{exchange.DateDMY, "3/4.2026", ""}, {exchange.DateDMY, "+3/4/2026", ""}, {exchange.DateDMY, "//2026", ""}, {exchange.DateMDY, "2/30/2026", ""},
	}
	for _, tt := range tests {
		rows, faults := readAll(t, head+tt.text+",A,b,1,kg\n", exchange.ScrapLogOptions{Dates: tt.form})
		if tt.want == "" {
			if len(rows) != 0 || len(faults) != 1 || faults[0].Code != exchange.CodeRowDate {
				t.Errorf("%s as %q: %+v, %+v", tt.text, tt.form, rows, faults)
			}
		} else if len(rows) != 1 || rows[0].Day != measure.MustDay(tt.want) {
			t.Errorf("%s as %q: %+v, %+v; want %s", tt.text, tt.form, rows, faults, tt.want)
		}
	}
}

func TestDaysOutsideTheOpenBooksAreRefused(t *testing.T) {
	t.Parallel()
	opt := exchange.ScrapLogOptions{NotBefore: measure.MustDay("2026-03-01"), NotAfter: measure.MustDay("2026-03-31")}
	rows, faults := readAll(t, head+"2026-02-28,A,b,1,kg\n2026-03-01,A,b,1,kg\n2026-03-31,A,b,1,kg\n2026-04-01,A,b,1,kg\n", opt)
	if len(rows) != 2 || len(faults) != 2 || faults[0].Line != 2 || faults[1].Line != 5 {
		t.Errorf("%+v, %+v", rows, faults)
	}
}

func TestDecimalMarksAreNeverMixed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text string
		opt  exchange.ScrapLogOptions
		want measure.Grams // 0: refused
	}{
		{head + "2026-03-03,A,b,\"1,5\",kg", exchange.ScrapLogOptions{}, 0},
		{head + "2026-03-03,A,b,\"1,5\",kg", exchange.ScrapLogOptions{Decimal: exchange.CommaMark}, 1500},
		{"date;who;what;how much;unit\n2026-03-03;A;b;1.250;kg", exchange.ScrapLogOptions{}, 0}, // 1,250 or 1.25?
		{"date;who;what;how much;unit\n2026-03-03;A;b;1.25;kg", exchange.ScrapLogOptions{Decimal: exchange.PointMark}, 1250},
		{head + "2026-03-03,A,b,\"1,250.5\",kg", exchange.ScrapLogOptions{}, 0},
		{head + "2026-03-03,A,b,½,kg", exchange.ScrapLogOptions{}, 0},
	}
	for _, tt := range tests {
		rows, faults := readAll(t, tt.text, tt.opt)
		if tt.want == 0 && (len(faults) != 1 || faults[0].Code != exchange.CodeRowQuantity) {
			t.Errorf("%q: %+v, %+v; want a fault", tt.text, rows, faults)
		}
		if tt.want != 0 && (len(rows) != 1 || rows[0].Mass != tt.want) {
			t.Errorf("%q: %+v, %+v; want %d g", tt.text, rows, faults, tt.want)
		}
	}
}

func TestMassesLieBetweenAGramAndTheLimit(t *testing.T) {
	t.Parallel()
	for q, ok := range map[string]bool{"1,g": true, "0.4,g": false, "0,kg": false, "2000,kg": true, "2000.001,kg": false, "0.0001,L": false,
		"1234567890123456789,g": false, "999999999999999999,gal": false} {
		rows, faults := readAll(t, head+"2026-03-03,A,b,"+q, exchange.ScrapLogOptions{})
		if ok != (len(rows) == 1) || ok != (len(faults) == 0) {
			t.Errorf("%s: %+v, %+v", q, rows, faults)
		}
	}
}

func TestFilesThatAreNoScrapLogAreRefusedAsAWhole(t *testing.T) {
	t.Parallel()
	long := head + strings.Repeat("2026-03-03,A,b,1,kg\n", 100)
	tests := []struct {
		name, text string
		opt        exchange.ScrapLogOptions
		want       farm.Code
	}{
		{"empty", "", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"blank", "\n\n \n", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"a column missing", "date,who,what,how much\n", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"a column twice", "date,day,who,what,how much,unit\n", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"no header", "2026-03-03,A,b,1,kg\n", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"open quotes", "\"date,who,what,how much,unit\n", exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"another separator than said", head, exchange.ScrapLogOptions{Separator: ';'}, exchange.CodeImportHeader},
		{"one endless line", strings.Repeat("x", 70<<10), exchange.ScrapLogOptions{}, exchange.CodeImportHeader},
		{"UTF-16", "\xFF\xFEd\x00a\x00", exchange.ScrapLogOptions{}, exchange.CodeImportEncoding},
		{"Latin-1", "date,who,what,how much,unit,gr\xFCn\n", exchange.ScrapLogOptions{}, exchange.CodeImportEncoding},
		{"too many bytes", long, exchange.ScrapLogOptions{MaxBytes: 200}, exchange.CodeImportTooLarge},
		{"too many rows", long, exchange.ScrapLogOptions{MaxRows: 99}, exchange.CodeImportTooLong},
		{"an unknown date form", head, exchange.ScrapLogOptions{Dates: "YY"}, exchange.CodeImportOptions},
		{"a bucket of mass", head, exchange.ScrapLogOptions{Bucket: measure.Quantity{Value: "5", Unit: measure.Pound}}, exchange.CodeImportOptions},
		{"a density of lead", head, exchange.ScrapLogOptions{Density: 11_340}, exchange.CodeImportOptions},
		{"a strange separator", head, exchange.ScrapLogOptions{Separator: '|'}, exchange.CodeImportOptions},
		{"a strange decimal mark", head, exchange.ScrapLogOptions{Decimal: "'"}, exchange.CodeImportOptions},
		{"limits below zero", head, exchange.ScrapLogOptions{MaxRows: -1}, exchange.CodeImportOptions},
	}
	for _, tt := range tests {
		l, err := exchange.OpenScrapLog(strings.NewReader(tt.text), tt.opt)
		if err == nil {
			_, _, err = l.ReadAll()
		}
		if farm.CodeOf(err) != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
	// As many as allowed is allowed.
	if rows, _ := readAll(t, long, exchange.ScrapLogOptions{MaxRows: 100, MaxBytes: int64(len(long))}); len(rows) != 100 {
		t.Errorf("%d rows", len(rows))
	}
}

func TestABrokenReaderIsNotTheEndOfTheFile(t *testing.T) {
	t.Parallel()
	broken := errors.New("line dropped")
	r := io.MultiReader(strings.NewReader(head+"2026-03-03,A,b,1,kg\n"), iotest.ErrReader(broken))
	l, err := exchange.OpenScrapLog(r, exchange.ScrapLogOptions{})
	if err == nil {
		_, _, err = l.ReadAll()
	}
	if !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

func TestTextThatWouldHarmIsCleanedOrRefused(t *testing.T) {
	t.Parallel()
	rows, faults := readAll(t, head+"2026-03-03,'=Plot,\"two\nlines\",1,kg\n2026-03-03,A\x00,b,1,kg\n2026-03-03,A\xFF,b,1,kg\n2026-03-03,"+
		strings.Repeat("ä", 201)+",b,1,kg\n", exchange.ScrapLogOptions{})
	if len(rows) != 1 || rows[0].Who != "=Plot" || rows[0].What != "two\nlines" {
		t.Errorf("rows %+v", rows)
	}
	if len(faults) != 3 {
		t.Fatalf("faults %+v", faults)
	}
	for _, f := range faults {
		if f.Code != exchange.CodeRowText || len([]rune(f.Value)) > 80 {
			t.Errorf("fault %+v", f)
		}
	}
	if faults[0].Line != 4 {
		t.Errorf("lines after a field of two lines: %+v", faults[0])
	}
}

func TestRowKeysStayWhenAFileGrows(t *testing.T) {
	t.Parallel()
	old, _ := readAll(t, head+"2026-03-03,A,b,1.50,kg\n2026-03-03,A,b,1.5,kg\n2026-03-04,C,d,2,buckets\n", exchange.ScrapLogOptions{})
	grown, _ := readAll(t, "unit;how much;what;who;date\nkg;9;z;Z;2026-02-01\nKG;1,5; B ;a;2026-03-03\nkilo;1,5;b;A;2026-03-03\nbucket;2;d;C;2026-03-04\nkg;1,5;b;A;2026-03-03\n",
		exchange.ScrapLogOptions{Bucket: measure.Quantity{Value: "10", Unit: measure.Litre}})
	if len(old) != 3 || len(grown) != 5 {
		t.Fatalf("%d and %d rows", len(old), len(grown))
	}
	if old[0].Key == old[1].Key {
		t.Error("two equal rows are two visits")
	}
	for i := range old {
		if grown[i+1].Key != old[i].Key {
			t.Errorf("row %d changed its key", i)
		}
	}
	if last := grown[4].Key; last == old[0].Key || last == old[1].Key {
		t.Error("a third visit took the key of another")
	}
}

func TestGoodRowsComeBackAsTheyWereWritten(t *testing.T) {
	t.Parallel()
	text := rapid.StringMatching(`[A-Za-zäöü0-9=+@"',;-][A-Za-zäöü0-9 "',;.]{0,20}[a-z0-9]`)
	rapid.Check(t, func(t *rapid.T) {
		var b strings.Builder
		table := exchange.NewTable(&b, "date", "who", "what", "how much", "unit")
		n := rapid.IntRange(1, 10).Draw(t, "rows")
		type line struct{ day, who, what, value string }
		var want []line
		for range n {
			w := line{measure.MustDay("2026-01-01").Add(rapid.IntRange(0, 364).Draw(t, "day")).String(),
				text.Draw(t, "who"), text.Draw(t, "what"), rapid.StringMatching(`[1-9][0-9]{0,2}(\.[0-9]?[1-9])?`).Draw(t, "value")}
			table.Row(exchange.Text(w.day), exchange.Text(w.who), exchange.Text(w.what), exchange.Text(w.value), exchange.Text("kg"))
			want = append(want, w)
		}
		if err := table.Close(); err != nil {
			t.Fatal(err)
		}
		l, err := exchange.OpenScrapLog(iotest.OneByteReader(strings.NewReader(b.String())), exchange.ScrapLogOptions{})
		if err != nil {
			t.Fatal(err)
		}
		rows, faults, err := l.ReadAll()
		if err != nil || len(faults) != 0 || len(rows) != n {
			t.Fatalf("%d rows, %+v, %v of\n%s", len(rows), faults, err, b.String())
		}
		for i, r := range rows {
			// An apostrophe before a formula sign is ours, not the writer's.
			if r.Day.String() != want[i].day || r.Who != exchange.Plain(want[i].who) || r.What != exchange.Plain(want[i].what) || r.Value != want[i].value {
				t.Fatalf("%+v was written as %+v", r, want[i])
			}
		}
	})
}

func FuzzScrapLog(f *testing.F) {
	f.Add(testdata(f, "scraplog_faulty.csv"), "")
	f.Add(head+"2026-03-03,A,b,1.5,kg\n", "")
	f.Add("date;who;what;how much;unit\n3.4.2026;A;b;1,5;buckets\n", string(exchange.DateDMY))
	f.Add("\uFEFF"+head+"\"2026-03-03\",\"A\n,b,1,kg", string(exchange.DateMDY))
	f.Fuzz(func(t *testing.T, text, form string) {
		opt := exchange.ScrapLogOptions{Dates: exchange.DateForm(form), MaxRows: 1000, MaxBytes: 1 << 16}
		l, err := exchange.OpenScrapLog(strings.NewReader(text), opt)
		if err != nil {
			if farm.CodeOf(err) == "" {
				t.Fatalf("an error without a code: %v", err)
			}
			return
		}
		lines := strings.Count(text, "\n") + 1
		for {
			row, faults, err := l.Next()
			if err != nil {
				if !errors.Is(err, io.EOF) && farm.CodeOf(err) == "" {
					t.Fatalf("an error without a code: %v", err)
				}
				return
			}
			if (row == nil) == (len(faults) == 0) {
				t.Fatalf("neither row nor fault, or both: %+v, %+v", row, faults)
			}
			for _, x := range faults {
				if x.Line < 2 || x.Line > lines || x.Code == "" || x.Message == "" {
					t.Fatalf("fault %+v", x)
				}
			}
			if row != nil && (row.Mass < 1 || row.Mass > farm.MaxLot || row.Day.IsZero() || row.Who == "" || row.What == "" || len(row.Key) != 64) {
				t.Fatalf("row %+v", row)
			}
		}
	})
}

func BenchmarkReadATenThousandRowLog(b *testing.B) {
	text := head + strings.Repeat("2026-03-03,Plot 14,vegetable trimmings,2.5,lb\n", 10_000)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		l := open(b, text, exchange.ScrapLogOptions{})
		if rows, _, err := l.ReadAll(); err != nil || len(rows) != 10_000 {
			b.Fatal(len(rows), err)
		}
	}
}
