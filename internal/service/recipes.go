package service

import (
	"context"
	"fmt"
	"math"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
	"midden/internal/vermi"
)

// RecipeWish is a feeding to be balanced. A zero FedAreaM2 is the bin's own.
type RecipeWish struct {
	Food      []WishFood
	Bedding   []WishBedding
	FedAreaM2 float64
	NoWater   bool
}

// WishFood is food to be fed.
type WishFood struct {
	Material string
	Amount   farm.Entered
}

// WishBedding is bedding at hand. A nil Stock is all that the ledger holds of
// it, dry and aged; a zero MoisturePct is its own: of the batch, or the material's.
type WishBedding struct {
	Material    string
	Stock       *measure.Quantity
	MoisturePct float64
}

// Recipe is the least bedding for a feeding.
type Recipe struct {
	vermi.Recipe
	ByMaterial []vermi.Portion // the wish's materials in its order, those not used left out
	FloorBinds bool            // the cover asked for more than the bands did
}

// BinRecipe works out the least bedding that brings a feeding to a bin into
// the garden's bands, never below its floor of cover. It keeps nothing. It
// refuses with bin.not_found, material.not_found, mass.invalid,
// container.not_found and recipe.invalid.
func (s *Service) BinRecipe(ctx context.Context, a Actor, garden, id uuid.UUID, in RecipeWish) (Recipe, error) {
	amounts := make([]*farm.Entered, len(in.Food))
	for i := range in.Food {
		amounts[i] = &in.Food[i].Amount
	}
	var held *store.Rows[store.BeddingStock]
	var pots *store.Rows[farm.Container]
	x, err := s.lookAtBin(ctx, a, garden, id, measure.Day{}, func(b *store.Batch) { held, pots = b.BeddingOnHand(), vessels(b, amounts...) })
	if err != nil {
		return Recipe{}, err
	}
	var f farm.Faults
	known := s.materialsByKey(x.said)
	feed := in.feed(&f, x, known, pots)
	kinds := in.kinds(&f, known, held.Values)
	if err := f.Err(); err != nil {
		return Recipe{}, err
	}
	area := in.FedAreaM2
	if area == 0 {
		area = s.recall.state(x.record).FedSurfaceM2
	}
	t := feedTargets(x.garden.Settings, x.bin.Drained, area)
	if in.NoWater {
		t.WaterMaxG = 0
	}
	return in.leastBedding(feed, kinds, t)
}

func (in RecipeWish) leastBedding(feed []vermi.Component, kinds []vermi.BeddingKind, t vermi.Targets) (Recipe, error) {
	var out Recipe
	var err error
	if out.Recipe, err = vermi.LeastBedding(feed, kinds, t); err != nil {
		return out, farm.Refuse("recipe.invalid", "", "%s", err)
	}
	bare := t
	bare.CoverL = 0
	without, err := vermi.LeastBedding(feed, kinds, bare)
	if err != nil {
		return out, farm.Refuse("recipe.invalid", "", "%s", err)
	}
	out.FloorBinds = out.BeddingG > without.BeddingG+0.5
	sums := map[string]float64{}
	for _, p := range out.Bedding {
		sums[p.Key] += p.Grams
	}
	for _, b := range in.Bedding {
		if g := sums[b.Material]; g > 0 {
			out.ByMaterial = append(out.ByMaterial, vermi.Portion{Key: b.Material, Grams: g})
		}
	}
	return out, nil
}

func (in RecipeWish) feed(f *farm.Faults, x oneBin, known map[string]farm.KnownMaterial, pots *store.Rows[farm.Container]) []vermi.Component {
	var out []vermi.Component
	for i, food := range in.Food {
		at := fmt.Sprintf("/food/%d", i)
		m, ok := known[food.Material]
		if !ok || m.Use != farm.ScrapUse {
			f.Add("material.not_found", at+"/material", "material: %q is not food that this garden knows", food.Material)
			continue
		}
		_, weight, err := weigh(at+"/amount", food.Amount, m.DensityGPerL, x.garden.Settings, pots)
		f.Keep(err)
		out = append(out, vermi.ComponentOf(m.Material, weight.Net))
	}
	return out
}

func (in RecipeWish) kinds(f *farm.Faults, known map[string]farm.KnownMaterial, held []store.BeddingStock) []vermi.BeddingKind {
	var out []vermi.BeddingKind
	seen := map[string]bool{}
	for i, b := range in.Bedding {
		at := fmt.Sprintf("/bedding/%d", i)
		m, ok := known[b.Material]
		switch {
		case !ok || m.Use != farm.BeddingUse:
			f.Add("material.not_found", at+"/material", "material: %q is not bedding that this garden knows", b.Material)
			continue
		case seen[b.Material]:
			f.Add("recipe.invalid", at+"/material", "material: %q is named twice; give its whole stock once", b.Material)
			continue
		}
		seen[b.Material] = true
		if b.Stock != nil {
			g, err := b.Stock.Grams()
			if err != nil || g < 0 {
				f.Add("recipe.invalid", at+"/stock", "stock: must be a mass such as 12.5 kg; got %q %q", b.Stock.Value, b.Stock.Unit)
				continue
			}
			out = append(out, vermi.BeddingOf(moist(m.Material, b.MoisturePct), g))
			continue
		}
		out = append(out, kindsHeld(m.Material, b, held)...)
	}
	return out
}

// kindsHeld are the stocks of a material on the books, each as wet as it is.
func kindsHeld(m farm.Material, b WishBedding, held []store.BeddingStock) []vermi.BeddingKind {
	var out []vermi.BeddingKind
	for _, h := range held {
		if h.Material != m.Key {
			continue
		}
		moisture := b.MoisturePct
		if moisture == 0 {
			moisture = h.MoisturePct
		}
		out = append(out, vermi.BeddingOf(moist(m, moisture), h.Grams))
	}
	return out
}

// moist is bedding at a moisture; 0 is its own.
func moist(m farm.Material, pct float64) farm.Material {
	if pct > 0 && pct < m.MoisturePct.Value { // drier than usual
		m.MoisturePct.Value = pct
	}
	return vermi.Wetted(m, pct)
}

// feedTargets are what a feeding with its bedding should come to by the
// garden's settings, over a fed surface.
func feedTargets(s farm.Settings, drained bool, fedM2 float64) vermi.Targets {
	t := vermi.Targets{CarbonToN: vermi.Band(s.CarbonToNitrogen), WaterMaxG: math.Inf(1), MoisturePct: vermi.Band(s.MoistUndrained),
		CoverL: vermi.CoverL(fedM2, float64(s.CoverMM))}
	if drained {
		t.MoisturePct = vermi.Band(s.MoistDrained)
	}
	return t
}
