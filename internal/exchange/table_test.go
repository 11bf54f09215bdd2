package exchange_test

import (
	"encoding/csv"
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/season"
)

func TestTablesFollowTheCSVStandard(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	table := exchange.NewTable(&b, "name", "mass_g", "day")
	table.Row(exchange.Text(`a"b,`), exchange.Grams(-5), exchange.DayCell(measure.MustDay("2026-03-01")))
	table.Row(exchange.Text("two\nlines"), exchange.Int(0), exchange.DayCell(measure.Day{}))
	if err := table.Close(); err != nil {
		t.Fatal(err)
	}
	// RFC 4180, section 2: CRLF (1), a header (3), quotes (6) and doubled quotes (7).
	want := "name,mass_g,day\r\n\"a\"\"b,\",-5,2026-03-01\r\n\"two\r\nlines\",0,\r\n"
	if b.String() != want {
		t.Errorf("got %q\nwant %q", b.String(), want)
	}
}

func TestFormulasAreMadeHarmless(t *testing.T) {
	t.Parallel()
	// OWASP, "CSV Injection": cells that begin with = + - @ tab or CR (from memory).
	for in, want := range map[string]string{
		`=cmd|' /C calc'!A0`: `'=cmd|' /C calc'!A0`, "+1": "'+1", "-2": "'-2", "@SUM(A1)": "'@SUM(A1)", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx",
		"＝1": "'＝1", "plain": "plain", "a=b": "a=b", "": "", "'quoted'": "'quoted'",
	} {
		if got := exchange.Neutral(in); got != want {
			t.Errorf("Neutral(%q) = %q, want %q", in, got, want)
		}
		if got := exchange.Plain(exchange.Neutral(in)); got != in {
			t.Errorf("%q came back as %q", in, got)
		}
	}
}

type failing struct{ after int }

var errFull = errors.New("disk full")

func (f *failing) Write(p []byte) (int, error) {
	if f.after -= len(p); f.after < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestAFailingWriterIsReported(t *testing.T) {
	t.Parallel()
	table := exchange.NewTable(&failing{after: 3}, "name")
	for range 1000 {
		table.Row(exchange.Text(strings.Repeat("x", 20)))
	}
	if err := table.Close(); !errors.Is(err, errFull) {
		t.Errorf("Close gave %v", err)
	}
}

func TestTablesComeBackThroughACSVReader(t *testing.T) {
	t.Parallel()
	// Carriage returns aside: CSV readers take CRLF in a field for LF.
	cell := rapid.StringMatching(`[ -~äö€\n]{0,12}`)
	rapid.Check(t, func(t *rapid.T) {
		columns := rapid.IntRange(2, 5).Draw(t, "columns")
		var b strings.Builder
		names := rapid.SliceOfN(rapid.StringMatching(`[a-z]{1,6}`), columns, columns).Draw(t, "names")
		table := exchange.NewTable(&b, names...)
		want := [][]string{names}
		for range rapid.IntRange(0, 6).Draw(t, "rows") {
			row := rapid.SliceOfN(cell, columns, columns).Draw(t, "row")
			cells := make([]exchange.Cell, columns)
			for i, s := range row {
				cells[i] = exchange.Text(s)
				row[i] = exchange.Neutral(s)
			}
			table.Row(cells...)
			want = append(want, row)
		}
		if err := table.Close(); err != nil {
			t.Fatal(err)
		}
		got, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
		if err != nil || len(got) != len(want) {
			t.Fatalf("%d records of %d, %v", len(got), len(want), err)
		}
		for i := range want {
			if strings.Join(got[i], "\x00") != strings.Join(want[i], "\x00") {
				t.Fatalf("record %d: %q, want %q", i, got[i], want[i])
			}
		}
	})
}

func report(t *testing.T) season.Report {
	t.Helper()
	cal, err := season.NewCalendar(season.CalendarSettings{Kind: season.North, Zone: "Europe/Lisbon"})
	if err != nil {
		t.Fatal(err)
	}
	s, err := cal.ByKey("2026-spring")
	if err != nil {
		t.Fatal(err)
	}
	day := measure.MustDay("2026-04-02")
	move := func(f season.Flow, mass measure.Grams, bin string) season.Movement {
		return season.Movement{Day: day, Flow: f, Method: farm.ByScale, Site: "shed", Material: "apples", Bin: bin, Mass: mass, Records: 1}
	}
	r, err := season.Build(season.Input{Garden: "=Orchard Row", PreparedBy: "R. Alder", Revision: 2, Calendar: cal, Season: s,
		PreparedAt: time.Date(2026, 6, 2, 12, 0, 0, 0, time.UTC),
		Movements:  []season.Movement{move(season.Received, 50_000, ""), move(season.Fed, 45_000, "b1"), move(season.BinToLandfill, 60_000, "b1")},
		StockEnd:   []season.Stock{{Material: "apples", Mass: 5000}},
		Watch:      season.Watch{WeekMax: 40_000, Note: "county rule of 2025"},
		Emissions:  &season.EmissionChoice{Set: season.WARM16, Credit: season.CompostCredit},
		Visit: &season.Visit{Rejections: []season.Rejection{{Reason: "glass", Loads: 2, Mass: 900}}, AcceptanceLists: []string{"2026-02-01"},
			Complaints: []season.Concern{{Day: day, Nature: "smell", Action: "covered"}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestAReportInCSVHoldsItsFigures(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	if err := exchange.WriteReportCSV(&b, report(t)); err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]string{}
	for _, r := range records {
		rows[strings.Join(r[:2], "/")+"/"+r[3]] = r[4] + " " + r[5]
	}
	for key, want := range map[string]string{
		"section/item/figure": "value unit", "header//garden": "'=Orchard Row ", "header//timeframe": "2026-03-01/2026-06-01 ",
		"header//revision": "2 ", "balance//received": "50000 g", "balance//on_hand_end": "5000 g",
		// More went to a landfill than came in: a negative number stays a number.
		"balance//diverted": "-10000 g", "by_month/2026-04/received": "50000 g", "by_material/apples/fed": "45000 g",
		"by_bin/b1/to_landfill": "60000 g", "methods/weighed/share": "1000 per mille", "weeks/2026-W14/received": "50000 g",
		"thresholds/week_max/standing": "over ", "thresholds//note": "county rule of 2025 ",
		"emissions//factors": "us-epa-warm 16 ", "emissions/food_waste_mix/landfilled": "501460 g CO2e per short ton",
		"emissions/food_waste_mix/composted": "-152130 g CO2e per short ton", "rejections/glass/loads": "2 ",
		"complaints/2026-04-02/action": "covered ", "complaints/2026-04-02/closed": " ", "interval/received/low90": "49500 g",
		"visit//acceptance_list": "2026-02-01 ", "header//prepared_by": "R. Alder ",
	} {
		if got, ok := rows[key]; !ok || got != want {
			t.Errorf("%s = %q (%v), want %q", key, got, ok, want)
		}
	}
}

func TestAReportThatCannotBeWrittenFails(t *testing.T) {
	t.Parallel()
	if err := exchange.WriteReportCSV(&failing{}, report(t)); !errors.Is(err, errFull) {
		t.Errorf("got %v", err)
	}
}
