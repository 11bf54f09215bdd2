package main

import (
	"context"
	"fmt"
	"time"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

const weeksOfRecords = 26

// plantBin makes a bin with half a year of weekly feedings and checks.
func (b *bench) plantBin(ctx context.Context, a service.Actor, p place) error {
	began := time.Now().AddDate(0, 0, -7*weeksOfRecords)
	set := measure.DayIn(began, time.UTC)
	b.ids.queued = append(b.ids.queued, p.section)
	_, err := b.svc.CreateBin(ctx, a, p.garden, farm.Bin{ID: p.bin, Name: "Bin 1", SiteID: p.site, Method: farm.Batch,
		Shape: farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 450}, Species: farm.Eisenia,
		Ventilation: farm.AirHoles, Status: farm.BinSetUp, SetUp: farm.SetUp{WormsLaidOn: set}}, service.Once{})
	if err != nil {
		return err
	}
	_, err = b.svc.MoveWorms(ctx, a, p.garden, service.WormMove{OccurredAt: began, From: farm.WormEnd{Outside: "a neighbour's bin"},
		To:    farm.WormEnd{BinID: p.bin, SectionID: p.section},
		Worms: farm.WormAmount{Method: farm.WormsWeighed, LiveMass: kilograms("1.5")}, Species: farm.Eisenia, Reason: farm.ForSetUp}, service.Once{})
	if err != nil {
		return err
	}
	for week := range weeksOfRecords {
		at := began.AddDate(0, 0, 7*week+1)
		_, err := b.svc.Feed(ctx, a, p.garden, service.FeedIn{OccurredAt: at, BinID: p.bin, SectionID: p.section,
			Unrecorded: []service.Unrecorded{{Material: "mixed_kitchen_scraps", Mass: farm.Entered{Method: farm.ByEstimate, Gross: kilograms("2.4")}}}}, service.Once{})
		if err != nil {
			return fmt.Errorf("feeding: %w", err)
		}
		bed := 18.5
		_, err = b.svc.RecordCheck(ctx, a, p.garden, farm.Check{BinID: p.bin, Kind: farm.QuickCheck, OccurredAt: at.AddDate(0, 0, 3),
			Smell: farm.SmellEarth, SqueezeTop: 3, SqueezeBottom: 3, FoodLeft: farm.LeftLittle, BedC: &bed, Thermometer: farm.Probe}, service.Once{})
		if err != nil {
			return fmt.Errorf("check: %w", err)
		}
	}
	return nil
}

func kilograms(s string) measure.Quantity { return measure.Quantity{Value: s, Unit: measure.Kilogram} }
