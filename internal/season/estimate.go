package season

import (
	"fmt"
	"maps"
	"math/big"
	"slices"

	"midden/internal/farm"
	"midden/internal/measure"
)

// EmissionChoice is how a garden states emissions avoided.
type EmissionChoice struct {
	Set     FactorSet
	Credit  Credit // empty: LandfillOnly
	ByGroup bool   // a published row for each go-easy group instead of the food waste mix
	// LandfillShare is the part of the scraps that would have gone to a
	// landfill, asked of contributors; the rest had a better destination
	// already and counts for nothing. Nil takes all of it, and says so.
	LandfillShare *PerMille
}

// estimate applies published factors to what was diverted.
func estimate(c EmissionChoice, groups map[string]farm.Group, r Report) (*Estimate, error) {
	credit := c.Credit
	if credit == "" {
		credit = LandfillOnly
	}
	share := PerMille(1000)
	if c.LandfillShare != nil {
		share = *c.LandfillShare
	}
	if share < 0 || share > 1000 {
		return nil, farm.Refuse(CodeReportSettings, "/emissions/landfill_share",
			"landfill share: must be between 0 %% and 100 %%; got %s", share)
	}
	e := &Estimate{SetID: c.Set.ID, Version: c.Set.Version, Title: c.Set.Title, Source: c.Set.Source, Trust: c.Set.Trust,
		Unit: "g CO2e per short ton, published as " + FactorUnit, Credit: credit, LandfillShare: share,
		Caveats: caveats(c, credit, share)}

	total := new(big.Rat)
	for _, row := range rowsOf(c.ByGroup, groups, r) {
		line, change, err := estimateLine(c.Set, credit, row, share)
		if err != nil {
			return nil, err
		}
		e.Lines = append(e.Lines, line)
		total.Add(total, change)
	}
	return e, e.round(total, r.Diverted)
}

type rowMass struct {
	row  string
	mass measure.Grams
}

// rowsOf gathers what was diverted by the published row that stands for it.
func rowsOf(byGroup bool, groups map[string]farm.Group, r Report) []rowMass {
	if !byGroup {
		return []rowMass{{FoodWasteMix, r.Balance.Diverted}}
	}
	of := map[string]measure.Grams{}
	rows := GroupRows()
	for _, p := range r.ByMaterial {
		row, ok := rows[groups[p.Key]]
		if !ok {
			row = FoodWasteMix
		}
		of[row] += p.Diverted
	}
	var out []rowMass
	for _, row := range slices.Sorted(maps.Keys(of)) {
		out = append(out, rowMass{row, of[row]})
	}
	return out
}

func estimateLine(set FactorSet, credit Credit, row rowMass, share PerMille) (EstimateLine, *big.Rat, error) {
	per, err := set.Change(row.row, credit)
	if err != nil {
		return EstimateLine{}, nil, err
	}
	line := EstimateLine{Row: row.row, Diverted: row.mass}
	if line.Landfilled, err = set.Value(row.row, Landfilled); err != nil {
		return EstimateLine{}, nil, err
	}
	if credit == CompostCredit {
		composted, err := set.Value(row.row, Composted)
		if err != nil {
			return EstimateLine{}, nil, err
		}
		line.Composted = &composted
	}
	change := Emissions(row.mass, per)
	change.Mul(change, big.NewRat(int64(share), 1000))
	line.Change, err = TwoFigures(change)
	return line, change, err
}

// round states the exact change, and the change at both ends of the mass.
func (e *Estimate) round(exact *big.Rat, mass Interval) error {
	at := func(g measure.Grams) (int64, error) {
		if mass.Value <= 0 {
			return TwoFigures(exact)
		}
		return TwoFigures(new(big.Rat).Mul(exact, big.NewRat(int64(g), int64(mass.Value))))
	}
	var err error
	if e.Change, err = TwoFigures(exact); err != nil {
		return err
	}
	one, err := at(mass.Low)
	if err != nil {
		return err
	}
	other, err := at(mass.High)
	e.ChangeFrom, e.ChangeTo = min(one, other), max(one, other)
	return err
}

func caveats(c EmissionChoice, credit Credit, share PerMille) []string {
	out := slices.Clone(c.Set.Caveats)
	if credit == LandfillOnly {
		out = append(out, "Counts the landfill avoided only; composting is given no credit.")
	} else {
		out = append(out, "Takes the credit of central composting, which worm bins may not earn.")
	}
	if c.LandfillShare == nil {
		out = append(out, "Assumes that all scraps would have gone to a landfill; contributors were not asked.")
	} else {
		out = append(out, fmt.Sprintf("Takes %s of the scraps as bound for a landfill, as contributors said.", share))
	}
	if c.ByGroup {
		out = append(out, "Each material takes the published row of its group; which row stands for which group is the garden's choice.")
	}
	return append(out, "The range reflects the uncertainty of the masses only, not that of the factors.")
}
