package store

import (
	"midden/internal/farm"
	"midden/internal/measure"
)

// quantityDoc is a quantity as it was entered, in a jsonb column.
type quantityDoc struct {
	Value string `json:"value"`
	Unit  string `json:"unit"`
}

func quantityIn(q measure.Quantity) quantityDoc { return quantityDoc{q.Value, string(q.Unit)} }

func (d quantityDoc) quantity() measure.Quantity {
	return measure.Quantity{Value: d.Value, Unit: measure.Unit(d.Unit)}
}

// wormsDoc is an amount of live worms as it was entered, in a jsonb column. Its
// keys are those of the contract.
type wormsDoc struct {
	Method      string      `json:"method"`
	LiveMass    quantityDoc `json:"live_mass,omitzero"`
	Material    quantityDoc `json:"material_mass,omitzero"`
	FractionPct float64     `json:"worm_fraction_percent,omitempty"`
	SharePct    float64     `json:"share_percent,omitempty"`
	Count       int         `json:"count,omitempty"`
	MeanMG      float64     `json:"mean_worm_mg,omitempty"`
}

func wormsIn(a farm.WormAmount) wormsDoc {
	return wormsDoc{string(a.Method), quantityIn(a.LiveMass), quantityIn(a.Material), a.FractionPct, a.SharePct, a.Count, a.MeanMG}
}

func (d wormsDoc) worms() farm.WormAmount {
	return farm.WormAmount{Method: farm.WormMethod(d.Method), LiveMass: d.LiveMass.quantity(), Material: d.Material.quantity(),
		FractionPct: d.FractionPct, SharePct: d.SharePct, Count: d.Count, MeanMG: d.MeanMG}
}
