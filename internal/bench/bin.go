package main

import (
	"context"

	"midden/internal/farm"
	"midden/internal/service"
)

// plantBin makes a bin with half a year of weekly feedings and checks.
func (b *bench) plantBin(ctx context.Context, a service.Actor, p place) error {
	b.ids.queued = append(b.ids.queued, p.section)
	_, err := b.svc.CreateBin(ctx, a, p.garden, farm.Bin{ID: p.bin, Name: "Bin 1", SiteID: p.site, Method: farm.Batch,
		Shape: farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 450}, Species: farm.Eisenia,
		Ventilation: farm.AirHoles, Status: farm.BinInUse}, service.Once{})
	return err
}
