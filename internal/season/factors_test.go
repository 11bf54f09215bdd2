package season_test

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/season"
)

func TestWARMFactorsAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	// US EPA WARM version 16 (December 2023), summary data, MTCO2E per short ton;
	// read in a public transcription of the workbook.
	tests := []struct {
		row       string
		treatment season.Treatment
		want      float64
	}{
		{season.FoodWasteMix, season.Landfilled, 0.5014622340279833},
		{season.FoodWasteMix, season.Composted, -0.15213492335194},
		{season.FoodWasteMix, season.Combusted, -0.13426157065196354},
		{season.FruitsVegetables, season.Landfilled, 0.228626887119319},
		{season.FoodWasteNonMeat, season.Landfilled, 0.5020869568523579},
		{season.Bread, season.Landfilled, 0.9925523485720484},
		{season.Grains, season.Landfilled, 1.373269084702389},
		{season.FoodWasteMeatOnly, season.Landfilled, 0.46339},
		{season.Dairy, season.Landfilled, 0.48080},
		{season.YardTrimmings, season.Landfilled, -0.20052},
		{season.MixedOrganics, season.Composted, -0.13041},
	}
	for _, tt := range tests {
		got, err := season.WARM16.Value(tt.row, tt.treatment)
		if err != nil || math.Abs(float64(got)/1e6-tt.want) > 0.000005 {
			t.Errorf("%s %s = %d, %v; want %v", tt.row, tt.treatment, got, err, tt.want)
		}
	}
}

func TestHubFactorsAreThePublishedOnes(t *testing.T) {
	t.Parallel()
	// US EPA GHG Emission Factors Hub, 2026 edition, Table 9; read in a public transcription.
	tests := []struct {
		row       string
		treatment season.Treatment
		want      int64
	}{
		{season.FoodWasteMix, season.Landfilled, 680_000}, {season.FoodWasteMix, season.Composted, 110_000},
		{season.FoodWasteMix, season.Combusted, 50_000}, {season.FruitsVegetables, season.Landfilled, 280_000},
		{season.MixedOrganics, season.Landfilled, 540_000}, {season.MixedOrganics, season.Composted, 130_000},
	}
	for _, tt := range tests {
		if got, err := season.Hub2026.Value(tt.row, tt.treatment); err != nil || got != tt.want {
			t.Errorf("%s %s = %d, %v; want %d", tt.row, tt.treatment, got, err, tt.want)
		}
	}
}

func TestInventoryFactorsCannotShowASaving(t *testing.T) {
	t.Parallel()
	// US EPA, guidance P101B81H: Hub factors and WARM are not interchangeable.
	for _, c := range []season.Credit{season.LandfillOnly, season.CompostCredit} {
		if v, err := season.Hub2026.Change(season.FoodWasteMix, c); farm.CodeOf(err) != season.CodeFactorInventory {
			t.Errorf("%s gave %d, %v", c, v, err)
		}
	}
}

func TestAMassOfScrapsAvoidsWhatTheWorkedExamplesSay(t *testing.T) {
	t.Parallel()
	lb := func(v string) measure.Grams {
		g, err := measure.Quantity{Value: v, Unit: measure.Pound}.Grams()
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	// Computed from US EPA WARM version 16; short ton of NIST Handbook 44.
	tests := []struct {
		mass   measure.Grams
		row    string
		credit season.Credit
		want   float64 // MTCO2E
	}{
		{lb("2000"), season.FoodWasteMix, season.CompostCredit, -0.6535971573799233},
		{lb("2000"), season.FruitsVegetables, season.CompostCredit, -0.380761810471259},
		{1000, season.FoodWasteMix, season.CompostCredit, -0.7204675393679166e-3},
		{1000, season.FoodWasteMix, season.LandfillOnly, -0.5527674925704584e-3},
		{1_250_000, season.FoodWasteMix, season.CompostCredit, -0.9005844242098958},
		{lb("2400"), season.FoodWasteMix, season.CompostCredit, -0.7843165888559079},
		{lb("2400"), season.FoodWasteMix, season.LandfillOnly, -0.60175468083358},
	}
	for _, tt := range tests {
		per, err := season.WARM16.Change(tt.row, tt.credit)
		if err != nil {
			t.Fatal(err)
		}
		grams, _ := season.Emissions(tt.mass, per).Float64()
		if got := grams / 1e6; math.Abs(got-tt.want) > 2e-5*math.Max(math.Abs(tt.want), 1e-3) {
			t.Errorf("%d g of %s, %s: %v MTCO2E, want %v", tt.mass, tt.row, tt.credit, got, tt.want)
		}
	}
	// 1000 / 907.18474 turns MTCO2E per short ton into kg per kg.
	if m, _ := season.Emissions(1_000_000, 1_000_000).Float64(); math.Abs(m/1e6-1.1023113109243878) > 1e-9 {
		t.Errorf("multiplier %v", m)
	}
}

func TestUnknownFactorsAreRefused(t *testing.T) {
	t.Parallel()
	if _, err := season.WARM16.Change("worm_bin", season.LandfillOnly); farm.CodeOf(err) != season.CodeFactorUnknown {
		t.Errorf("a row for worm bins was found: %v", err)
	}
	if _, err := season.WARM16.Change(season.Bread, "all"); farm.CodeOf(err) != season.CodeFactorUnknown {
		t.Errorf("an unknown credit was taken: %v", err)
	}
	if _, err := season.Hub2026.Value(season.FruitsVegetables, season.Composted); farm.CodeOf(err) != season.CodeFactorUnknown {
		t.Errorf("a blank of the table was read: %v", err)
	}
	if _, err := season.FindFactorSet("us-epa-warm", "15"); farm.CodeOf(err) != season.CodeFactorUnknown {
		t.Errorf("an old version was found: %v", err)
	}
	if s, err := season.FindFactorSet("us-epa-warm", "16"); err != nil || s.Title != season.WARM16.Title || len(s.Rows()) != 9 {
		t.Errorf("version 16: %+v, %v", s.Title, err)
	}
}

func TestEveryGroupHasAPublishedRow(t *testing.T) {
	t.Parallel()
	rows := season.GroupRows()
	for _, g := range farm.Groups {
		if _, err := season.WARM16.Change(rows[g], season.CompostCredit); err != nil {
			t.Errorf("%s: %v", g, err)
		}
	}
}

func TestEmissionsAreStatedToTwoFigures(t *testing.T) {
	t.Parallel()
	// GUM (JCGM 100:2008), 7.2.6: two significant digits at most.
	tests := []struct {
		in, want int64
		text     string
	}{
		{0, 0, "0 g CO2e"}, {7, 7, "7 g CO2e"}, {-99, -99, "-99 g CO2e"}, {996, 1000, "1.0 kg CO2e"},
		{690_959, 690_000, "690 kg CO2e"}, {-900_584, -900_000, "-900 kg CO2e"}, {1_349_999, 1_300_000, "1.3 t CO2e"},
		{1_350_000, 1_400_000, "1.4 t CO2e"}, {1_250_000, 1_200_000, "1.2 t CO2e"}, {55_276, 55_000, "55 kg CO2e"},
		{5527, 5500, "5.5 kg CO2e"}, {123_456_789, 120_000_000, "120 t CO2e"},
	}
	for _, tt := range tests {
		got, err := season.TwoFigures(big.NewRat(tt.in, 1))
		if err != nil || got != tt.want || season.FormatCO2e(got) != tt.text {
			t.Errorf("%d g is stated as %d, %q (%v); want %d, %q", tt.in, got, season.FormatCO2e(got), err, tt.want, tt.text)
		}
	}
	// 1,449.5 must not become 1,450 first and then 1,500: rounding once gives 1,400.
	if got, _ := season.TwoFigures(big.NewRat(2899, 2)); got != 1400 {
		t.Errorf("rounded twice: %d", got)
	}
}

func TestTwoFiguresStayWithinHalfOfTheSecond(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := big.NewRat(rapid.Int64Range(-1e14, 1e14).Draw(t, "num"), rapid.Int64Range(100, 1e6).Draw(t, "den"))
		got, err := season.TwoFigures(r)
		if err != nil {
			t.Fatal(err)
		}
		f, _ := r.Float64()
		if math.Abs(float64(got)-f) > math.Max(0.5, math.Abs(f)*0.0501) {
			t.Fatalf("%v became %d", f, got)
		}
		for n := got; n != 0; n /= 10 {
			if n%10 != 0 {
				if n > 99 || n < -99 {
					t.Fatalf("%d has more than two figures", got)
				}
				break
			}
		}
	})
}
