package service

import (
	"math"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/season"
	"midden/internal/store"
	"midden/internal/vermi"
)

// reportKinds are the kinds of account whose roll-ups a report is made from.
// Lots, castings lots and bedding batches have their stock by day instead.
var reportKinds = []ledger.AccountKind{ledger.Source, ledger.Rejected, ledger.Section, ledger.Overflow, ledger.Spoiled,
	ledger.Water, ledger.Conversion, ledger.Outside, ledger.Recipient}

// flowOf tells which flow of scraps a roll-up stands for, and which of its two
// sides. Each movement of a lot is read at the account at its other end.
func flowOf(t ledger.KeyedTotal) (flow season.Flow, in bool, ok bool) {
	if t.Substance.Class() != ledger.ScrapClass {
		return "", false, false
	}
	switch t.Account.Kind {
	case ledger.Source:
		return season.Received, false, true
	case ledger.Rejected:
		return season.Rejected, true, true
	case ledger.Overflow:
		return season.Overflow, true, t.Kind == ledger.KindOverflow
	case ledger.Spoiled:
		if t.Kind == ledger.KindSpoilageLandfill {
			return season.SpoiledLandfill, true, true
		}
		return season.SpoiledElsewhere, true, t.Kind == ledger.KindSpoilageElsewhere
	case ledger.Section:
		switch t.Kind {
		case ledger.KindFeeding:
			return season.Fed, true, true
		case ledger.KindRemovalLandfill:
			return season.BinToLandfill, false, true
		case ledger.KindRemovalElsewhere:
			return season.BinToElsewhere, false, true
		}
	}
	return "", false, false
}

// movements are the flows of scraps in roll-ups, those of the given days only.
func movements(totals []ledger.KeyedTotal, days measure.DayRange, s farm.Settings) []season.Movement {
	var out []season.Movement
	for _, t := range totals {
		if !days.Contains(t.Day) {
			continue
		}
		if t.Account.Kind == ledger.Water && t.Substance.Class() == ledger.ScrapClass {
			// A lot may lose and gain on one day; each is a flow of its own.
			out = append(out, byMethod(t, season.WaterLoss, t.In, t.Out, s)...)
			out = append(out, byMethod(t, season.WaterGain, t.Out, t.In, s)...)
		} else if flow, in, ok := flowOf(t); ok {
			mass, other := t.Out, t.In
			if in {
				mass, other = other, mass
			}
			out = append(out, byMethod(t, flow, mass, other, s)...)
		}
	}
	return out
}

// byMethod splits one side of a roll-up by how its grams were got. A roll-up
// keeps one spread for all its methods, so each takes a share of it in the
// proportion of the garden's own figures; with one method it is exact. What
// was taken from the books counts as an estimate: no method's error is known
// to be the one that was subtracted.
func byMethod(t ledger.KeyedTotal, flow season.Flow, mass, other measure.Grams, s farm.Settings) []season.Movement {
	base := season.Movement{Day: t.Day, Flow: flow, Material: t.Substance.Key(), Bin: idText(t.Account.Bin), Site: idText(t.Site)}
	if t.Account.Kind == ledger.Source {
		base.DonorClass = string(t.Account.Party)
	}
	parts := []struct {
		method farm.MassMethod
		mass   measure.Grams
		usual  int64 // the garden's own spread in ‰
	}{
		{farm.ByScale, t.Weighed, int64(s.ScaleSDPermille)}, {farm.ByContainer, t.Container, int64(s.ContainerSDPct) * 10},
		{farm.ByEstimate, t.Estimate + t.Book, int64(s.EstimateSDPct) * 10},
	}
	if other != 0 { // the methods of the two sides can't be told apart
		parts[0].mass, parts[1].mass, parts[2].mass = 0, 0, mass
	}
	var usual int64
	for _, p := range parts {
		usual += int64(p.mass) * max(1, p.usual)
	}
	linear := float64(t.SDLinear)
	if other != 0 && mass+other != 0 {
		linear *= float64(mass) / float64(mass+other)
	}
	var out []season.Movement
	most := 0
	for _, p := range parts {
		if p.mass == 0 {
			continue
		}
		m := base
		m.Method, m.Mass = p.method, p.mass
		if usual > 0 {
			rel := math.Round(float64(max(1, p.usual)) * linear / float64(usual))
			m.RelSD = season.PerMille(min(max(rel, 0), ledger.MaxRelSD))
		}
		out = append(out, m)
		if m.Mass > out[most].Mass {
			most = len(out) - 1
		}
	}
	if len(out) > 0 {
		out[most].Records = int(t.Records)
	}
	return out
}

func idText(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}

// receivedByDay is what was received, on any day of the roll-ups.
func receivedByDay(totals []ledger.KeyedTotal) []season.DayMass {
	var out []season.DayMass
	for _, t := range totals {
		if flow, _, ok := flowOf(t); ok && flow == season.Received {
			out = append(out, season.DayMass{Day: t.Day, Mass: t.Out})
		}
	}
	return out
}

// activity is what a season's roll-ups say of castings, worms, bins and givers.
func activity(totals []ledger.KeyedTotal, days measure.DayRange) (c season.Castings, w season.Worms, bins, households, members map[uuid.UUID]bool) {
	bins, households, members = map[uuid.UUID]bool{}, map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	var arrived measure.Grams // worms into sections
	for _, t := range totals {
		if !days.Contains(t.Day) || t.Total == (ledger.Total{}) {
			continue
		}
		class := t.Substance.Class()
		switch t.Account.Kind {
		case ledger.Section:
			bins[t.Account.Bin] = true
			if class == ledger.WormClass && t.Kind == ledger.KindWormTransfer {
				arrived += t.In
			}
		case ledger.Outside:
			if class == ledger.WormClass && t.Kind == ledger.KindWormTransfer {
				w.FromOutside += t.Out
				w.ToOutside += t.In
			}
		case ledger.Conversion:
			if class == ledger.CastingsClass && t.Kind == ledger.KindHarvest {
				c.Harvested += t.Out
			}
		case ledger.Recipient:
			if class == ledger.CastingsClass {
				c.Given += t.In
			}
		case ledger.Source:
			switch {
			case class != ledger.ScrapClass:
			case t.Account.Party == ledger.Household:
				households[t.Account.ID] = true
			case t.Account.Party == ledger.Member:
				members[t.Account.ID] = true
			}
		}
	}
	w.Within = max(0, arrived-w.FromOutside)
	return c, w, bins, households, members
}

// onSite is the most that stood on site, as far as records tell: the bins of
// the season full to the brim, and scraps in storage on their heaviest day at
// their bulk density. The area is that of the bins' footprints.
func onSite(bins []farm.Bin, until time.Time, movements []season.Movement, start []season.Stock, days measure.DayRange,
	density map[string]float64) season.OnSite {
	litres, m2 := 0.0, 0.0
	for _, b := range bins {
		if b.Status != farm.BinClosed && b.CreatedAt.Before(until) {
			litres += vermi.TotalVolumeL(b.Shape)
			m2 += vermi.FootprintM2(b.Shape)
		}
	}
	litres += mostStored(movements, start, days, density)
	return season.OnSite{Volume: measure.Millilitres(math.Round(litres * 1000)), Area: measure.SquareCentimetres(math.Round(m2 * 10_000))}
}

// mostStored is the largest volume of scraps in storage at the end of any day,
// in litres.
func mostStored(movements []season.Movement, start []season.Stock, days measure.DayRange, density map[string]float64) float64 {
	litres := func(material string, g measure.Grams) float64 {
		if d := density[material]; d > 0 {
			return float64(g) / d
		}
		return 0
	}
	daily := make([]float64, days.Days())
	for _, m := range movements {
		v := litres(m.Material, m.Mass)
		switch m.Flow {
		case season.Received, season.WaterGain:
		case season.BinToLandfill, season.BinToElsewhere:
			v = 0
		default:
			v = -v
		}
		daily[m.Day.Sub(days.Start)] += v
	}
	stored := 0.0
	for _, s := range start {
		stored += litres(s.Material, s.Mass)
	}
	most := stored
	for _, v := range daily {
		stored += v
		most = max(most, stored)
	}
	return most
}

// stocks turns what lots held into the report's form.
func stocks(list []store.SubstanceStock) []season.Stock {
	out := make([]season.Stock, 0, len(list))
	for _, s := range list {
		if s.Substance.Class() == ledger.ScrapClass {
			out = append(out, season.Stock{Material: s.Substance.Key(), Mass: s.Grams})
		}
	}
	return out
}
