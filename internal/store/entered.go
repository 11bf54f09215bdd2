package store

import (
	"encoding/json"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

// enteredDoc is an amount as a person gave it, in a jsonb column.
type enteredDoc struct {
	Method       string     `json:"method"`
	Value        string     `json:"value,omitempty"`
	Unit         string     `json:"unit,omitempty"`
	TareValue    string     `json:"tare_value,omitempty"`
	TareUnit     string     `json:"tare_unit,omitempty"`
	ContainerID  *uuid.UUID `json:"container_id,omitempty"`
	Container    string     `json:"container,omitempty"`
	EachValue    string     `json:"each_value,omitempty"`
	EachUnit     string     `json:"each_unit,omitempty"`
	Count        int        `json:"count,omitempty"`
	FillPct      int        `json:"fill_pct,omitempty"`
	DensityGPerL float64    `json:"density_g_per_l,omitempty"`
	RelSD        int        `json:"rel_sd_permille,omitempty"`
}

// enteredJSON is the column's value; NULL for nil, which means all that was left.
func enteredJSON(e *farm.Entered) (*string, error) {
	if e == nil {
		return nil, nil
	}
	b, err := json.Marshal(enteredDoc{Method: string(e.Method), Value: e.Gross.Value, Unit: string(e.Gross.Unit),
		TareValue: e.Tare.Value, TareUnit: string(e.Tare.Unit), ContainerID: idOrNull(e.ContainerID), Container: e.Container, EachValue: e.Each.Value,
		EachUnit: string(e.Each.Unit), Count: e.Count, FillPct: e.FillPct, DensityGPerL: e.DensityGPerL, RelSD: e.RelSDPermille})
	text := string(b)
	return &text, err
}

func (d *enteredDoc) entered() *farm.Entered {
	if d == nil {
		return nil
	}
	q := func(value, unit string) measure.Quantity {
		return measure.Quantity{Value: value, Unit: measure.Unit(unit)}
	}
	return &farm.Entered{Method: farm.MassMethod(d.Method), Gross: q(d.Value, d.Unit), Tare: q(d.TareValue, d.TareUnit),
		ContainerID: idOf(d.ContainerID), Container: d.Container, Each: q(d.EachValue, d.EachUnit), Count: d.Count, FillPct: d.FillPct,
		DensityGPerL: d.DensityGPerL, RelSDPermille: d.RelSD}
}
