package httpapi

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func figureOut(f farm.Figure) api.FigureValue {
	return api.FigureValue{Value: f.Value, Low: f.Low, High: f.High, Source: f.Source, Trust: api.TrustMark(f.Trust)}
}

func materialOut(k farm.KnownMaterial) any {
	out := api.Material{Key: k.Key, Name: k.Name, Use: api.MaterialUse(k.Use), Group: groupOut(k.Group),
		NitrogenPercent: figureOut(k.NitrogenPct), CarbonToNitrogen: figureOut(k.CarbonToN), MoisturePercent: figureOut(k.MoisturePct),
		DensityGPerL: figureOut(k.DensityGPerL), ShelfLifeDays: int32(k.ShelfLifeDays), Freezable: k.Freezable, Caution: ptrIf(k.Caution),
		Version: int32(materialVersion(k))}
	out.Overridden = k.Override != nil && !k.Override.Empty()
	if p := k.Published; p != nil && out.Overridden {
		out.Published = &api.MaterialFigures{NitrogenPercent: figureOut(p.NitrogenPct), CarbonToNitrogen: figureOut(p.CarbonToN),
			MoisturePercent: figureOut(p.MoisturePct), DensityGPerL: figureOut(p.DensityGPerL),
			ShelfLifeDays: int32(p.ShelfLifeDays), Freezable: p.Freezable}
	}
	return out
}

// groupOut shows food without a cap of its own as plain.
func groupOut(g farm.Group) api.GoEasyGroup {
	if g == "" {
		g = farm.Plain
	}
	return api.GoEasyGroup(g)
}

// materialVersion is the override's, 0 for none yet.
func materialVersion(k farm.KnownMaterial) int {
	if k.Override == nil {
		return 0
	}
	return k.Override.Version
}

var materialReply = reply[farm.KnownMaterial]{Status: http.StatusOK, Wire: materialOut, Version: materialVersion}

// ListMaterials lists the catalogue as the garden works with it.
func (s *Server) ListMaterials(c echo.Context, g api.GardenId, p api.ListMaterialsParams) error {
	f := service.MaterialFilter{Use: farm.MaterialUse(value(p.Use)), Group: farm.Group(value(p.Group))}
	list, err := s.svc.MaterialPage(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, materialOut)
}

// GetMaterial shows one material.
func (s *Server) GetMaterial(c echo.Context, g api.GardenId, key api.MaterialKey) error {
	k, err := s.svc.Material(c.Request().Context(), actor(c), g, key)
	if err != nil {
		return err
	}
	return send(c, materialReply, k)
}

// PutMaterialOverride sets the garden's own figures for a material.
func (s *Server) PutMaterialOverride(c echo.Context, g api.GardenId, key api.MaterialKey, p api.PutMaterialOverrideParams) error {
	in, err := body[api.MaterialOverride](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	o := farm.MaterialOverride{Key: key, Name: in.Name, NitrogenPct: in.NitrogenPercent, CarbonToN: in.CarbonToNitrogen,
		MoisturePct: in.MoisturePercent, DensityGPerL: in.DensityGPerL, Freezable: in.Freezable, Caution: in.Caution, Note: value(in.Note)}
	if in.Use != nil {
		o.Use = ptr(farm.MaterialUse(*in.Use))
	}
	if in.Group != nil {
		o.Group = ptr(farm.Group(*in.Group))
	}
	if in.ShelfLifeDays != nil {
		o.ShelfLifeDays = ptr(int(*in.ShelfLifeDays))
	}
	k, err := s.svc.SetMaterial(c.Request().Context(), actor(c), g, v, o)
	if err != nil {
		return err
	}
	return send(c, materialReply, k)
}
