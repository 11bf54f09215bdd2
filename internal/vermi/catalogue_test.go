package vermi

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"midden/internal/farm"
)

func TestCatalogueIsCompleteAndSane(t *testing.T) {
	t.Parallel()
	all := Catalogue()
	if len(all) < 45 {
		t.Fatalf("catalogue has %d materials, want at least 45", len(all))
	}
	key := regexp.MustCompile(`^[a-z]+(_[a-z]+)*$`)
	seen := map[string]bool{}
	for _, m := range all {
		if !key.MatchString(m.Key) || seen[m.Key] || m.Name == "" {
			t.Errorf("%q: key must be snake_case and unique, name not empty", m.Key)
		}
		seen[m.Key] = true
		if !slices.Contains(farm.Groups, m.Group) {
			t.Errorf("%s: unknown group %q", m.Key, m.Group)
		}
		for what, f := range map[string]farm.Figure{"nitrogen": m.NitrogenPct, "c:n": m.CarbonToN, "moisture": m.MoisturePct, "density": m.DensityGPerL} {
			if !(f.Low > 0 && f.Low <= f.Value && f.Value <= f.High) {
				t.Errorf("%s %s: %g must lie in %g to %g", m.Key, what, f.Value, f.Low, f.High)
			}
			if f.Source == "" || f.Trust == "" {
				t.Errorf("%s %s: no source or trust mark", m.Key, what)
			}
			if (f.Trust == farm.TrustMemory) != strings.Contains(f.Source, "(from memory)") {
				t.Errorf("%s %s: a figure from memory must say so, and only that", m.Key, what)
			}
		}
		// Dry plant matter is about half carbon: 25 to 65 % is the span of the
		// Cornell spreadsheet's rows (newsprint 62.5 %). Eggshell is mineral.
		if c := m.NitrogenPct.Value * m.CarbonToN.Value; m.Key != "eggshell" && (c < 20 || c > 65) {
			t.Errorf("%s: carbon of %g %% of dry mass", m.Key, c)
		}
		if m.MoisturePct.High > 98 || m.DensityGPerL.High > 1000 || m.ShelfLifeDays < 1 {
			t.Errorf("%s: moisture, density or shelf life out of reach", m.Key)
		}
	}
	for _, k := range []string{"vegetable_trimmings", "apples", "coffee_grounds", "bread", "citrus_peel", "onion_family",
		"corrugated_cardboard", "newsprint", "leaves", "straw", "sawdust", "mixed_kitchen_scraps", "pumpkin", "melon_rind",
		"potato_peel", "tea_leaves", "eggshell", "grass", "horse_manure"} {
		if _, ok := MaterialByKey(k); !ok {
			t.Errorf("catalogue has no %s", k)
		}
	}
}

func TestMaterialsThatMayCarryWeedkillerSaySo(t *testing.T) {
	t.Parallel()
	for _, k := range []string{"hay", "straw", "grass", "horse_manure", "cattle_manure"} {
		m, _ := MaterialByKey(k)
		if !strings.Contains(m.Caution, "weedkiller") {
			t.Errorf("%s: caution %q does not name persistent weedkiller", k, m.Caution)
		}
	}
	for _, k := range []string{"sawdust", "wood_chips"} {
		m, _ := MaterialByKey(k)
		if !strings.Contains(m.Caution, "untreated") {
			t.Errorf("%s: caution %q does not bar treated wood", k, m.Caution)
		}
	}
}

func TestBulkDensitiesFollowTheVolumeFactors(t *testing.T) {
	t.Parallel()
	// US EPA volume-to-weight factors 2016: food 396 lb/yd3 and 3.8 lb/gal.
	near(t, "396 lb/yd3", lbYd3(396), 234.9, 0.1)
	food, _ := MaterialByKey("mixed_kitchen_scraps")
	near(t, "3.8 lb/gal", food.DensityGPerL.Value, 455.3, 0.5)
	// Older EPA factor, 7.49 lb/gal (Franchetti, Table 2.2).
	near(t, "7.49 lb/gal", food.DensityGPerL.High, 7.49*453.59237/3.785411784, 0.6)
	// A five-gallon bucket at 3.8 lb/gal is 19.0 lb, 8.62 kg.
	near(t, "bucket", float64(food.DensityGPerL.Value)*5*3.785411784/1000, 8.62, 0.02)
}

func TestWettingAddsOnlyWater(t *testing.T) {
	t.Parallel()
	dry, _ := MaterialByKey("corrugated_cardboard")
	wet := Wetted(dry, 70)
	dryOfLitre := func(m farm.Material) float64 { return m.DensityGPerL.Value * (100 - m.MoisturePct.Value) / 100 }
	near(t, "dry mass of a litre", dryOfLitre(wet), dryOfLitre(dry), 1e-9)
	if again := Wetted(wet, 10); again.MoisturePct.Value != 70 {
		t.Errorf("wetting can't dry: got %g %%", again.MoisturePct.Value)
	}
}
