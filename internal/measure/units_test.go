package measure_test

import (
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"midden/internal/measure"
)

func TestUnitsHaveTheirLegalSize(t *testing.T) {
	t.Parallel()
	tests := []struct {
		value string
		unit  measure.Unit
		kind  measure.Kind
		exact string // grams or millilitres
	}{
		// NIST Handbook 44, Appendix C: exact by definition.
		{"1", measure.Pound, measure.Mass, "453.59237"},
		{"1", measure.Ounce, measure.Mass, "28.349523125"},
		{"16", measure.Ounce, measure.Mass, "453.59237"},
		{"1", measure.ShortTon, measure.Mass, "907184.74"},
		{"2000", measure.Pound, measure.Mass, "907184.74"},
		{"100", measure.Pound, measure.Mass, "45359.237"},
		{"1", measure.GallonUS, measure.Volume, "3785.411784"},
		{"5", measure.GallonUS, measure.Volume, "18927.05892"},
		// NIST Handbook 44, Appendix C: a yard is 0.9144 m, so a cubic yard is 0.9144^3 m3.
		{"1", measure.CubicYard, measure.Volume, "764554.857984"},
		// SI prefixes (BIPM SI brochure, 9th edition).
		{"1", measure.Kilogram, measure.Mass, "1000"},
		{"1", measure.Litre, measure.Volume, "1000"},
		{"1", measure.CubicMetre, measure.Volume, "1000000"},
		{"0.001", measure.Gram, measure.Mass, "0.001"},
	}
	for _, tt := range tests {
		want, _ := new(big.Rat).SetString(tt.exact)
		got, kind, err := measure.Quantity{Value: tt.value, Unit: tt.unit}.Exact()
		if err != nil || kind != tt.kind || got.Cmp(want) != 0 {
			t.Errorf("%s %s = %v (kind %d, %v), want %s", tt.value, tt.unit, got, kind, err, tt.exact)
		}
	}
	// 46,656 cubic inches in a cubic yard over 231 in a gallon.
	yd, _, _ := measure.Quantity{Value: "1", Unit: measure.CubicYard}.Exact()
	gal, _, _ := measure.Quantity{Value: "1", Unit: measure.GallonUS}.Exact()
	if yd.Quo(yd, gal).Cmp(big.NewRat(46656, 231)) != 0 {
		t.Errorf("a cubic yard holds %v gallons", yd)
	}
}

func TestAHundredPoundsIsStoredInWholeGrams(t *testing.T) {
	t.Parallel()
	// NIST Handbook 44, Appendix C: 45.359237 kg.
	g, err := measure.Quantity{Value: "100", Unit: measure.Pound}.Grams()
	if err != nil || g != 45359 {
		t.Fatalf("100 lb = %d g, %v", g, err)
	}
	if lb, _ := g.In(measure.Pound); math.Abs(lb-100) > 0.0011 {
		t.Errorf("and back: %v lb", lb)
	}
}

func TestNetIsGrossLessTare(t *testing.T) {
	t.Parallel()
	// 21.4 lb gross, 2.1 lb tare, 19.3 lb net (arithmetic on NIST Handbook 44 pounds).
	gross, _, _ := measure.Quantity{Value: "21.4", Unit: measure.Pound}.Exact()
	tare, _, _ := measure.Quantity{Value: "2.1", Unit: measure.Pound}.Exact()
	net, _, _ := measure.Quantity{Value: "19.3", Unit: measure.Pound}.Exact()
	if gross.Sub(gross, tare).Cmp(net) != 0 {
		t.Errorf("net = %v g, want %v g", gross, net)
	}
}

func TestHalvesGoToTheEvenGram(t *testing.T) {
	t.Parallel()
	// IEEE 754-2019, 4.3.1, roundTiesToEven.
	tests := []struct {
		value string
		want  measure.Grams
	}{{"0.5", 0}, {"1.5", 2}, {"2.5", 2}, {"3.5", 4}, {"2.50001", 3}, {"2.49999", 2}, {"0", 0}, {"7", 7}}
	for _, tt := range tests {
		g, err := measure.Quantity{Value: tt.value, Unit: measure.Gram}.Grams()
		if err != nil || g != tt.want {
			t.Errorf("%s g rounds to %d (%v), want %d", tt.value, g, err, tt.want)
		}
	}
	for num, want := range map[int64]int64{-5: -2, -3: -2, -7: -4, -1: 0} {
		if got, err := measure.RoundHalfEven(big.NewRat(num, 2)); err != nil || got != want {
			t.Errorf("%d/2 rounds to %d (%v), want %d", num, got, err, want)
		}
	}
}

func TestQuantitiesThatMakeNoSenseAreRefused(t *testing.T) {
	t.Parallel()
	mass := []struct {
		q    measure.Quantity
		want error
	}{
		{measure.Quantity{Value: "1", Unit: "stone"}, measure.ErrUnit},
		{measure.Quantity{Value: "1", Unit: measure.Litre}, measure.ErrKind},
		{measure.Quantity{Value: "-1", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "1e3", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "1,5", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: ".5", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "5.", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "1.2.3", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "1/2", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: "٣", Unit: measure.Gram}, measure.ErrNumber},
		{measure.Quantity{Value: strings.Repeat("1", 19), Unit: measure.Gram}, measure.ErrRange},
		{measure.Quantity{Value: "1000000000001", Unit: measure.Gram}, measure.ErrRange},
	}
	for _, tt := range mass {
		if g, err := tt.q.Grams(); !errors.Is(err, tt.want) {
			t.Errorf("%+v = %d g, %v; want %v", tt.q, g, err, tt.want)
		}
	}
	if _, err := (measure.Quantity{Value: "1", Unit: measure.Pound}).Millilitres(); !errors.Is(err, measure.ErrKind) {
		t.Errorf("a pound passed for a volume: %v", err)
	}
}

func TestFullContainersWeighWhatTheDensitySays(t *testing.T) {
	t.Parallel()
	// US EPA, Volume-to-Weight Conversion Factors (2016): food scraps 3.8 lb per gallon.
	d, err := measure.DensityOf(
		measure.Quantity{Value: "3.8", Unit: measure.Pound}, measure.Quantity{Value: "1", Unit: measure.GallonUS})
	if err != nil || math.Abs(float64(d)-455.34042380420725) > 1e-9 {
		t.Fatalf("3.8 lb/gal = %v g/L, %v", d, err)
	}
	tests := []struct {
		gallons string
		pounds  float64
	}{{"1", 3.8}, {"2", 7.6}, {"3.5", 13.3}, {"5", 19.0}, {"32", 121.6}, {"64", 243.2}}
	for _, tt := range tests {
		v, err := measure.Quantity{Value: tt.gallons, Unit: measure.GallonUS}.Millilitres()
		if err != nil {
			t.Fatal(err)
		}
		if lb, _ := d.MassOf(v).In(measure.Pound); math.Abs(lb-tt.pounds) > 0.01 {
			t.Errorf("%s gal weighs %v lb, want %v", tt.gallons, lb, tt.pounds)
		}
	}
	// The same table gives 396 lb per cubic yard, which is 1.96 lb per gallon:
	// its two figures for food scraps do not agree.
	loose, err := measure.DensityOf(
		measure.Quantity{Value: "396", Unit: measure.Pound}, measure.Quantity{Value: "1", Unit: measure.CubicYard})
	if err != nil || math.Abs(float64(d)/float64(loose)-3.8/1.9606481481481481) > 1e-9 {
		t.Errorf("396 lb/yd3 = %v g/L, %v", loose, err)
	}
}

func TestDensitiesThatMakeNoSenseAreRefused(t *testing.T) {
	t.Parallel()
	lb, gal := measure.Quantity{Value: "1", Unit: measure.Pound}, measure.Quantity{Value: "1", Unit: measure.GallonUS}
	tests := []struct {
		mass, volume measure.Quantity
		want         error
	}{
		{gal, gal, measure.ErrKind}, {lb, lb, measure.ErrKind},
		{lb, measure.Quantity{Value: "0", Unit: measure.Litre}, measure.ErrRange},
		{measure.Quantity{Value: "x", Unit: measure.Pound}, gal, measure.ErrNumber},
		{lb, measure.Quantity{Value: "1", Unit: "cup"}, measure.ErrUnit},
	}
	for _, tt := range tests {
		if d, err := measure.DensityOf(tt.mass, tt.volume); !errors.Is(err, tt.want) {
			t.Errorf("DensityOf(%v, %v) = %v, %v; want %v", tt.mass, tt.volume, d, err, tt.want)
		}
	}
	for _, d := range []measure.Density{measure.Density(math.NaN()), measure.Density(math.Inf(1))} {
		if g, err := d.Mass(big.NewRat(1, 1)); !errors.Is(err, measure.ErrRange) || d.MassOf(1) != 0 {
			t.Errorf("density %v gave %d g, %v", d, g, err)
		}
	}
}

func TestUnitsAreReadAsPeopleSpellThem(t *testing.T) {
	t.Parallel()
	tests := map[measure.Unit][]string{
		measure.Kilogram: {"kg", "KG", "Kilo", "kilos", "kilograms", " kg. "},
		measure.Gram:     {"g", "gram", "Grams"},
		measure.Pound:    {"lb", "lbs", "Lbs.", "pound", "POUNDS"},
		measure.Ounce:    {"oz", "oz.", "ounce", "ounces"},
		measure.Litre:    {"L", "l", "litre", "Litres", "liter", "liters"},
		measure.Millilitre: {
			"mL", "ml", "millilitre", "milliliters"},
		measure.GallonUS:   {"gal", "Gallon", "gallons", "US  gallons"},
		measure.CubicYard:  {"yd3", "cubic yards"},
		measure.CubicMetre: {"m3", "m³"},
		measure.ShortTon:   {"short tons"},
	}
	for want, spellings := range tests {
		for _, s := range spellings {
			if got, err := measure.ParseUnit(s); err != nil || got != want {
				t.Errorf("ParseUnit(%q) = %q, %v; want %q", s, got, err, want)
			}
		}
	}
	for _, s := range []string{"", "bucket", "buckets", "ton", "tons", "cup", "imperial gallon", "kg kg", ".", "fl oz"} {
		if got, err := measure.ParseUnit(s); !errors.Is(err, measure.ErrUnit) {
			t.Errorf("ParseUnit(%q) = %q, %v; want ErrUnit", s, got, err)
		}
	}
}

func TestEveryUnitCodeReadsAsItself(t *testing.T) {
	t.Parallel()
	for _, u := range measure.Units() {
		if got, err := measure.ParseUnit(string(u)); err != nil || got != u {
			t.Errorf("ParseUnit(%q) = %q, %v", u, got, err)
		}
		if _, ok := u.Kind(); !ok {
			t.Errorf("%q measures nothing", u)
		}
	}
	if _, ok := measure.Unit("bucket").Kind(); ok {
		t.Error("a bucket is no unit")
	}
}

func TestQuantitiesPrintInBothSystems(t *testing.T) {
	t.Parallel()
	tests := []struct{ got, want string }{
		{measure.Grams(850).Format(measure.Metric), "850 g"},
		{measure.Grams(12_345).Format(measure.Metric), "12.3 kg"},
		{measure.Grams(-1500).Format(measure.Metric), "-1.5 kg"},
		{measure.Grams(8618).Format(measure.US), "19.0 lb"},
		{measure.Grams(100).Format(measure.US), "3.5 oz"},
		{measure.Grams(0).Format(measure.US), "0.0 oz"},
		{measure.Millilitres(850).Format(measure.Metric), "850 mL"},
		{measure.Millilitres(18_927).Format(measure.Metric), "18.9 L"},
		{measure.Millilitres(18_927).Format(measure.US), "5.0 gal"},
		{measure.Millilitres(946).Format(measure.US), "0.25 gal"},
		{measure.Celsius(21.5).Format(measure.Metric), "21.5 °C"},
		{measure.Celsius(21.5).Format(measure.US), "70.7 °F"},
		{measure.Celsius(-0.04).Format(measure.Metric), "0.0 °C"},
		{measure.Percent(62.5).String(), "62.5 %"},
		{measure.SquareCentimetres(27_871).Format(measure.US), "30.0 ft²"},
		{measure.SquareCentimetres(27_871).Format(measure.Metric), "2.8 m²"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("printed %q, want %q", tt.got, tt.want)
		}
	}
	if !measure.Metric.Valid() || !measure.US.Valid() || measure.System("imperial").Valid() {
		t.Error("two systems are known")
	}
}

func TestTemperatureScalesMeetAtTheirFixedPoints(t *testing.T) {
	t.Parallel()
	// NIST SP 811, appendix B.8: t(F) = 1.8 t(C) + 32.
	for c, f := range map[measure.Celsius]float64{0: 32, 100: 212, -40: -40, 25: 77} {
		if c.Fahrenheit() != f || measure.FromFahrenheit(f) != c {
			t.Errorf("%v °C is %v °F and back %v", c, c.Fahrenheit(), measure.FromFahrenheit(f))
		}
	}
}

func TestAreasConvertByTheFoot(t *testing.T) {
	t.Parallel()
	// NIST Handbook 44, Appendix C: a square foot is 0.09290304 m2.
	if a, err := measure.SquareFeet("750"); err != nil || a != 696_773 {
		t.Errorf("750 ft2 = %d cm2, %v", a, err)
	}
	if a, err := measure.SquareMetres("1.5"); err != nil || a != 15_000 {
		t.Errorf("1.5 m2 = %d cm2, %v", a, err)
	}
	if _, err := measure.SquareFeet("-3"); !errors.Is(err, measure.ErrNumber) {
		t.Errorf("a negative area passed: %v", err)
	}
}

func TestMassesShowBackWithinHalfAGram(t *testing.T) {
	t.Parallel()
	massUnits := []measure.Unit{measure.Gram, measure.Kilogram, measure.Pound, measure.Ounce}
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(massUnits).Draw(t, "unit")
		v := rapid.StringMatching(`[0-9]{1,5}(\.[0-9]{1,3})?`).Draw(t, "value")
		g, err := measure.Quantity{Value: v, Unit: u}.Grams()
		if err != nil {
			t.Fatal(err)
		}
		exact, _, _ := measure.Quantity{Value: v, Unit: u}.Exact()
		diff := exact.Sub(exact, big.NewRat(int64(g), 1))
		if diff.Abs(diff).Cmp(big.NewRat(1, 2)) > 0 {
			t.Fatalf("%s %s became %d g, off by %v", v, u, g, diff)
		}
		f, ok := g.In(u)
		one, _ := measure.Grams(1).In(u)
		want, _ := new(big.Rat).SetString(v)
		w, _ := want.Float64()
		if !ok || math.Abs(f-w) > 0.5*one*1.000001 {
			t.Fatalf("%s %s came back as %v", v, u, f)
		}
	})
}

func FuzzParseDecimal(f *testing.F) {
	for _, s := range []string{"0", "12.50", "1e9", "-1", "+1", "1.", ".1", "1,5", "0x1p-2", "1/3", "", "∞",
		"999999999999999999", "1234567890123456789", "1_000"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		r, err := measure.ParseDecimal(s)
		if err != nil {
			if r != nil || (!errors.Is(err, measure.ErrNumber) && !errors.Is(err, measure.ErrRange)) {
				t.Fatalf("ParseDecimal(%q) = %v, %v", s, r, err)
			}
			return
		}
		if r.Sign() < 0 || strings.Trim(s, "0123456789.") != "" {
			t.Fatalf("ParseDecimal(%q) took %v", s, r)
		}
		_, frac, _ := strings.Cut(s, ".")
		if back := r.FloatString(len(frac)); strings.TrimLeft(back, "0") != strings.TrimLeft(s, "0") {
			t.Fatalf("ParseDecimal(%q) prints as %q", s, back)
		}
	})
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"2026-02-28", "2028-02-29", "2026-2-8", "0000-00-00", "2026-03-01T00:00", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := measure.ParseDay(s)
		if err == nil && d.String() != s {
			t.Fatalf("ParseDay(%q) prints as %q", s, d)
		}
		if err != nil && !d.IsZero() {
			t.Fatalf("ParseDay(%q) failed but gave %v", s, d)
		}
	})
}
