package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
	"midden/internal/vermi"
)

// rememberedDays is how far back a bin's records are read. Food and bedding of
// longer ago are eaten, and what the worms were then is taken from the books.
const rememberedDays = 400

// binPast is what happened to bins, sorted by bin.
type binPast struct {
	from   measure.Day
	events map[uuid.UUID]*vermi.Record
}

// newBinPast sorts a history that was read.
func newBinPast(h store.BinHistory) binPast {
	p := binPast{h.From, map[uuid.UUID]*vermi.Record{}}
	for _, x := range h.Opening.Values {
		p.moved(x.Bin, h.From, x.Grams, farm.WormsShare.RelSDPermille())
	}
	for _, x := range h.Transfers.Values {
		if x.From.BinID == x.To.BinID {
			p.moved(x.From.BinID, x.Day, -x.Lost, x.RelSDPermille)
			continue
		}
		p.moved(x.From.BinID, x.Day, -x.Grams, x.RelSDPermille)
		p.moved(x.To.BinID, x.Day, x.Grams-x.Lost, x.RelSDPermille)
	}
	for _, x := range h.Harvests.Values {
		r := p.of(x.BinID)
		r.Harvests = append(r.Harvests, vermi.Harvest{On: vermiDay(x.Day), Section: x.SectionID.String(), Grams: x.Grams, Emptied: x.Emptied})
		if x.WormsOut != nil {
			p.moved(x.BinID, x.Day, -x.WormsGrams, x.WormsOut.Method.RelSDPermille())
		}
	}
	p.fed(h.Food.Values)
	for _, x := range h.Bedding.Values {
		p.laid(x.BinID, x.SectionID, x.On, x.Material, x.Grams, x.MoisturePct)
	}
	for _, x := range h.Checks.Values {
		r := p.of(x.BinID)
		r.Checks = append(r.Checks, seenAtCheck(x))
	}
	for _, x := range h.Care.Values {
		p.cared(x)
	}
	return p
}

func (p binPast) of(bin uuid.UUID) *vermi.Record {
	r, ok := p.events[bin]
	if !ok {
		r = &vermi.Record{}
		p.events[bin] = r
	}
	return r
}

func (p binPast) moved(bin uuid.UUID, on measure.Day, g measure.Grams, relSDPermille int) {
	if bin == uuid.Nil || g == 0 {
		return
	}
	r := p.of(bin)
	r.Transfers = append(r.Transfers, vermi.Transfer{On: vermiDay(on), Grams: g, RelSDPermille: relSDPermille})
}

// fed gathers the foods of one feeding, which come one after another.
func (p binPast) fed(rows []store.Fed) {
	var last uuid.UUID
	for _, x := range rows {
		r := p.of(x.BinID)
		if x.FeedingID != last {
			r.Feedings = append(r.Feedings, vermi.Feeding{On: vermiDay(x.On), Section: x.SectionID.String()})
			last = x.FeedingID
		}
		f := &r.Feedings[len(r.Feedings)-1]
		f.Food = append(f.Food, vermi.Food{Material: x.Material, Grams: x.Grams})
	}
}

func (p binPast) laid(bin, section uuid.UUID, on measure.Day, material string, g measure.Grams, moisturePct float64) {
	r := p.of(bin)
	r.Bedding = append(r.Bedding, vermi.BeddingLaid{On: vermiDay(on), Section: section.String(), Material: material, Grams: g, MoisturePct: moisturePct})
}

func (p binPast) cared(c farm.CareEvent) {
	r := p.of(c.BinID)
	kind, ok := map[farm.CareKind]vermi.CareKind{farm.Turned: vermi.Turning, farm.Watered: vermi.Watering, farm.FoodRemoved: vermi.Removal}[c.Kind]
	if ok {
		r.Care = append(r.Care, vermi.Care{On: vermiDay(c.Day), Kind: kind, Grams: c.Grams})
	}
	for _, l := range c.Laid {
		p.laid(c.BinID, c.SectionID, c.Day, l.Material, l.Grams, c.MoisturePct)
	}
}

func seenAtCheck(c farm.Check) vermi.Check {
	out := vermi.Check{On: vermiDay(c.Day), Smell: c.Smell, SqueezeTop: c.SqueezeTop, SqueezeBottom: c.SqueezeBottom, Left: c.FoodLeft,
		LeftOf: c.LeftOf, HotC: c.FeedC, BedC: c.BedC, RoomC: c.RoomC, Leaving: c.Leaving}
	for _, x := range c.Pests {
		if x == farm.RatsOrMice {
			out.Pests = append(out.Pests, vermi.PestRodents)
			continue
		}
		out.Pests = append(out.Pests, vermi.Pest(x))
	}
	for _, l := range c.Sections {
		look := vermi.SectionLook{Section: l.SectionID.String(), Worms: vermi.WormLook(l.Worms)}
		if l.DepthMM != nil {
			look.DepthMM = float64(*l.DepthMM)
		}
		out.Sections = append(out.Sections, look)
	}
	return out
}

// binKeeping is what a garden says of all its bins.
type binKeeping struct {
	asOf      measure.Day
	settings  farm.Settings
	materials map[string]farm.Material // nil: the published ones
	outdoor   map[uuid.UUID]bool       // sites under the open sky
}

func (s *Service) keeping(asOf measure.Day, g farm.Garden, sites []farm.Site, overrides []farm.MaterialOverride) binKeeping {
	k := binKeeping{asOf, g.Settings, nil, map[uuid.UUID]bool{}}
	if len(overrides) > 0 || s.ownCatalogue {
		k.materials = map[string]farm.Material{}
		for key, m := range s.materialsByKey(overrides) {
			k.materials[key] = m.Material
		}
	}
	for _, x := range sites {
		k.outdoor[x.ID] = x.Kind == farm.Outdoors || x.Kind == farm.Plot
	}
	return k
}

// record is all that is known of a bin.
func (p binPast) record(k binKeeping, b farm.Bin, sections []farm.Section) vermi.Record {
	r, bare, settings := *p.of(b.ID), bareRecord(b, sections, k.asOf, k.materials), vermiSettings(k.settings)
	r.AsOf, r.Bin, r.Sections, r.Materials, r.Settings = bare.AsOf, bare.Bin, bare.Sections, bare.Materials, &settings
	r.Bin.Outdoor = k.outdoor[b.SiteID]
	if on := b.SetUp.WormsLaidOn; !on.IsZero() {
		if on.Before(p.from) {
			on = p.from // long since run in
		}
		r.Bin.SetUpOn = vermiDay(on)
	}
	return r
}

// vermiSettings are the published figures with what the garden sets itself.
func vermiSettings(s farm.Settings) vermi.Settings {
	out := vermi.DefaultSettings()
	out.CoverMM, out.WatchC, out.OpenC, out.CallC, out.LittleC = float64(s.CoverMM), s.HeatNoFeedC, s.HeatOpenC, s.HeatCallC, s.ColdFeedLittleC
	return out
}

// binSnapshot is what the records of every bin that is not closed are made from.
type binSnapshot struct {
	bins      *store.Rows[farm.Bin]
	sections  *store.Rows[farm.Section]
	sites     *store.Rows[farm.Site]
	overrides *store.Rows[farm.MaterialOverride]
	history   store.BinHistory
}

// askBins asks for the records of every bin from so long before a day on.
func askBins(b *store.Batch, around measure.Day) binSnapshot {
	return binSnapshot{b.AllBins(), b.AllSections(), b.AllSites(), b.MaterialOverrides(), b.AllBinHistory(around.Add(-rememberedDays))}
}

// binRecords makes the records, by bin.
func (s *Service) binRecords(x binSnapshot, g farm.Garden, asOf measure.Day) map[uuid.UUID]vermi.Record {
	k, past := s.keeping(asOf, g, x.sites.Values, x.overrides.Values), newBinPast(x.history)
	of := map[uuid.UUID][]farm.Section{}
	for _, sec := range x.sections.Values {
		of[sec.BinID] = append(of[sec.BinID], sec)
	}
	out := make(map[uuid.UUID]vermi.Record, len(x.bins.Values))
	for _, b := range x.bins.Values {
		out[b.ID] = past.record(k, b, of[b.ID])
	}
	return out
}

// allBins reads the bins of a garden that are not closed, with all that is
// known of each, as of one instant and in one round trip.
func (s *Service) allBins(ctx context.Context, a Actor, garden uuid.UUID) ([]farm.Bin, map[uuid.UUID]vermi.Record, measure.Day, error) {
	now := s.now()
	var batch *store.Batch
	var x binSnapshot
	err := s.store.Snapshot(ctx, a.in(garden), func(b *store.Batch) {
		batch, x = b, askBins(b, measure.DayIn(now, time.UTC))
	})
	if err != nil {
		return nil, nil, measure.Day{}, err
	}
	g, m, ok := batch.Actor()
	if !ok {
		return nil, nil, measure.Day{}, noGarden(garden)
	}
	if err := authorise(m, farm.ReadFloor); err != nil {
		return nil, nil, measure.Day{}, err
	}
	today, err := g.DayOf(now)
	if err != nil {
		return nil, nil, measure.Day{}, err
	}
	return x.bins.Values, s.binRecords(x, g, today), today, nil
}

// BinRecords is all that is known of every bin that is not closed, today.
func (s *Service) BinRecords(ctx context.Context, a Actor, garden uuid.UUID) (map[uuid.UUID]vermi.Record, error) {
	_, records, _, err := s.allBins(ctx, a, garden)
	return records, err
}
