package demo

import (
	"context"
	"math"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/vermi"
)

// The garden's cover over each feeding, in millimetres, and how much of it is
// fresh: the old cover is drawn back over the food first. The moisture that
// bedding is wetted to; how much a set-up takes.
const (
	coverMM   = 20
	freshMM   = 9
	dampPct   = 66.0
	setUpMM   = 150
	perWeek   = 1.1 // feedings of a bin
	ripeAfter = 14
	slackG    = 60 // left behind in the tub: a count of tubs is not exact
)

// bedding is dry stuff, or a batch that ages.
type bedding struct {
	id       uuid.UUID
	material string // of dry stuff
	site     int
	left     float64
	pct      float64 // moisture of a batch
	gPerL    float64
	started  measure.Day
	ready    bool
	standIn  bool
	reserve  bool
}

// receive books dry bedding in.
func (s *story) receive(ctx context.Context, site int, material string, g float64, reserve bool) (*bedding, error) {
	done, err := s.svc.ReceiveDryBedding(ctx, s.lead(), s.garden, service.DryIntake{Material: material, Mass: weighed(g),
		SiteID: s.sites[site], Reserve: reserve}, service.Once{})
	d, err := value(s, done, err)
	if err != nil {
		return nil, err
	}
	b := &bedding{id: d.ID, material: material, site: site, left: float64(d.OnHand), reserve: reserve, gPerL: catalogue[material].DensityGPerL.Value}
	s.dry = append(s.dry, b)
	return b, nil
}

// part is so much of a dry bedding.
type part struct {
	of *bedding
	g  float64
}

// start wets dry bedding to a moisture; a stand-in is usable at once.
func (s *story) start(ctx context.Context, site int, parts []part, wetPct float64, standIn bool, note string) (*bedding, error) {
	in := service.BatchStart{SiteID: s.sites[site], StandIn: standIn, Note: note}
	var dry, water, space float64
	for _, p := range parts {
		e := weighed(p.g)
		in.Parts = append(in.Parts, service.PartOf{ID: p.of.id, Amount: &e})
		m := catalogue[p.of.material]
		dry += p.g * (100 - m.MoisturePct.Value) / 100
		water += p.g * m.MoisturePct.Value / 100
		space += p.g / m.DensityGPerL.Value
	}
	if add := dry*wetPct/(100-wetPct) - water; add > 500 {
		in.Water = measure.Quantity{Value: kilograms(100 * math.Round(add/100)).Value, Unit: measure.Litre}
	}
	in.Tubs = int(math.Ceil(space / 60))
	done, err := s.svc.StartBatch(ctx, s.lead(), s.garden, in, service.Once{})
	made, err := value(s, done, err)
	if err != nil {
		return nil, err
	}
	for _, p := range parts {
		p.of.left -= math.Round(p.g)
	}
	b := &bedding{id: made.ID, site: site, left: float64(made.OnHand), pct: made.MoisturePct, gPerL: float64(made.OnHand) / space,
		started: s.day, standIn: standIn, ready: standIn}
	s.batches = append(s.batches, b)
	return b, nil
}

// layStock brings the first dry bedding: for setting up, and a reserve.
func (s *story) layStock(ctx context.Context) error {
	for site := range siteFacts {
		if _, err := s.receive(ctx, site, "corrugated_cardboard", 9000, true); err != nil {
			return err
		}
		for _, m := range []string{"corrugated_cardboard", "leaves"} {
			if _, err := s.receive(ctx, site, m, 45000, false); err != nil {
				return err
			}
		}
	}
	return nil
}

// dryAt is the dry bedding of a site that may be used, most first.
func (s *story) dryAt(site int, material string) *bedding {
	var best *bedding
	for _, d := range s.dry {
		if d.site == site && d.material == material && !d.reserve && (best == nil || d.left > best.left) {
			best = d
		}
	}
	return best
}

// enough gives parts of cardboard and leaves that come to a dry mass, and
// fetches more when there is not so much.
func (s *story) enough(ctx context.Context, site int, g float64) ([]part, error) {
	var out []part
	for _, m := range []string{"corrugated_cardboard", "leaves"} {
		d := s.dryAt(site, m)
		if d == nil || d.left < g/2 {
			var err error
			if d, err = s.receive(ctx, site, m, 1000*math.Ceil(g/1000+10), false); err != nil {
				return nil, err
			}
		}
		out = append(out, part{d, math.Round(g / 2)})
	}
	return out, nil
}

// usePerWeek is the damp bedding that a site's bins take in a week, in grams.
func (s *story) usePerWeek(site int) float64 {
	var litres float64
	for _, b := range s.bins {
		if b.fact.site == site && b.status != farm.BinQuarantine {
			litres += b.fedSurfaceM2() * freshMM * perWeek
		}
	}
	return litres * 190
}

// tendBedding is the Saturday round: look at what ages, start the next batch.
func (s *story) tendBedding(ctx context.Context) error {
	if !s.is(time.Saturday) {
		return nil
	}
	s.at(14, 0)
	for _, b := range s.batches {
		if b.ready || s.day.Sub(b.started) < ripeAfter-1 {
			continue
		}
		if err := s.lookAt(ctx, b); err != nil {
			return err
		}
	}
	for site := range siteFacts {
		use, has := s.usePerWeek(site), 0.0
		for _, b := range s.batches {
			if b.site == site {
				has += b.left
			}
		}
		if use <= 0 || has > 6*use {
			continue
		}
		s.after(15)
		g := min(1.4*use*(100-dampPct)/100*1.25, 60_000)
		parts, err := s.enough(ctx, site, g)
		if err != nil {
			return err
		}
		if _, err := s.start(ctx, site, parts, dampPct, false, ""); err != nil {
			return err
		}
	}
	s.forgetSpent()
	return nil
}

// lookAt notes a look; a batch that still works is warm.
func (s *story) lookAt(ctx context.Context, b *bedding) error {
	room := math.Round(s.weather.at(s.day, siteFacts[b.site]))
	look := farm.BeddingLook{TempC: room, RoomC: room, Squeeze: 3, Smell: farm.SmellEarth}
	if s.day.Sub(b.started) < 20 && s.chance(0.12) {
		look.TempC, look.Smell = room+4, farm.SmellNothing
	}
	s.after(3)
	done, err := s.svc.LookAtBatch(ctx, s.lead(), s.garden, b.id, look, service.Once{})
	seen, err := value(s, done, err)
	b.ready = err == nil && seen.Ready
	return err
}

func (s *story) forgetSpent() {
	keep := func(list []*bedding) []*bedding {
		out := list[:0]
		for _, b := range list {
			if b.left > slackG {
				out = append(out, b)
			}
		}
		return out
	}
	s.batches, s.dry = keep(s.batches), keep(s.dry)
}

// cover chooses bedding for a feeding: aged and near first, then from another
// site, then the dry stock; a wet bed is covered dry at once.
// What it takes is off the stock.
func (s *story) cover(b *bin, wet bool) (service.LaidOf, *bedding, float64) {
	litres := b.fedSurfaceM2() * freshMM
	pick := func(of *bedding) (service.LaidOf, *bedding, float64) {
		g := math.Floor(min(litres*of.gPerL, of.left-slackG))
		e := weighed(g)
		laid := service.LaidOf{DryID: of.id, Amount: &e}
		if of.material == "" {
			laid = service.LaidOf{BatchID: of.id, Amount: &e}
			if tubs := int(math.Round(litres / 12)); tubs > 0 && s.chance(0.4) && float64(tubs)*12*of.gPerL < 0.9*of.left {
				laid.Amount = &farm.Entered{Method: farm.ByContainer, ContainerID: s.tub, Count: tubs, FillPct: 100}
				g = float64(tubs) * 12 * of.gPerL
			}
		}
		of.left -= g
		return laid, of, g
	}
	if wet {
		for _, d := range s.dry {
			if d.site == b.fact.site && d.left > 3000 {
				return pick(d)
			}
		}
	}
	for _, own := range []bool{true, false} {
		for _, x := range s.batches {
			if x.ready && (x.site == b.fact.site) == own && x.left > 800 {
				return pick(x)
			}
		}
	}
	for _, d := range s.dry {
		if d.left > 3000 && (!d.reserve || d.left > 6000) {
			return pick(d)
		}
	}
	return service.LaidOf{}, nil, 0
}

// asLaid is bedding as the simulation takes it: dry stuff and its water.
func asLaid(kinds []farm.LaidKind, moisturePct float64) (dry []vermi.Food, waterG float64) {
	for _, k := range kinds {
		own := catalogue[k.Material].MoisturePct.Value
		g := float64(k.Grams)
		if moisturePct > own {
			g = g * (100 - moisturePct) / (100 - own)
		}
		whole := measure.Grams(math.Round(g))
		dry = append(dry, vermi.Food{Material: k.Material, Grams: whole})
		waterG += float64(k.Grams - whole)
	}
	return dry, waterG
}
