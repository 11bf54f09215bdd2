package httpapi

import (
	"github.com/google/uuid"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/measure"
)

// amountIn reads how much, and how it was got.
func amountIn(a api.Amount) farm.Entered {
	e := farm.Entered{Method: farm.MassMethod(a.Method), RelSDPermille: int(value(a.RelSdPermille)),
		Gross: measureIn(a.Mass), Tare: measureIn(a.Tare), ContainerID: value(a.ContainerId),
		Each: measureIn(a.Container), DensityGPerL: value(a.DensityGPerL)}
	if e.Method == farm.ByContainer {
		e.Count, e.FillPct = 1, 100
	}
	setNumber(&e.Count, a.Count)
	setNumber(&e.FillPct, a.FillPercent)
	return e
}

// amountInPtr reads an amount that may be left out.
func amountInPtr(a *api.Amount) *farm.Entered {
	if a == nil {
		return nil
	}
	e := amountIn(*a)
	return &e
}

func measureIn(m *api.Measure) measure.Quantity {
	if m == nil {
		return measure.Quantity{}
	}
	return measure.Quantity{Value: m.Value, Unit: measure.Unit(m.Unit)}
}

// amountOut shows what was entered, as it was entered.
func amountOut(e farm.Entered) api.Amount {
	a := api.Amount{Method: api.AmountMethod(e.Method), Mass: measureOut(e.Gross), Tare: measureOut(e.Tare),
		ContainerId: nonZero(e.ContainerID)}
	if e.Method == farm.ByContainer {
		a.Mass = nil
		if e.ContainerID == uuid.Nil { // else the container says its volume
			a.Container = measureOut(e.Each)
		}
		a.Count, a.FillPercent = ptr(int32(e.Count)), ptr(int32(e.FillPct))
		a.DensityGPerL = nonZero(e.DensityGPerL)
	}
	return a
}

func measureOut(q measure.Quantity) *api.Measure {
	if q.Value == "" {
		return nil
	}
	return &api.Measure{Value: q.Value, Unit: api.Unit(q.Unit)}
}

// amountOutPtr shows an amount that may have been left out.
func amountOutPtr(e *farm.Entered) *api.Amount {
	if e == nil {
		return nil
	}
	a := amountOut(*e)
	return &a
}
