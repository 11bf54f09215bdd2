package httpapi

import (
	"context"
	"net/http"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func binOut(b farm.Bin) any {
	return api.Bin{Id: b.ID, Name: b.Name, SiteId: b.SiteID, Method: api.BinMethod(b.Method), Shape: shapeOut(b.Shape),
		Drained: b.Drained, Lidded: &b.Lidded, Ventilation: ptr(api.Ventilation(b.Ventilation)), Species: api.SpeciesGroup(b.Species),
		KeeperIds: append([]uuid.UUID{}, b.Keepers...), Status: api.BinStatus(b.Status), SetUp: setUpOut(b.SetUp), Note: nonZero(b.Note),
		Version: int32(b.Version), CreatedAt: b.CreatedAt}
}

func shapeOut(s farm.Shape) api.BinShape {
	return api.BinShape{Kind: api.ShapeKind(s.Kind), LengthMm: nonZero(int32(s.LengthMM)), WidthMm: nonZero(int32(s.WidthMM)),
		DepthMm: nonZero(int32(s.DepthMM)), RadiusMm: nonZero(int32(s.RadiusMM)), Count: nonZero(int32(s.Count))}
}

func setUpOut(s farm.SetUp) *api.SetUp {
	if s == (farm.SetUp{}) {
		return nil
	}
	return &api.SetUp{BeddingLaidOn: dayOutPtr(s.BeddingLaidOn), BeddingDepthMm: nonZero(int32(s.BeddingDepthMM)),
		GritAdded: &s.GritAdded, WormsLaidOn: dayOutPtr(s.WormsLaidOn), FirstFeedOn: dayOutPtr(s.FirstFeedOn)}
}

func binReply(status int) reply[farm.Bin] {
	return reply[farm.Bin]{Status: status, Wire: binOut, Version: func(b farm.Bin) int { return b.Version }}
}

// ListBins lists bins by name.
func (s *Server) ListBins(c echo.Context, g api.GardenId, p api.ListBinsParams) error {
	f := service.BinFilter{Site: value(p.SiteId), Keeper: value(p.KeeperId), Status: farm.BinStatus(value(p.Status))}
	list, err := s.svc.Bins(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, binOut)
}

// CreateBin adds a bin.
func (s *Server) CreateBin(c echo.Context, g api.GardenId, p api.CreateBinParams) error {
	in, err := body[api.BinNew](c)
	if err != nil {
		return err
	}
	bin := farm.Bin{ID: value(in.Id), Name: in.Name, SiteID: in.SiteId, Method: farm.Method(in.Method), Drained: in.Drained,
		Lidded: value(in.Lidded), Ventilation: farm.AirHoles, Species: farm.Species(in.Species), Status: farm.BinStatus(value(in.Status)),
		Note: value(in.Note), Keepers: listIn(in.KeeperIds)}
	setAs(&bin.Ventilation, in.Ventilation)
	patchShape(&bin.Shape, in.Shape)
	patchSetUp(&bin.SetUp, in.SetUp)
	r := binReply(http.StatusCreated)
	r.Location = func(x farm.Bin) string { return gardenPath(g, "bins", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Bin], error) {
		return s.svc.CreateBin(ctx, a, g, bin, o)
	})
}

// GetBin shows one bin.
func (s *Server) GetBin(c echo.Context, g api.GardenId, id api.BinId) error {
	bin, err := s.svc.Bin(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, binReply(http.StatusOK), bin)
}

// UpdateBin changes a bin.
func (s *Server) UpdateBin(c echo.Context, g api.GardenId, id api.BinId, p api.UpdateBinParams) error {
	in, err := body[api.BinPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	bin, err := s.svc.UpdateBin(c.Request().Context(), actor(c), g, id, v, func(b *farm.Bin) { patchBin(b, in) })
	if err != nil {
		return err
	}
	return send(c, binReply(http.StatusOK), bin)
}

func patchBin(b *farm.Bin, in api.BinPatch) {
	set(&b.Name, in.Name)
	set(&b.SiteID, in.SiteId)
	set(&b.Drained, in.Drained)
	set(&b.Lidded, in.Lidded)
	setAs(&b.Ventilation, in.Ventilation)
	setAs(&b.Species, in.Species)
	setAs(&b.Status, in.Status)
	set(&b.Keepers, in.KeeperIds)
	if f := patchOf(in.Note); f.Set {
		b.Note = f.Value
	}
	if in.Shape != nil {
		patchShape(&b.Shape, *in.Shape)
	}
	patchSetUp(&b.SetUp, in.SetUp)
}

// patchShape merges dimensions; another kind of shape begins anew.
func patchShape(s *farm.Shape, in api.BinShape) {
	if kind := farm.ShapeKind(in.Kind); kind != s.Kind {
		*s = farm.Shape{Kind: kind}
	}
	setNumber(&s.LengthMM, in.LengthMm)
	setNumber(&s.WidthMM, in.WidthMm)
	setNumber(&s.DepthMM, in.DepthMm)
	setNumber(&s.RadiusMM, in.RadiusMm)
	setNumber(&s.Count, in.Count)
}

func patchSetUp(s *farm.SetUp, in *api.SetUp) {
	if in == nil {
		return
	}
	setDay(&s.BeddingLaidOn, in.BeddingLaidOn)
	setNumber(&s.BeddingDepthMM, in.BeddingDepthMm)
	set(&s.GritAdded, in.GritAdded)
	setDay(&s.WormsLaidOn, in.WormsLaidOn)
	setDay(&s.FirstFeedOn, in.FirstFeedOn)
}
