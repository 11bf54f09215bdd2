package httpapi

import (
	"context"
	"net/http"

	openapi_types "github.com/oapi-codegen/runtime/types"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/oapi-codegen/nullable"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

func gardenOut(g farm.Garden) any {
	return api.Garden{Id: g.ID, Name: g.Name, TimeZone: g.TimeZone, Hemisphere: api.Hemisphere(g.Hemisphere),
		Units: api.UnitSystem(g.Units), Settings: settingsOut(g.Settings), Version: int32(g.Version), CreatedAt: g.CreatedAt}
}

func gardenReply(status int) reply[farm.Garden] {
	return reply[farm.Garden]{Status: status, Wire: gardenOut, Version: func(g farm.Garden) int { return g.Version }}
}

// ListGardens lists the person's gardens.
func (s *Server) ListGardens(c echo.Context, p api.ListGardensParams) error {
	list, err := s.svc.MyGardens(c.Request().Context(), actor(c), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, func(m service.Mine) any { return gardenOut(m.Garden) })
}

// CreateGarden founds a garden.
func (s *Server) CreateGarden(c echo.Context, p api.CreateGardenParams) error {
	in, err := body[api.GardenNew](c)
	if err != nil {
		return err
	}
	g := service.GardenNew{ID: value(in.Id), Name: in.Name, TimeZone: in.TimeZone,
		Hemisphere: farm.Hemisphere(in.Hemisphere), Units: measure.System(in.Units)}
	if in.Settings != nil {
		settings := farm.DefaultSettings()
		patchSettings(&settings, *in.Settings)
		g.Settings = &settings
	}
	r := gardenReply(http.StatusCreated)
	r.Location = func(x farm.Garden) string { return "/v1/gardens/" + x.ID.String() }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Garden], error) {
		return s.svc.CreateGarden(ctx, a, g, o)
	})
}

// GetGarden shows one garden.
func (s *Server) GetGarden(c echo.Context, id api.GardenId) error {
	g, _, err := s.svc.Garden(c.Request().Context(), actor(c), id)
	if err != nil {
		return err
	}
	return send(c, gardenReply(http.StatusOK), g)
}

// UpdateGarden changes a garden's settings.
func (s *Server) UpdateGarden(c echo.Context, id api.GardenId, p api.UpdateGardenParams) error {
	in, err := body[api.GardenPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	g, err := s.svc.UpdateGarden(c.Request().Context(), actor(c), id, v, func(g *farm.Garden) {
		set(&g.Name, in.Name)
		set(&g.TimeZone, in.TimeZone)
		setAs(&g.Hemisphere, in.Hemisphere)
		setAs(&g.Units, in.Units)
		if in.Settings != nil {
			patchSettings(&g.Settings, *in.Settings)
		}
	})
	if err != nil {
		return err
	}
	return send(c, gardenReply(http.StatusOK), g)
}

func settingsOut(s farm.Settings) api.GardenSettings {
	out := api.GardenSettings{
		OpenFrom: dayOutPtr(s.OpenFrom), BeddingAgeDays: int32(s.BeddingAgeDays), CoverMm: int32(s.CoverMM),
		MoistureDrainedPercent: bandOut(s.MoistDrained), MoistureUndrainedPercent: bandOut(s.MoistUndrained),
		CarbonToNitrogen: bandOut(s.CarbonToNitrogen), HeatNoFeedC: s.HeatNoFeedC, HeatOpenC: s.HeatOpenC,
		HeatCallC: s.HeatCallC, ColdFeedLittleC: s.ColdFeedLittleC, WeeklyLimitG: s.WeeklyLimitG,
		VolumeLimitL: int32(s.VolumeLimitL), AreaLimitM2: s.AreaLimitM2, LimitsNote: s.LimitsNote,
		DryBeddingReserveG: s.DryBeddingG, DefaultSiteId: nonZero(s.DefaultSiteID), EstimateSdPercent: int32(s.EstimateSDPct),
		ContainerSdPercent: int32(s.ContainerSDPct), ScaleSdPermille: int32(s.ScaleSDPermille), AcceptWithoutTag: s.AcceptWithoutTag,
		SharingRule: api.SharingRule{Kind: api.SharingKind(s.Sharing.Kind), ReservePercent: s.Sharing.ReservePct},
		Calendar:    api.SeasonCalendar{Kind: api.CalendarKind(s.Calendar.Kind)},
		PlanPrices:  pricesOut(s.Prices),
	}
	if len(s.Calendar.Seasons) > 0 {
		out.Calendar.Seasons = ptr(mapped(s.Calendar.Seasons, func(x farm.CustomSeason) api.CustomSeason {
			return api.CustomSeason{Key: x.Key, Label: x.Label, Start: dayOut(x.Start), End: dayOut(x.End)}
		}))
	}
	return out
}

func bandOut(b farm.Band) api.Band { return api.Band{Low: b.Low, High: b.High} }

func patchSettings(s *farm.Settings, in api.GardenSettingsPatch) {
	if f := patchOf[openapi_types.Date](in.OpenFrom); f.Set {
		s.OpenFrom = measure.Day{}
		if !f.Clear {
			s.OpenFrom = dayIn(f.Value)
		}
	}
	patchID(&s.DefaultSiteID, in.DefaultSiteId)
	setNumber(&s.BeddingAgeDays, in.BeddingAgeDays)
	setNumber(&s.CoverMM, in.CoverMm)
	setBand(&s.MoistDrained, in.MoistureDrainedPercent)
	setBand(&s.MoistUndrained, in.MoistureUndrainedPercent)
	setBand(&s.CarbonToNitrogen, in.CarbonToNitrogen)
	set(&s.HeatNoFeedC, in.HeatNoFeedC)
	set(&s.HeatOpenC, in.HeatOpenC)
	set(&s.HeatCallC, in.HeatCallC)
	set(&s.ColdFeedLittleC, in.ColdFeedLittleC)
	set(&s.WeeklyLimitG, in.WeeklyLimitG)
	setNumber(&s.VolumeLimitL, in.VolumeLimitL)
	set(&s.AreaLimitM2, in.AreaLimitM2)
	set(&s.LimitsNote, in.LimitsNote)
	set(&s.DryBeddingG, in.DryBeddingReserveG)
	setNumber(&s.EstimateSDPct, in.EstimateSdPercent)
	setNumber(&s.ContainerSDPct, in.ContainerSdPercent)
	setNumber(&s.ScaleSDPermille, in.ScaleSdPermille)
	set(&s.AcceptWithoutTag, in.AcceptWithoutTag)
	if r := in.SharingRule; r != nil {
		s.Sharing = farm.SharingRule{Kind: farm.SharingKind(r.Kind), ReservePct: r.ReservePercent}
	}
	if k := in.Calendar; k != nil {
		s.Calendar = farm.SeasonDates{Kind: farm.CalendarKind(k.Kind), Seasons: mapped(listIn(k.Seasons), func(x api.CustomSeason) farm.CustomSeason {
			return farm.CustomSeason{Key: x.Key, Label: x.Label, Start: dayIn(x.Start), End: dayIn(x.End)}
		})}
	}
	if in.PlanPrices != nil {
		s.Prices = pricesIn(*in.PlanPrices)
	}
}

func setBand(into *farm.Band, b *api.Band) {
	if b != nil {
		*into = farm.Band{Low: b.Low, High: b.High}
	}
}

// setAs puts a named field of another string type in its place.
func setAs[T, W ~string](into *T, p *W) {
	if p != nil {
		*into = T(*p)
	}
}

// setNumber puts a named whole number in its place.
func setNumber[T ~int | ~int64, W ~int32 | ~int64](into *T, p *W) {
	if p != nil {
		*into = T(*p)
	}
}

// patchID puts a nullable id in its place; null clears it.
func patchID(into *uuid.UUID, n nullable.Nullable[openapi_types.UUID]) {
	if f := patchOf(n); f.Set {
		*into = f.Value
	}
}

func pricesOut(p farm.PlanPrices) api.PlanPrices {
	return api.PlanPrices{PerKgEaten: int32(p.PerKgEaten), PerVisit: int32(p.PerVisit), Per100mKg: int32(p.Per100mKg),
		HoldPerKgDay: int32(p.HoldPerKgDay), ThawPerKg: int32(p.ThawPerKg),
		LoadSlopes: mapped(p.LoadSlopes[:], func(v int64) int32 { return int32(v) })}
}

func pricesIn(p api.PlanPrices) farm.PlanPrices {
	out := farm.PlanPrices{PerKgEaten: int64(p.PerKgEaten), PerVisit: int64(p.PerVisit), Per100mKg: int64(p.Per100mKg),
		HoldPerKgDay: int64(p.HoldPerKgDay), ThawPerKg: int64(p.ThawPerKg)}
	for i := range out.LoadSlopes {
		if i < len(p.LoadSlopes) {
			out.LoadSlopes[i] = int64(p.LoadSlopes[i])
		}
	}
	return out
}
