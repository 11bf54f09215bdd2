package season_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/season"
)

func move(day string, flow season.Flow, method farm.MassMethod, material string, mass measure.Grams) season.Movement {
	return season.Movement{Day: measure.MustDay(day), Flow: flow, Method: method, Material: material, Mass: mass, Records: 1,
		Site: "shed", DonorClass: "member"}
}

// spring is a small season worked by hand: 100 kg apples weighed, 40 kg leaves
// counted in buckets, 10 kg of them rejected, 2 kg of apples to landfill.
func spring(t testing.TB) season.Input {
	t.Helper()
	cal := calendar(t, season.North, "America/New_York")
	s, err := cal.ByKey("2026-spring")
	if err != nil {
		t.Fatal(err)
	}
	fed := move("2026-04-10", season.Fed, farm.ByScale, "apples", 90_000)
	fed.Bin = "b1"
	fedLeaves := move("2026-05-31", season.Fed, farm.ByContainer, "leaves", 30_000)
	fedLeaves.Bin = "b2"
	return season.Input{
		Garden: "Orchard Row", PreparedBy: "R. Alder", Revision: 1, Calendar: cal, Season: s,
		PreparedAt: time.Date(2026, 6, 2, 12, 0, 0, 0, time.UTC),
		Movements: []season.Movement{
			move("2026-03-01", season.Received, farm.ByScale, "apples", 100_000),
			move("2026-05-31", season.Received, farm.ByContainer, "leaves", 40_000),
			move("2026-05-31", season.Rejected, farm.ByContainer, "leaves", 10_000),
			fed, fedLeaves,
			move("2026-04-11", season.SpoiledLandfill, farm.ByScale, "apples", 2000),
			move("2026-04-11", season.WaterLoss, farm.ByScale, "apples", 500),
		},
		StockStart: []season.Stock{{Material: "apples", Mass: 3000}},
		StockEnd:   []season.Stock{{Material: "apples", Mass: 10_500}},
		Groups:     map[string]farm.Group{"apples": farm.Fruit, "leaves": farm.Plain},
	}
}

func build(t testing.TB, in season.Input) season.Report {
	t.Helper()
	r, err := season.Build(in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestDivertedIsAcceptedLessWhatWentToLandfill(t *testing.T) {
	t.Parallel()
	r := build(t, spring(t))
	b := r.Balance
	if b.Received != 140_000 || b.Rejected != 10_000 || b.Accepted != 130_000 || b.Diverted != 128_000 {
		t.Errorf("balance %+v", b)
	}
	if b.In() != 133_000 || b.Out() != 133_000 {
		t.Errorf("in %d g, out %d g", b.In(), b.Out())
	}
	if r.Header.RejectsExcluded != 10_000 {
		t.Errorf("rejects %d", r.Header.RejectsExcluded)
	}
}

func TestWhatIsRejectedMayHaveComeTheSeasonBefore(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Movements = []season.Movement{move("2026-03-01", season.Rejected, farm.ByScale, "apples", 3000)}
	in.StockEnd = nil
	b := build(t, in).Balance
	if b.Accepted != -3000 || b.Diverted != -3000 || b.In() != 0 {
		t.Errorf("balance %+v", b)
	}
}

func TestFoodTakenOutOfABinToLandfillIsNotDiverted(t *testing.T) {
	t.Parallel()
	in := spring(t)
	out := move("2026-05-01", season.BinToLandfill, farm.ByEstimate, "apples", 4000)
	out.Bin = "b1"
	in.Movements = append(in.Movements, out)
	r := build(t, in) // still balances: it was fed before
	if r.Balance.Diverted != 124_000 || r.ByBin[0].ToLandfill != 4000 || r.ByBin[0].Fed != 90_000 {
		t.Errorf("diverted %d, bins %+v", r.Balance.Diverted, r.ByBin)
	}
}

func TestOverflowAndSpoilingElsewhereStillCountAsDiverted(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Movements = append(in.Movements,
		move("2026-05-01", season.Overflow, farm.ByScale, "apples", 1000),
		move("2026-05-01", season.SpoiledElsewhere, farm.ByScale, "apples", 500))
	in.StockEnd[0].Mass -= 1500
	if r := build(t, in); r.Balance.Diverted != 128_000 {
		t.Errorf("diverted %d g", r.Balance.Diverted)
	}
}

func TestAMissingGramIsNamed(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.StockEnd[0].Mass--
	_, err := season.Build(in)
	var im *season.Imbalance
	if !errors.As(err, &im) || im.Difference() != 1 || im.Material != "apples" || farm.CodeOf(err) != season.CodeReportUnbalanced {
		t.Fatalf("refused with %v", err)
	}
	if !strings.Contains(err.Error(), "of apples") || !strings.Contains(err.Error(), "difference of 1 g") {
		t.Errorf("the message hides the difference: %v", err)
	}
}

func TestMaterialsDoNotMakeUpForOneAnother(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.StockEnd = []season.Stock{{Material: "apples", Mass: 10_000}, {Material: "leaves", Mass: 500}}
	var im *season.Imbalance
	if _, err := season.Build(in); !errors.As(err, &im) || im.Difference() != 500 {
		t.Errorf("500 g of apples became leaves: %v", err)
	}
}

func TestErrorsOfOneMethodAddAndMethodsCombineAsIndependent(t *testing.T) {
	t.Parallel()
	// JCGM 100:2008 (GUM), 5.1.2 (root of the sum of squares) and 5.2.2, note 1
	// (fully correlated: plain sum). By hand: scale 1 % of 100 kg = 1 kg;
	// containers 40 % of 40 kg = 16 kg; sqrt(1 + 256) = 16.0312 kg.
	r := build(t, spring(t))
	if want := (season.Interval{Value: 140_000, Low: 123_968, High: 156_032}); r.Received != want {
		t.Errorf("received %+v, want %+v", r.Received, want)
	}
	// Accepted: containers 40 % of 30 kg = 12 kg; sqrt(1 + 144) = 12.0416 kg.
	if want := (season.Interval{Value: 130_000, Low: 117_958, High: 142_042}); r.Accepted != want {
		t.Errorf("accepted %+v, want %+v", r.Accepted, want)
	}
	// Diverted: scale 1 % of 98 kg; sqrt(0.9604 + 144) = 12.0400 kg, outward to the gram.
	if want := (season.Interval{Value: 128_000, Low: 115_960, High: 140_040}); r.Diverted != want {
		t.Errorf("diverted %+v, want %+v", r.Diverted, want)
	}
}

func TestARecordsOwnSpreadCountsAtNineInTen(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Movements = []season.Movement{move("2026-03-01", season.Received, farm.ByContainer, "leaves", 10_000)}
	in.Movements[0].RelSD = 100
	in.StockStart, in.StockEnd = nil, []season.Stock{{Material: "leaves", Mass: 10_000}}
	// JCGM 100:2008, table G.2: 1.645 standard deviations hold 90 %.
	if r := build(t, in); r.Received != (season.Interval{Value: 10_000, Low: 8355, High: 11_645}) {
		t.Errorf("received %+v", r.Received)
	}
	in.Movements[0].RelSD = 700
	if r := build(t, in); r.Received.Low != 0 || r.Received.High != 21_515 {
		t.Errorf("a mass fell below nothing: %+v", r.Received)
	}
}

func TestTheContainerDefaultDoesNotStretchToAnotherKindOfContainer(t *testing.T) {
	t.Parallel()
	// US EPA volume-to-weight factors: 396 lb/yd3 (1.96 lb/gal) and 3.8 lb/gal
	// (2016), 7.49 lb/gal (older). The mid figure ± 40 % does not reach either:
	// the default is for one kind of container, not for an unlabelled bucket.
	half := float64(season.DefaultUncertainty().Container) / 1000
	if low := 3.8 * (1 - half); low < 1.9606481481481481 || low > 3.8 {
		t.Errorf("low end %v lb/gal", low)
	}
	if high := 3.8 * (1 + half); high > 7.49 || high < 3.8 {
		t.Errorf("high end %v lb/gal", high)
	}
}

func TestTheMixOfMethodsIsStated(t *testing.T) {
	t.Parallel()
	m := build(t, spring(t)).Header.Methods
	if m.Measured != 140_000 || m.Estimated != 0 || m.Shares[0].PerMille != 714 || m.Shares[1].PerMille != 286 || m.Shares[2].PerMille != 0 {
		t.Errorf("mix %+v", m)
	}
}

func TestTheHeaderSaysWhatTheNumbersCover(t *testing.T) {
	t.Parallel()
	h := build(t, spring(t)).Header
	if h.Timeframe != "2026-03-01/2026-06-01" || h.Zone != "America/New_York" || h.Instants != "2026-03-01T05:00:00Z/2026-06-01T04:00:00Z" {
		t.Errorf("timeframe %s, %s, %s", h.Timeframe, h.Zone, h.Instants)
	}
	if h.Records != 7 || h.DaysWithoutRecords != 92-4 || !h.Closed || h.Destination != "compost/aerobic" {
		t.Errorf("records %d, days without %d, closed %v, %s", h.Records, h.DaysWithoutRecords, h.Closed, h.Destination)
	}
	if !strings.Contains(h.UncertaintyText, "40 %") || !strings.Contains(h.UncertaintyText, "independent") {
		t.Errorf("statement: %s", h.UncertaintyText)
	}
	in := spring(t)
	in.PreparedAt = time.Date(2026, 6, 1, 3, 59, 59, 0, time.UTC) // 23:59:59 on 31 May in New York
	if h := build(t, in).Header; h.Closed {
		t.Error("closed before the last local midnight")
	}
	in.PreparedAt = time.Date(2026, 6, 1, 4, 0, 0, 0, time.UTC)
	if h := build(t, in).Header; !h.Closed {
		t.Error("still open after the last local midnight")
	}
	in.PreparedAt = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	if h := build(t, in).Header; h.DaysWithoutRecords != 2 {
		t.Errorf("days to come are counted as without records: %d", h.DaysWithoutRecords)
	}
}

func TestEmissionsKeepWhatTheyWereMadeFrom(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Emissions = &season.EmissionChoice{Set: season.WARM16}
	e := build(t, in).Emissions
	// 128 kg at 0.55277 kg CO2e per kg landfilled (US EPA WARM version 16) = 70.8 kg.
	if e.Change != -71_000 || e.Credit != season.LandfillOnly || e.Lines[0].Composted != nil {
		t.Errorf("estimate %+v", e)
	}
	// 115.96 and 140.04 kg: 64.1 and 77.4 kg.
	if e.ChangeFrom != -77_000 || e.ChangeTo != -64_000 {
		t.Errorf("range %d to %d", e.ChangeFrom, e.ChangeTo)
	}
	if e.SetID != "us-epa-warm" || e.Version != "16" || e.Lines[0].Landfilled != 501_460 || len(e.Caveats) < 6 || e.Trust != farm.TrustMemory {
		t.Errorf("snapshot %+v", e)
	}
	in.Emissions.Credit = season.CompostCredit
	// 128 kg at 0.72047 = 92.2 kg.
	if e := build(t, in).Emissions; e.Change != -92_000 || *e.Lines[0].Composted != -152_130 {
		t.Errorf("with credit %+v", e)
	}
	in.Emissions.Credit, in.Emissions.ByGroup = "", true
	// Fruit and vegetables: 128 kg at 0.22863 × 1.10231 = 0.25202 = 32.3 kg.
	if e := build(t, in).Emissions; e.Change != -32_000 || len(e.Lines) != 1 || e.Lines[0].Row != season.FruitsVegetables {
		t.Errorf("by group %+v", e)
	}
	half := season.PerMille(500)
	in.Emissions.LandfillShare = &half
	if e := build(t, in).Emissions; e.Change != -16_000 || !strings.Contains(strings.Join(e.Caveats, " "), "50 %") {
		t.Errorf("half bound for landfill %+v", e)
	}
	in.Emissions.Set = season.Hub2026
	if _, err := season.Build(in); farm.CodeOf(err) != season.CodeFactorInventory {
		t.Errorf("inventory factors made a saving: %v", err)
	}
	tooMuch := season.PerMille(1001)
	in.Emissions.LandfillShare = &tooMuch
	if _, err := season.Build(in); farm.CodeOf(err) != season.CodeReportSettings {
		t.Errorf("more than all: %v", err)
	}
}

func TestReportsOfNonsenseAreRefused(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name  string
		spoil func(*season.Input)
		want  farm.Code
	}{
		{"a day outside", func(in *season.Input) { in.Movements[0].Day = in.Season.End }, season.CodeReportDay},
		{"an unknown flow", func(in *season.Input) { in.Movements[0].Flow = "evaporated" }, season.CodeReportFlow},
		{"an unknown method", func(in *season.Input) { in.Movements[0].Method = "guess" }, season.CodeReportFlow},
		{"no calendar", func(in *season.Input) { in.Calendar = nil }, season.CodeReportSettings},
		{"no revision", func(in *season.Input) { in.Revision = 0 }, season.CodeReportSettings},
		{"no time", func(in *season.Input) { in.PreparedAt = time.Time{} }, season.CodeReportSettings},
		{"wild uncertainty", func(in *season.Input) { in.Uncertainty = &season.Uncertainty{Weighed: 2001} }, season.CodeReportSettings},
		{"a threshold below zero", func(in *season.Input) { in.Watch.WeekMax = -1 }, season.CodeReportSettings},
		{"a warning above the limit", func(in *season.Input) { in.Watch.WarnPercent = 101 }, season.CodeReportSettings},
		{"less than nothing fed", func(in *season.Input) {
			in.Movements[4].Mass = -90_001
			in.StockEnd = append(in.StockEnd, season.Stock{Material: "leaves", Mass: 120_001})
		}, season.CodeReportNegative},
	}
	for _, tt := range tests {
		in := spring(t)
		tt.spoil(&in)
		if _, err := season.Build(in); farm.CodeOf(err) != tt.want {
			t.Errorf("%s: refused with %v, want %s", tt.name, err, tt.want)
		}
	}
}

func TestAReportsBytesAreCanonicalAndProveThemselves(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Garden = `Äpfel & "Birnen" <1>`
	in.Emissions = &season.EmissionChoice{Set: season.WARM16, Credit: season.CompostCredit}
	r := build(t, in)
	b, err := r.Canonical()
	if err != nil {
		t.Fatal(err)
	}
	// Keys in order, no white space, nothing escaped that need not be (RFC 8785, 3.2).
	if !bytes.HasPrefix(b, []byte(`{"accepted":{"high90_g":142042,"low90_g":117958,"value_g":130000},"balance":{"accepted_g":130000,`)) {
		t.Errorf("bytes begin %.120s", b)
	}
	if !bytes.Contains(b, []byte(`"garden":"Äpfel & \"Birnen\" <1>"`)) || bytes.Contains(b, []byte(`": `)) || bytes.HasSuffix(b, []byte("\n")) {
		t.Error("bytes are not in canonical form")
	}
	again, _ := build(t, in).Canonical()
	if !bytes.Equal(b, again) {
		t.Error("equal input gave other bytes")
	}
	back, err := season.Open(b, season.Digest(b))
	if err != nil || back.Balance != r.Balance || back.Header.PreparedAt != r.Header.PreparedAt {
		t.Fatalf("read back: %v", err)
	}
	// FIPS 180-4 example: SHA-256 of "abc".
	if got := season.Digest([]byte("abc")); got != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
		t.Errorf("digest %s", got)
	}
}

func TestAlteredReportsAreFoundOut(t *testing.T) {
	t.Parallel()
	b, err := build(t, spring(t)).Canonical()
	if err != nil {
		t.Fatal(err)
	}
	swap := func(from, to string) []byte {
		if !bytes.Contains(b, []byte(from)) {
			t.Fatalf("nothing to swap: %s", from)
		}
		return bytes.Replace(b, []byte(from), []byte(to), 1)
	}
	if _, err := season.Open(swap(`"fed_g":120000`, `"fed_g":120001`), season.Digest(b)); farm.CodeOf(err) != season.CodeReportAltered {
		t.Errorf("old digest: %v", err)
	}
	tests := []struct {
		name string
		b    []byte
		want farm.Code
	}{
		{"a gram more fed", swap(`"fed_g":120000`, `"fed_g":120001`), season.CodeReportUnbalanced},
		{"more diverted", swap(`"diverted_g":128000`, `"diverted_g":138000`), season.CodeReportAltered},
		{"a better headline", swap(`"value_g":128000`, `"value_g":129000`), season.CodeReportAltered},
		{"fewer rejects", swap(`"rejects_excluded_g":10000`, `"rejects_excluded_g":1`), season.CodeReportAltered},
		{"a bin that ate more", swap(`"by_bin":[{"fed_g":90000`, `"by_bin":[{"fed_g":90001`), season.CodeReportAltered},
		{"a month off", swap(`"key":"2026-03","label":"2026-03","overflow_g":0`, `"key":"2026-03","label":"2026-03","overflow_g":5`), season.CodeReportAltered},
		{"white space", append(bytes.Clone(b), '\n'), season.CodeReportAltered},
		{"another format", swap(`"format":1`, `"format":2`), season.CodeReportAltered},
		{"a field of our own", swap(`{"accepted"`, `{"aaa":1,"accepted"`), season.CodeReportAltered},
	}
	for _, tt := range tests {
		if _, err := season.Open(tt.b, season.Digest(tt.b)); farm.CodeOf(err) != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
}

func TestAnEmptySeasonIsAReportToo(t *testing.T) {
	t.Parallel()
	in := spring(t)
	in.Movements, in.StockStart, in.StockEnd = nil, nil, nil
	in.Emissions = &season.EmissionChoice{Set: season.WARM16}
	r := build(t, in)
	if r.Diverted != (season.Interval{}) || r.Header.DaysWithoutRecords != 92 || r.Emissions.Change != 0 {
		t.Errorf("%+v", r.Diverted)
	}
	b, err := r.Canonical()
	if err != nil || bytes.Contains(b, []byte(`"by_bin":null`)) || bytes.Contains(b, []byte(`"rejections":null`)) || bytes.Contains(b, []byte(`"findings":null`)) {
		t.Errorf("empty lists are written as null: %s (%v)", b, err)
	}
}

// balancedInput draws movements of a season and closes each material's books
// with what is on hand.
func balancedInput(t *rapid.T, cal *season.Calendar, s season.Season) season.Input {
	flows := []season.Flow{season.Received, season.Received, season.Received, season.Rejected, season.Fed, season.Overflow,
		season.SpoiledLandfill, season.SpoiledElsewhere, season.WaterLoss, season.WaterGain, season.BinToLandfill, season.BinToElsewhere}
	in := season.Input{Garden: "G", Revision: 1, Calendar: cal, Season: s, PreparedAt: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC),
		Emissions: &season.EmissionChoice{Set: season.WARM16, ByGroup: rapid.Bool().Draw(t, "by group")},
		Groups:    map[string]farm.Group{"apples": farm.Fruit, "bread": farm.BreadGrain}}
	onHand := map[string]measure.Grams{"apples": 0, "bread": 0, "": 0}
	received := map[string]measure.Grams{}
	for range rapid.IntRange(0, 40).Draw(t, "movements") {
		m := season.Movement{
			Day:        s.Start.Add(rapid.IntRange(0, s.Days()-1).Draw(t, "day")),
			Flow:       rapid.SampledFrom(flows).Draw(t, "flow"),
			Method:     rapid.SampledFrom([]farm.MassMethod{farm.ByScale, farm.ByContainer, farm.ByEstimate}).Draw(t, "method"),
			RelSD:      season.PerMille(rapid.IntRange(0, 400).Draw(t, "sd")),
			Site:       rapid.SampledFrom([]string{"", "shed", "plot"}).Draw(t, "site"),
			Material:   rapid.SampledFrom([]string{"", "apples", "bread"}).Draw(t, "material"),
			DonorClass: rapid.SampledFrom([]string{"", "member", "cafe"}).Draw(t, "class"),
			Mass:       measure.Grams(rapid.Int64Range(1, 2_000_000).Draw(t, "mass")), Records: 1,
		}
		switch m.Flow {
		case season.Received:
			onHand[m.Material] += m.Mass
			received[m.Material] += m.Mass
		case season.WaterGain:
			onHand[m.Material] += m.Mass
		case season.Rejected:
			m.Mass = min(m.Mass, received[m.Material]) // no more than came
			received[m.Material] -= m.Mass
			onHand[m.Material] -= m.Mass
		case season.BinToLandfill, season.BinToElsewhere:
			m.Bin = rapid.SampledFrom([]string{"", "b1", "b2"}).Draw(t, "bin")
		default:
			m.Bin = rapid.SampledFrom([]string{"", "b1", "b2"}).Draw(t, "bin")
			onHand[m.Material] -= m.Mass
		}
		in.Movements = append(in.Movements, m)
	}
	for material, g := range onHand {
		start := measure.Grams(rapid.Int64Range(0, 5000).Draw(t, "start"+material)) + max(0, -g)
		in.StockStart = append(in.StockStart, season.Stock{Material: material, Mass: start})
		in.StockEnd = append(in.StockEnd, season.Stock{Material: material, Mass: start + g})
	}
	return in
}

func TestEverySeasonBalancesToTheGramOrIsRefused(t *testing.T) {
	t.Parallel()
	cal := calendar(t, season.South, "Australia/Sydney")
	s, err := cal.ByKey("2026-27-summer")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		in := balancedInput(t, cal, s)
		r, err := season.Build(in)
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		b := r.Balance
		if b.OnHandStart+b.Accepted+b.WaterGain != b.Fed+b.Overflow+b.SpoiledLandfill+b.SpoiledElsewhere+b.WaterLoss+b.OnHandEnd {
			t.Fatalf("%+v does not balance", b)
		}
		for name, iv := range map[string]season.Interval{"received": r.Received, "accepted": r.Accepted, "diverted": r.Diverted} {
			if iv.Low > iv.Value || iv.High < iv.Value || (iv.Value >= 0 && iv.Low < 0) {
				t.Fatalf("%s %+v is no interval", name, iv)
			}
		}
		var months, weeks, mix measure.Grams
		for _, p := range r.ByMonth {
			months += p.Received
		}
		for _, w := range r.Weeks {
			weeks += w.Received
		}
		for _, m := range r.Header.Methods.Shares {
			mix += m.Received
		}
		if months != b.Received || weeks != b.Received || mix != b.Received {
			t.Fatalf("received %d: months %d, weeks %d, methods %d", b.Received, months, weeks, mix)
		}
		var lines measure.Grams
		for _, l := range r.Emissions.Lines {
			lines += l.Diverted
		}
		if lines != b.Diverted {
			t.Fatalf("emission lines %d, diverted %d", lines, b.Diverted)
		}
		raw, err := r.Canonical()
		if err != nil || !json.Valid(raw) {
			t.Fatal(err)
		}
		if _, err := season.Open(raw, season.Digest(raw)); err != nil {
			t.Fatal(err)
		}
		// One gram astray in the stock is always found, in the right material.
		i := rapid.IntRange(0, len(in.StockEnd)-1).Draw(t, "astray")
		in.StockEnd[i].Mass++
		var im *season.Imbalance
		if _, err := season.Build(in); !errors.As(err, &im) || im.Difference() != -1 {
			t.Fatalf("a gram too many passed: %v", err)
		}
	})
}

func TestTheOrderOfMovementsDoesNotMatter(t *testing.T) {
	t.Parallel()
	cal := calendar(t, season.North, "UTC")
	s, err := cal.ByKey("2026-spring")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		in := balancedInput(t, cal, s)
		one, err := season.Build(in)
		if err != nil {
			t.Fatal(err)
		}
		in.Movements = rapid.Permutation(in.Movements).Draw(t, "order")
		other, err := season.Build(in)
		if err != nil {
			t.Fatal(err)
		}
		a, _ := one.Canonical()
		b, _ := other.Canonical()
		if !bytes.Equal(a, b) {
			t.Fatalf("another order gave other bytes:\n%s\n%s", a, b)
		}
	})
}

func BenchmarkBuildASeasonOfRollUps(b *testing.B) {
	in := spring(b)
	in.StockStart, in.StockEnd = nil, nil
	in.Movements = in.Movements[:0]
	for d := in.Season.Start; d.Before(in.Season.End); d = d.Add(1) {
		for i := range 100 {
			m := move(d.String(), season.Received, farm.ByScale, fmt.Sprintf("m%d", i%10), 1000)
			out := m
			out.Flow, out.Bin = season.Fed, fmt.Sprintf("b%d", i%30)
			in.Movements = append(in.Movements, m, out)
		}
	}
	for b.Loop() {
		if _, err := season.Build(in); err != nil {
			b.Fatal(err)
		}
	}
}
