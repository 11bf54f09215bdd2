package httpapi

import (
	"context"
	"net/http"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

// binDays reads the filter of a list of what was done to bins.
func binDays(bin *openapi_types.UUID, from, to *openapi_types.Date) service.BinDays {
	return service.BinDays{Bin: value(bin), From: dayInPtr(from), Until: dayInPtr(to)}
}

func checkOut(c farm.Check) any {
	out := api.Check{Id: c.ID, BinId: c.BinID, Kind: api.CheckKind(c.Kind), Smell: nonZero(api.Smell(c.Smell)),
		SqueezeTop: nonZero(int32(c.SqueezeTop)), SqueezeBottom: nonZero(int32(c.SqueezeBottom)), FoodLeft: nonZero(api.FoodLeft(c.FoodLeft)),
		TemperatureFeedC: c.FeedC, TemperatureBedC: c.BedC, TemperatureRoomC: c.RoomC, Thermometer: nonZero(api.Thermometer(c.Thermometer)),
		WormsLeaving: &c.Leaving, Odd: nonZero(c.Odd), OccurredAt: c.OccurredAt, Day: dayOut(c.Day), RecordedAt: c.RecordedAt, ByMemberId: nonZero(c.RecordedBy)}
	if len(c.LeftOf) > 0 {
		out.FoodLeftOf = &c.LeftOf
	}
	if len(c.Pests) > 0 {
		out.Pests = ptr(mapped(c.Pests, func(p farm.Pest) api.Pest { return api.Pest(p) }))
	}
	if len(c.Sections) > 0 {
		out.Sections = ptr(mapped(c.Sections, sectionLookOut))
	}
	return out
}

func sectionLookOut(l farm.SectionLook) api.SectionLook {
	out := api.SectionLook{SectionId: l.SectionID, Worms: nonZero(api.WormGrade(l.Worms)), Texture: nonZero(l.Texture), WetSpots: l.WetSpots}
	if l.DepthMM != nil {
		out.DepthMm = ptr(int32(*l.DepthMM))
	}
	if len(l.PerTrowel) > 0 {
		out.WormsPerTrowel = ptr(mapped(l.PerTrowel, func(n int) int32 { return int32(n) }))
	}
	return out
}

func sectionLookIn(l api.SectionLook) farm.SectionLook {
	out := farm.SectionLook{SectionID: l.SectionId, Worms: farm.WormGrade(value(l.Worms)), Texture: value(l.Texture), WetSpots: l.WetSpots,
		PerTrowel: mapped(listIn(l.WormsPerTrowel), func(n int32) int { return int(n) })}
	if l.DepthMm != nil {
		out.DepthMM = ptr(int(*l.DepthMm))
	}
	return out
}

// CreateCheck records what a keeper saw.
func (s *Server) CreateCheck(c echo.Context, g api.GardenId, bin api.BinId, p api.CreateCheckParams) error {
	in, err := body[api.CheckNew](c)
	if err != nil {
		return err
	}
	check := farm.Check{ID: value(in.Id), BinID: bin, Kind: farm.CheckKind(in.Kind), Smell: farm.Smell(value(in.Smell)),
		SqueezeTop: farm.Squeeze(value(in.SqueezeTop)), SqueezeBottom: farm.Squeeze(value(in.SqueezeBottom)),
		FoodLeft: farm.FoodLeft(value(in.FoodLeft)), LeftOf: listIn(in.FoodLeftOf), FeedC: in.TemperatureFeedC, BedC: in.TemperatureBedC,
		RoomC: in.TemperatureRoomC, Thermometer: farm.Thermometer(value(in.Thermometer)), Leaving: value(in.WormsLeaving), Odd: value(in.Odd),
		Pests:    mapped(listIn(in.Pests), func(p api.Pest) farm.Pest { return farm.Pest(p) }),
		Sections: mapped(listIn(in.Sections), sectionLookIn), OccurredAt: value(in.OccurredAt)}
	r := reply[farm.Check]{Status: http.StatusCreated, Wire: checkOut, Location: func(x farm.Check) string { return underBin(g, bin, "checks", x.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Check], error) {
		return s.svc.RecordCheck(ctx, a, g, check, o)
	})
}

// ListChecks lists checks, the latest first.
func (s *Server) ListChecks(c echo.Context, g api.GardenId, p api.ListChecksParams) error {
	list, err := s.svc.Checks(c.Request().Context(), actor(c), g, binDays(p.BinId, p.From, p.To), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, checkOut)
}

// underBin is where a thing of a bin is found.
func underBin(garden, bin uuid.UUID, collection string, id uuid.UUID) string {
	return gardenPath(garden, "bins", bin) + "/" + collection + "/" + id.String()
}
