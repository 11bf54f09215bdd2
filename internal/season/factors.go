package season

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Treatment is what is done with food waste.
type Treatment string

// Treatments with published factors. There is none for worm bins.
const (
	Landfilled Treatment = "landfilled"
	Composted  Treatment = "composted"
	Combusted  Treatment = "combusted"
)

// FactorUse tells what a set of factors may be used for.
type FactorUse string

// Comparison factors measure the change between two treatments. Inventory
// factors state a year's emissions and may not be set against each other.
const (
	Comparison FactorUse = "comparison"
	Inventory  FactorUse = "inventory"
)

// Codes of refusals about factors.
const (
	CodeFactorUnknown   farm.Code = "factor.unknown"
	CodeFactorInventory farm.Code = "factor.inventory"
)

// FactorUnit is the unit in which sources publish: metric tons of CO2
// equivalent per short ton of 2,000 lb. Values here are whole grams per short
// ton, so 0.50146 is 501,460.
const FactorUnit = "MTCO2E per short ton"

// FactorSet is one published table of factors. Values are grams of CO2
// equivalent per short ton of material as discarded.
type FactorSet struct {
	ID      string
	Title   string
	Version string
	Use     FactorUse
	Source  string
	Trust   farm.Trust
	Caveats []string
	values  map[string]map[Treatment]int64
}

// Rows of the published tables.
const (
	FoodWasteMix      = "food_waste_mix"
	FoodWasteNonMeat  = "food_waste_non_meat"
	FoodWasteMeatOnly = "food_waste_meat_only"
	FruitsVegetables  = "fruits_and_vegetables"
	Bread             = "bread"
	Grains            = "grains"
	Dairy             = "dairy"
	YardTrimmings     = "yard_trimmings"
	MixedOrganics     = "mixed_organics"
)

func row(landfilled, composted, combusted int64) map[Treatment]int64 {
	return map[Treatment]int64{Landfilled: landfilled, Composted: composted, Combusted: combusted}
}

const transcribed = "Figures were read in a public transcription of the agency's file, not in the file itself: check them against it before publishing."

// WARM16 is the table of US EPA's Waste Reduction Model, version 16.
var WARM16 = FactorSet{
	ID: "us-epa-warm", Version: "16", Use: Comparison, Trust: farm.TrustMemory,
	Title:  "US EPA Waste Reduction Model (WARM) version 16, national-average landfill",
	Source: "US EPA, Waste Reduction Model (WARM) version 16, December 2023, summary data",
	Caveats: []string{
		transcribed,
		"The model describes central composting with collection trucks and turning machines; it has no row for worm bins.",
		"Worm bins are not free of emissions: 34 home bins measured in Brisbane gave off methane and nitrous oxide (Chan et al. 2011).",
		"True only for scraps that would otherwise have gone to a landfill.",
		"An estimate for comparing ways of treating waste: not for an emissions inventory and not for sale as an offset.",
	},
	values: map[string]map[Treatment]int64{
		FoodWasteMix:      row(501_460, -152_130, -134_260),
		FoodWasteNonMeat:  row(502_090, -152_130, -134_260),
		FoodWasteMeatOnly: row(463_390, -152_130, -134_260),
		FruitsVegetables:  row(228_630, -152_130, -134_260),
		Bread:             row(992_550, -152_130, -134_260),
		Grains:            row(1_373_270, -152_130, -134_260),
		Dairy:             row(480_800, -152_130, -134_260),
		YardTrimmings:     row(-200_520, -105_910, -166_910),
		MixedOrganics:     row(158_070, -130_410, -149_490),
	},
}

// Hub2026 is Table 9 of the US EPA Emission Factors Hub. It is kept so that it
// can be shown and so that its use for savings can be refused by name.
var Hub2026 = FactorSet{
	ID: "us-epa-hub", Version: "2026", Use: Inventory, Trust: farm.TrustMemory,
	Title:  "US EPA GHG Emission Factors Hub, 2026 edition, Table 9",
	Source: "US EPA, GHG Emission Factors Hub, 2026 edition, Table 9",
	Caveats: []string{
		transcribed,
		"For inventories of waste generated in operations; not for claims of avoided emissions (US EPA, P101B81H).",
	},
	values: map[string]map[Treatment]int64{
		FoodWasteMix:     row(680_000, 110_000, 50_000),
		FruitsVegetables: {Landfilled: 280_000},
		MixedOrganics:    {Landfilled: 540_000, Composted: 130_000},
	},
}

// FactorSets lists the known tables.
func FactorSets() []FactorSet { return []FactorSet{WARM16, Hub2026} }

// FindFactorSet gives a table by id and version. It refuses with
// factor.unknown.
func FindFactorSet(id, version string) (FactorSet, error) {
	var known []string
	for _, s := range FactorSets() {
		if s.ID == id && s.Version == version {
			return s, nil
		}
		known = append(known, s.ID+" "+s.Version)
	}
	return FactorSet{}, farm.Refuse(CodeFactorUnknown, "/factors", "factors: must be one of %s; got %q version %q",
		strings.Join(known, ", "), id, version)
}

// Rows lists the materials of the table in alphabetical order.
func (s FactorSet) Rows() []string { return slices.Sorted(maps.Keys(s.values)) }

// Value is a published factor in grams of CO2 equivalent per short ton. It
// refuses with factor.unknown.
func (s FactorSet) Value(material string, t Treatment) (int64, error) {
	v, ok := s.values[material][t]
	if !ok {
		return 0, farm.Refuse(CodeFactorUnknown, "/factors", "factors: %s has no figure for %q %s", s.Title, material, t)
	}
	return v, nil
}

// Credit says how much of the treatment after diversion is counted.
type Credit string

// LandfillOnly counts the landfill avoided and gives composting no credit: the
// cautious choice for worm bins, which no table describes, and the default.
// CompostCredit sets composting against the landfill.
const (
	LandfillOnly  Credit = "landfill_avoided_only"
	CompostCredit Credit = "landfill_to_compost"
)

// Change is alternative less baseline for one material, in grams of CO2
// equivalent per short ton; negative when emissions are avoided. It refuses
// with factor.inventory for a table that may not be used so, and with
// factor.unknown.
func (s FactorSet) Change(material string, c Credit) (int64, error) {
	if s.Use != Comparison {
		return 0, farm.Refuse(CodeFactorInventory, "/factors",
			"factors: %s is for inventories and can't show a saving; choose a table made for comparing treatments", s.Title)
	}
	baseline, err := s.Value(material, Landfilled)
	if err != nil {
		return 0, err
	}
	switch c {
	case LandfillOnly:
		return -baseline, nil
	case CompostCredit:
		alternative, err := s.Value(material, Composted)
		if err != nil {
			return 0, err
		}
		return alternative - baseline, nil
	}
	return 0, farm.Refuse(CodeFactorUnknown, "/credit", "credit: must be %s or %s; got %q", LandfillOnly, CompostCredit, c)
}

// shortTon is 907,184.74 g: 2,000 lb (NIST Handbook 44, Appendix C).
var shortTon = big.NewRat(90_718_474, 100)

// Emissions is a factor applied to a mass, exact: grams of CO2 equivalent.
func Emissions(mass measure.Grams, perShortTon int64) *big.Rat {
	r := big.NewRat(int64(mass), 1)
	return r.Mul(r, big.NewRat(perShortTon, 1)).Quo(r, shortTon)
}

// TwoFigures rounds to two significant figures, half to even, and to no finer
// than a whole gram: what a report may claim. It fails with measure.ErrRange.
func TwoFigures(r *big.Rat) (int64, error) {
	n, err := measure.RoundHalfEven(r)
	if err != nil {
		return 0, err
	}
	// Scale from the unrounded number, so that nothing is rounded twice.
	scale := int64(1)
	for abs(n)/scale >= 100 {
		scale *= 10
	}
	v, err := measure.RoundHalfEven(new(big.Rat).Quo(r, big.NewRat(scale, 1)))
	return v * scale, err
}

func abs(n int64) int64 {
	if n < 0 {
		return -n
	}
	return n
}

// FormatCO2e prints grams of CO2 equivalent that were rounded by TwoFigures:
// "690 kg CO2e", "1.3 t CO2e", "-45 g CO2e".
func FormatCO2e(grams int64) string {
	switch a := abs(grams); {
	case a >= 1_000_000:
		return figures(grams, 1_000_000) + " t CO2e"
	case a >= 1000:
		return figures(grams, 1000) + " kg CO2e"
	default:
		return fmt.Sprintf("%d g CO2e", grams)
	}
}

// figures prints n in units of scale, with one decimal only below ten.
func figures(n, scale int64) string {
	if abs(n) < 10*scale {
		return fmt.Sprintf("%.1f", float64(n)/float64(scale))
	}
	return fmt.Sprintf("%d", n/scale)
}

// GroupRows says which published row stands for each go-easy group when a
// garden chooses factors by group. Groups that hold mostly fruit or vegetables
// take that row, whose landfill figure is less than half of the mix; bread and
// grain take the lower of their two rows (the choice of rows is ours).
func GroupRows() map[farm.Group]string {
	return map[farm.Group]string{
		farm.Plain:       FruitsVegetables,
		farm.Fruit:       FruitsVegetables,
		farm.Citrus:      FruitsVegetables,
		farm.OnionFamily: FruitsVegetables,
		farm.VeryWet:     FruitsVegetables,
		farm.BreadGrain:  Bread,
		farm.Coffee:      FoodWasteNonMeat,
		farm.SaltyOily:   FoodWasteNonMeat,
	}
}
