package service

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
	"midden/internal/vermi"
)

// planBedding is a batch of bedding, ageing or aged.
type planBedding struct {
	ID          uuid.UUID
	Site        uuid.UUID
	ReadyOn     measure.Day
	StandIn     bool // soaked and wrung out rather than aged
	Mass        measure.Grams
	MoisturePct float64
	Parts       []planPart // as they were put in
}

// planPart is a mass of one material.
type planPart struct {
	Material string
	Mass     measure.Grams
}

// planDry is dry bedding at a site.
type planDry struct {
	Site     uuid.UUID
	Material string
	Mass     measure.Grams
	Reserve  bool // kept for rescuing wet bins
}

// bedding is the usual bedding of a site and how much of it a kilogram of food
// needs.
type bedding struct {
	kind     vermi.BeddingKind
	perKg    int64 // grams of bedding, for a kilogram of food
	unending bool  // nothing is on the books: the plan does not limit by it
}

// dampPct is the moisture of bedding that is wetted for want of aged bedding:
// a wrung sponge (common practice, no source).
const dampPct = 65

// targets are what a feeding to the bin should come to, by the garden's settings.
func (d *planDraft) targets(b *planBin, st vermi.State) vermi.Targets {
	s := d.garden.Settings
	t := vermi.Targets{CarbonToN: vermi.Band(s.CarbonToNitrogen), WaterMaxG: math.Inf(1),
		MoisturePct: vermi.Band(s.MoistUndrained), CoverL: vermi.CoverL(st.FedSurfaceM2, float64(s.CoverMM))}
	if b.Drained {
		t.MoisturePct = vermi.Band(s.MoistDrained)
	}
	return t
}

// addBedding puts bedding into kilograms of food covered, site by site. Bedding
// at a site without bins serves the others in proportion to what they eat.
func (d *planDraft) addBedding() {
	p := d.problem
	none := len(d.planRecords.bedding) == 0 && len(d.dry) == 0
	eats := make([]int64, len(d.sites))
	var all, supply int64
	for i := range p.Bins {
		for _, g := range p.Bins[i].Weekly {
			eats[d.siteIx(d.bins[i].SiteID)] += g
			all += g
		}
	}
	for i := range p.Lots {
		supply += p.Lots[i].Mass
	}
	stock := d.beddingBySite(eats, all)
	d.stock = stock
	for i := range p.Sites {
		site := d.sites[i].ID
		b := bedding{kind: d.usualBedding(site)}
		b.perKg = d.beddingPerKg(i, b.kind)
		b.unending = none || b.perKg == 0
		d.kinds[site] = b
		if b.unending {
			p.Sites[i].Bedding[0] = supply
			continue
		}
		p.Sites[i].StandIn = make([]int64, p.Weeks())
		p.Sites[i].StandIn[0] = b.covers(stock[i].standIn)
		var sum, before int64
		for w, g := range stock[i].ready {
			sum += g
			now := b.covers(sum) // rounded once, over all that is ready by then
			p.Sites[i].Bedding[w], before = now-before, now
		}
	}
	if none && supply > 0 {
		d.note("No bedding is on the books, so the plan does not limit by it; every feeding still needs the bedding it names.")
	}
}

// covers is the food that a mass of bedding covers.
func (b bedding) covers(g int64) int64 { return min(planner.MaxUnits, g*1000/b.perKg) }

// takes is the bedding that covers a mass of food.
func (b bedding) takes(food int64) int64 { return (food*b.perKg + 999) / 1000 }

// beddingNotes says where the feedings lay more bedding than is on the books in
// time: small feedings take a whole cover, which a share per kilogram of food
// does not see.
func (d *planDraft) beddingNotes(tasks []farm.PlanTask) []string {
	var out []string
	for i, s := range d.sites {
		var lays int64
		for _, t := range tasks {
			if t.SiteID == s.ID {
				lays += int64(t.Bedding)
			}
		}
		has := d.stock[i].standIn
		for _, g := range d.stock[i].ready {
			has += g
		}
		if lays > has && !d.kinds[s.ID].unending {
			out = append(out, fmt.Sprintf("The feedings at %s lay %s of bedding with their covers; the books have %s ready in time.", s.Name, kilograms(lays), kilograms(has)))
		}
	}
	return out
}

// siteStock is a site's bedding in grams: by the week it turns ready, and what
// may stand in for it.
type siteStock struct {
	ready   []int64
	standIn int64
}

func (d *planDraft) beddingBySite(eats []int64, all int64) []siteStock {
	out := make([]siteStock, len(d.sites))
	for i := range out {
		out[i].ready = make([]int64, d.problem.Weeks())
	}
	// give books a mass at a site, or shares it out from one without bins.
	give := func(site uuid.UUID, g int64, book func(*siteStock, int64)) {
		at := d.siteIx(site)
		switch {
		case at < 0:
		case eats[at] > 0 || all == 0:
			book(&out[at], g)
		default:
			for i := range out {
				book(&out[i], int64(float64(g)*float64(eats[i])/float64(all)))
			}
		}
	}
	for _, b := range d.planRecords.bedding {
		if b.StandIn {
			give(b.Site, int64(b.Mass), func(s *siteStock, g int64) { s.standIn += g })
			continue
		}
		week := max(0, b.ReadyOn.Sub(d.request.From)) / planner.DaysPerWeek
		// Bedding that turns ready within a week counts from the next: nobody
		// is promised bedding before it is there.
		if late := b.ReadyOn.Sub(d.request.From); late > week*planner.DaysPerWeek {
			week++
		}
		if week < d.problem.Weeks() {
			give(b.Site, int64(b.Mass), func(s *siteStock, g int64) { s.ready[week] += g })
		}
	}
	loose, kept := int64(0), int64(0)
	for _, x := range d.dry {
		if x.Reserve {
			kept += int64(x.Mass)
		} else {
			loose += int64(x.Mass)
		}
	}
	usable := max(0, loose-max(0, d.garden.Settings.DryBeddingG-kept))
	for _, x := range d.dry {
		if x.Reserve || loose == 0 {
			continue
		}
		share := float64(x.Mass) * float64(usable) / float64(loose)
		moist := d.materials[x.Material].MoisturePct.Value
		wet := max(share, share*(100-moist)/(100-dampPct))
		give(x.Site, int64(wet), func(s *siteStock, g int64) { s.standIn += g })
	}
	return out
}

func (d *planDraft) siteIx(id uuid.UUID) int {
	return slices.IndexFunc(d.sites, func(s farm.Site) bool { return s.ID == id })
}

// usualBedding is the mix of what is ageing or aged at a site; of the whole
// garden when the site has none; damp cardboard when the garden has none.
func (d *planDraft) usualBedding(site uuid.UUID) vermi.BeddingKind {
	for _, only := range []bool{true, false} {
		var sum vermi.Component
		var litres, carbon, nitrogen, dryG float64
		for _, b := range d.planRecords.bedding {
			if only && b.Site != site {
				continue
			}
			var put float64
			for _, x := range b.Parts {
				put += float64(x.Mass)
			}
			for _, x := range b.Parts {
				m, known := d.materials[x.Material]
				if !known || put == 0 {
					continue
				}
				part := vermi.Wetted(m, b.MoisturePct)
				g := float64(b.Mass) * float64(x.Mass) / put
				dry := g * (100 - part.MoisturePct.Value) / 100
				litres += g / densityOf(part)
				nitrogen += dry * part.NitrogenPct.Value
				carbon += dry * part.NitrogenPct.Value * part.CarbonToN.Value
				dryG += dry
				sum.Grams += g
			}
		}
		if sum.Grams > 0 && dryG > 0 {
			sum.MoisturePct = 100 * (1 - dryG/sum.Grams)
			sum.NitrogenPct, sum.CarbonPct = nitrogen/dryG, carbon/dryG
			return vermi.BeddingKind{Key: "aged_bedding", Component: sum, DensityGPerL: sum.Grams / litres, StockG: -1}
		}
	}
	m, _ := vermi.MaterialByKey("corrugated_cardboard")
	return vermi.BeddingOf(vermi.Wetted(m, dampPct), -1)
}

// beddingPerKg is the least bedding for a kilogram of food at a site, in grams,
// rounded up: for each of its bins a full feeding of each group that is on its
// way, weighed by the groups' masses and the bins' appetites.
func (d *planDraft) beddingPerKg(site int, kind vermi.BeddingKind) int64 {
	mass := map[farm.Group]int64{}
	chief := map[farm.Group]draftLot{}
	most := map[farm.Group]int64{}
	for i := range d.lots {
		g, m := farm.Group(d.problem.Lots[i].Group), d.problem.Lots[i].Mass
		mass[g] += m
		if m > most[g] {
			most[g], chief[g] = m, d.lots[i]
		}
	}
	var need, weight float64
	for i := range d.bins {
		room, visits := int64(0), int64(0)
		for _, g := range d.problem.Bins[i].Room {
			if g > 0 {
				room, visits = room+g, visits+1
			}
		}
		if visits == 0 || d.bins[i].SiteID != d.sites[site].ID {
			continue
		}
		for _, g := range farm.Groups {
			if mass[g] == 0 {
				continue
			}
			w := float64(mass[g]) * float64(room)
			need += w * leastBedding(kind, d.bins[i].targets, []planFood{{chief[g].material, room / visits}}) / float64(room/visits)
			weight += w
		}
	}
	if weight == 0 {
		return 0
	}
	return int64(math.Ceil(1000 * need / weight))
}

// planFood is food of one feeding.
type planFood struct {
	material farm.Material
	mass     int64
}

// leastBedding is the least bedding for one feeding in grams.
func leastBedding(kind vermi.BeddingKind, t vermi.Targets, food []planFood) float64 {
	feed := make([]vermi.Component, len(food))
	for i, f := range food {
		feed[i] = vermi.ComponentOf(f.material, measure.Grams(f.mass))
	}
	r, err := vermi.LeastBedding(feed, []vermi.BeddingKind{kind}, t)
	if err != nil {
		return t.CoverL * kind.DensityGPerL // figures out of range: the cover at least
	}
	return r.BeddingG
}

// ripeStock hands out bedding batches, the oldest ready first.
type ripeStock struct {
	batches []planBedding
	left    []measure.Grams
}

func (d *planDraft) newRipeStock() *ripeStock {
	s := &ripeStock{batches: slices.Clone(d.planRecords.bedding)}
	slices.SortStableFunc(s.batches, func(a, b planBedding) int {
		return cmp.Or(a.ReadyOn.Compare(b.ReadyOn), cmp.Compare(a.ID.String(), b.ID.String()))
	})
	for _, b := range s.batches {
		s.left = append(s.left, b.Mass)
	}
	return s
}

// take is the batch to take bedding from at a site on a day; zero when none is
// ready. Sites that have none of their own are served from elsewhere.
func (s *ripeStock) take(site uuid.UUID, day measure.Day, g measure.Grams) uuid.UUID {
	for _, own := range []bool{true, false} {
		for i, b := range s.batches {
			if s.left[i] > 0 && !b.ReadyOn.After(day) && own == (b.Site == site) {
				s.left[i] -= min(g, s.left[i])
				return b.ID
			}
		}
	}
	return uuid.Nil
}
