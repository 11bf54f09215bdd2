package service

import (
	"math/big"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// shelf is stock that a use case takes from: its heads are locked.
type shelf struct {
	*Work
	day       measure.Day
	materials map[string]farm.KnownMaterial
	stocks    []store.Stock
	vessels   *store.Rows[farm.Container]
}

// taken is so much of a stock: what was entered, with what its container says
// (nil for all that was left), and how the mass was got.
type taken struct {
	farm.Weight
	entered *farm.Entered
	how     ledger.Method
}

// take is how much of a holding is meant: what was entered, or, for nil, all
// that is left from the day on. It refuses with mass.invalid, container.not_found, and with
// lot.empty or bedding.short when there is nothing or not so much.
func (h shelf) take(field string, a ledger.Account, sub ledger.Substance, material string, e *farm.Entered, sdPermille int) (taken, error) {
	left := store.Find(h.stocks, ledger.Holding{Account: a, Substance: sub}).Least(h.day)
	return h.of(field, a, left, h.materials[material].DensityGPerL, e, sdPermille)
}

// of is take with what is left and the density known.
func (h shelf) of(field string, a ledger.Account, left measure.Grams, density farm.Figure, e *farm.Entered, sdPermille int) (taken, error) {
	code, what := farm.Code("bedding.short"), "bedding"
	if a.Kind == ledger.Lot {
		code, what = "lot.empty", "lot"
	}
	if e == nil {
		if left <= 0 {
			return taken{}, farm.Refuse(code, field, "%s %s holds nothing from %s on", what, a.ID, h.day)
		}
		return taken{farm.Weight{Net: left, RelSDPermille: sdPermille}, nil, ledger.Book}, nil
	}
	entered, w, err := h.weigh(field, *e, density, h.vessels)
	if err == nil && w.Net > left {
		err = farm.Refuse(code, field, "%s %s holds %d g from %s on; asked for %d g", what, a.ID, left, h.day, w.Net)
	}
	return taken{w, &entered, methodOf(e.Method)}, err
}

// takeBatch takes from each kind of a batch in proportion to what is left of
// it. It refuses like take.
func (h shelf) takeBatch(field string, b store.BatchOnHand, e *farm.Entered) (taken, []farm.LaidKind, error) {
	account := ledger.BeddingAccount(b.ID)
	var kinds []farm.LaidKind
	var left []measure.Grams
	var total measure.Grams
	for _, s := range h.stocks {
		if n := s.Least(h.day); s.Account == account && n > 0 {
			kinds, left, total = append(kinds, farm.LaidKind{Material: s.Substance.Key()}), append(left, n), total+n
		}
	}
	t, err := h.of(field, account, total, h.densityOf(b), e, batchSD(b))
	if err != nil {
		return t, nil, err
	}
	laid := kinds[:0]
	for i, n := range spread(t.Net, left) {
		if n > 0 {
			laid = append(laid, farm.LaidKind{Material: kinds[i].Material, Grams: n})
		}
	}
	return t, laid, nil
}

// densityOf is a batch's bulk density as it lies: the kinds fill their own
// volume, and the water they took up adds mass to it.
func (h shelf) densityOf(b store.BatchOnHand) farm.Figure {
	mass, litres := float64(b.WaterG), 0.0
	for _, p := range b.Parts {
		if d := h.materials[p.Material].DensityGPerL.Value; d > 0 {
			mass, litres = mass+float64(p.Net), litres+float64(p.Net)/d
		}
	}
	if litres == 0 {
		return farm.Figure{}
	}
	return farm.Figure{Value: mass / litres}
}

// batchSD is the spread of what is left of a batch: that of its widest part.
func batchSD(b store.BatchOnHand) (permille int) {
	for _, p := range b.Parts {
		permille = max(permille, p.RelSDPermille)
	}
	return permille
}

// materialsByKey is what the garden knows of each material.
func (s *Service) materialsByKey(overrides []farm.MaterialOverride) map[string]farm.KnownMaterial {
	out := map[string]farm.KnownMaterial{}
	for _, m := range s.knownMaterials(overrides) {
		out[m.Key] = m
	}
	return out
}

// spread shares grams in proportion to masses, to the gram: what is cut off
// below a gram goes one by one to the first shares with room.
func spread(g measure.Grams, masses []measure.Grams) []measure.Grams {
	out := make([]measure.Grams, len(masses))
	var total measure.Grams
	for _, m := range masses {
		total += m
	}
	if total <= 0 {
		return out
	}
	rest := g
	for i, m := range masses {
		share := new(big.Int).Mul(big.NewInt(int64(g)), big.NewInt(int64(m)))
		out[i] = measure.Grams(share.Quo(share, big.NewInt(int64(total))).Int64())
		rest -= out[i]
	}
	for i := 0; rest > 0; i = (i + 1) % len(masses) {
		if masses[i] > 0 && (g > total || out[i] < masses[i]) {
			out[i]++
			rest--
		}
	}
	return out
}
