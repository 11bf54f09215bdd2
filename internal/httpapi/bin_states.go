package httpapi

import (
	"math"
	"net/http"
	"time"

	openapi_types "github.com/oapi-codegen/runtime/types"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/vermi"
)

func intervalOut(e vermi.Estimated) api.Interval {
	return api.Interval{Mean: e.Mean, Low50: e.P25, High50: e.P75, Low90: e.P05, High90: e.P95}
}

func vermiDayOut(d vermi.Day) openapi_types.Date {
	return openapi_types.Date{Time: time.Unix(int64(d)*86400, 0).UTC()}
}

func stateOut(b service.BinSeen) any {
	s := b.State
	rate := s.Appetite.Rate
	return api.BinState{BinId: b.Bin.ID, Day: dayOut(b.Day), WormStockG: intervalOut(s.Worms), WormsRecorded: &s.WormsRecorded,
		AppetiteGPerDay: intervalOut(s.Appetite.PerDayG), BoundBy: api.AppetiteBound(s.Appetite.Bound),
		BacklogG: int64(math.Round(s.Backlog.TotalG)), Backlog: mapped(s.Backlog.ByGroup, backlogOut), DaysToClear: float64(s.Backlog.DaysToClear),
		FillDepthMm: int32(math.Round(s.FillMM)), FreeDepthMm: int32(math.Round(s.FreeMM)), MoisturePercent: s.MoisturePct,
		MoistureAssumed: &s.MoistureAssumed, TemperatureC: s.TempC, TemperatureFrom: tempFrom(s.TempFrom, b.LastTemp),
		CastingsG: intervalOut(castings(s.Castings)), ReadyOn: firstReady(s.Ready), KPerDay: intervalOut(rate.K), Observations: rate.Worth,
		Advice: mapped(s.Shown(), adviceOut)}
}

func backlogOut(g vermi.GroupBacklog) api.BacklogItem {
	return api.BacklogItem{Group: api.GoEasyGroup(g.Group), MassG: int64(math.Round(g.Grams))}
}

func adviceOut(n vermi.Need) api.AdviceItem {
	return api.AdviceItem{Code: n.Code, Urgency: api.Urgency(n.Urgency.String()), WhatToDo: n.Do, Why: n.Why, Caution: nonZero(n.Caution), Source: n.Source}
}

// tempFrom says in words where a temperature came from.
func tempFrom(s vermi.TempSource, on measure.Day) string {
	switch {
	case s == vermi.TempMeasured && !on.IsZero():
		return "bed reading of " + on.String()
	case s == vermi.TempRoom && !on.IsZero():
		return "room reading of " + on.String()
	case s == vermi.TempExpected:
		return "expected"
	}
	return "assumed: nobody measured of late"
}

// castings adds up what the sections would give; they err alike.
func castings(list []vermi.CastingsEstimate) vermi.Estimated {
	var sum vermi.Estimated
	for _, c := range list {
		e := c.WetG
		sum = vermi.Estimated{Mean: sum.Mean + e.Mean, P05: sum.P05 + e.P05, P25: sum.P25 + e.P25, P75: sum.P75 + e.P75, P95: sum.P95 + e.P95}
	}
	return sum
}

// firstReady is the day on which the first section is likely ready.
func firstReady(list []vermi.ReadyOn) *openapi_types.Date {
	var first *openapi_types.Date
	for _, r := range list {
		if d := vermiDayOut(r.Likely); r.Known && (first == nil || d.Before(first.Time)) {
			first = &d
		}
	}
	return first
}

// GetBinState shows a bin as the records have it.
func (s *Server) GetBinState(c echo.Context, g api.GardenId, bin api.BinId, p api.GetBinStateParams) error {
	b, err := s.svc.BinState(c.Request().Context(), actor(c), g, bin, dayInPtr(p.Day))
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, stateOut(b))
}

// GetBinForecast runs a bin forward.
func (s *Server) GetBinForecast(c echo.Context, g api.GardenId, bin api.BinId, p api.GetBinForecastParams) error {
	f, err := s.svc.BinForecast(c.Request().Context(), actor(c), g, bin, int(value(p.Days)))
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, api.BinForecast{BinId: f.BinID, From: dayOut(f.From), Days: mapped(f.Days, func(d vermi.ForecastDay) api.ForecastDay {
		return api.ForecastDay{Day: vermiDayOut(d.Day), AppetiteG: intervalOut(d.AppetiteG), BacklogG: intervalOut(d.BacklogG), TemperatureC: d.TempC}
	})})
}

// ComputeRecipe works out the least bedding for a feeding.
func (s *Server) ComputeRecipe(c echo.Context, g api.GardenId, bin api.BinId) error {
	in, err := body[api.RecipeRequest](c)
	if err != nil {
		return err
	}
	wish := service.RecipeWish{FedAreaM2: value(in.FedAreaM2), NoWater: in.WaterAllowed != nil && !*in.WaterAllowed,
		Food: mapped(in.Food, func(f api.RecipeFood) service.WishFood {
			return service.WishFood{Material: f.Material, Amount: amountIn(f.Amount)}
		}),
		Bedding: mapped(in.Bedding, func(b api.RecipeBedding) service.WishBedding {
			out := service.WishBedding{Material: b.Material, MoisturePct: value(b.MoisturePercent)}
			if b.Stock != nil {
				out.Stock = ptr(measureIn(b.Stock))
			}
			return out
		})}
	r, err := s.svc.BinRecipe(c.Request().Context(), actor(c), g, bin, wish)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, recipeOut(r))
}

func recipeOut(r service.Recipe) api.Recipe {
	return api.Recipe{WaterG: int64(math.Round(r.WaterG)), MoisturePercent: r.MoisturePct, CarbonToNitrogen: r.CarbonToN, Reached: len(r.Missed) == 0,
		Unreached: mapped(r.Missed, func(u vermi.Unreachable) string { return u.Message }), FloorBinds: r.FloorBinds,
		Bedding: mapped(r.ByMaterial, func(p vermi.Portion) api.RecipeLine {
			return api.RecipeLine{Material: p.Key, MassG: int64(math.Ceil(p.Grams))}
		})}
}
