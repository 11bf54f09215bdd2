package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// HarvestNew is a wish to record a harvest. A zero OccurredAt is now; LotID
// may be the client's own id of the castings lot it makes.
type HarvestNew struct {
	ID         uuid.UUID
	LotID      uuid.UUID
	OccurredAt time.Time
	BinID      uuid.UUID
	SectionID  uuid.UUID
	Amount     farm.Entered
	WormsOut   *farm.WormAmount
	Emptied    bool
	Note       string
}

// harvestWork is what must be known of a harvest.
type harvestWork struct {
	made[farm.Harvest]
	lot     *store.Row[store.CastingsOnHand]
	at      place
	covers  *store.Rows[farm.Cover]
	vessels *store.Rows[farm.Container]
	worms   wormBooks
}

// Harvest books castings taken from a section as a new castings lot, the worms
// carried out with them, and, when the section was emptied, the end of all
// scraps and bedding on its books. It refuses with harvest.invalid,
// harvest.stage, mass.invalid, worms.invalid, worms.none, bin.not_found,
// bin.not_yours, section.not_found, container.not_found, id.taken, day.future
// and day.closed.
func (s *Service) Harvest(ctx context.Context, a Actor, garden uuid.UUID, in HarvestNew, once Once) (Done[farm.Harvest], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Harvest]{}, err
	}
	in.ID, in.LotID = s.idOr(in.ID), s.idOr(in.LotID)
	section := ledger.SectionAccount(in.BinID, in.SectionID)
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) harvestWork {
			return harvestWork{made[farm.Harvest]{tx.HarvestContent(in.ID), tx.Harvest(in.ID)}, tx.CastingsLot(in.LotID),
				place{tx.Bin(in.BinID), tx.LockSection(in.BinID, in.SectionID)}, s.coversFor(&tx.Batch, in.OccurredAt),
				vessels(&tx.Batch, &in.Amount), s.lockWorms(tx, section, in.OccurredAt)}
		},
		func(w *Work, k harvestWork) (farm.Harvest, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			if k.lot.Found {
				return farm.Harvest{}, farm.Refuse("id.taken", "/castings_lot_id", "castings_lot_id: another castings lot has this id")
			}
			at, day, err := w.at(in.OccurredAt)
			if err != nil {
				return farm.Harvest{}, err
			}
			h := farm.Harvest{ID: in.ID, LotID: in.LotID, BinID: in.BinID, SectionID: in.SectionID, WormsOut: in.WormsOut, Emptied: in.Emptied,
				Note: in.Note, OccurredAt: at, Day: day, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			if err := h.Validate(); err != nil {
				return h, err
			}
			bin, sec, err := k.at.found("")
			if err != nil {
				return h, err
			}
			if err := w.mayCareFor(bin, k.covers, day); err != nil {
				return h, err
			}
			if err := bin.CheckHarvest(sec); err != nil {
				return h, err
			}
			return w.harvest(h, in.Amount, bin, sec, k, content)
		})
}

// harvest works out the grams of a checked harvest and books it.
func (w *Work) harvest(h farm.Harvest, amount farm.Entered, bin farm.Bin, sec farm.Section, k harvestWork, content [32]byte) (farm.Harvest, error) {
	var weight farm.Weight
	var err error
	if h.Entered, weight, err = w.weigh("/amount", amount, farm.CastingsDensity, k.vessels); err != nil {
		return h, err
	}
	h.Grams = weight.Net
	section := side{ledger.SectionAccount(bin.ID, sec.ID), bin.SiteID}
	conversion := side{ledger.ConversionAccount(sec.ID), bin.SiteID}
	postings := moved(ledger.CastingsSubstance, h.Grams, methodOf(h.Entered.Method), weight.RelSDPermille,
		conversion, side{ledger.CastingsAccount(h.LotID), bin.SiteID})
	if h.WormsOut != nil {
		out, err := w.wormsCarriedOut(&h, bin, section, k.worms)
		if err != nil {
			return h, err
		}
		postings = append(postings, out...)
	}
	if h.Emptied {
		left := w.FoodAndBedding(section.account, h.Day)
		if err := w.Flush(); err != nil {
			return h, err
		}
		for _, x := range left.Values {
			h.Closed += x.Grams
			postings = append(postings, moved(x.Substance, x.Grams, ledger.Book, 0, section, conversion)...)
		}
		h.Closed = max(h.Closed, 0)
		h.WormsLeft = max(k.worms.closing(h.Day)-(h.WormsGrams-h.WormsFound), 0)
		if sec.EmptiedOn.Before(h.Day) {
			sec.EmptiedOn = h.Day
			w.UpdateSection(sec)
		}
	}
	entry := w.entry(ledger.KindHarvest, ledger.Cause{Kind: "harvest", ID: h.ID}, h.OccurredAt, h.Day, postings...)
	h.EntryID = entry.ID
	w.InsertCastingsLot(farm.CastingsLot{ID: h.LotID, BinID: bin.ID, SectionID: sec.ID, HarvestedOn: h.Day, Stage: farm.CastingsHarvested})
	w.InsertCastingsStep(h.LotID, farm.CastingsStep{ID: w.ids(), Stage: farm.CastingsHarvested, OccurredAt: h.OccurredAt, Mass: h.Grams,
		Weighed: true, EntryID: entry.ID, RecordedAt: w.Now, RecordedBy: w.Member.ID})
	if err := w.InsertHarvest(h, content); err != nil {
		return h, err
	}
	return h, w.Post(entry)
}

// wormsCarriedOut notes the worms that left with the castings and gives their
// postings: out of the section, and out of the garden's books.
func (w *Work) wormsCarriedOut(h *farm.Harvest, bin farm.Bin, section side, books wormBooks) ([]ledger.Posting, error) {
	species := books.own(bin.Species, h.Day)
	weight, found, err := farm.TakeWorms(*h.WormsOut, "/worms_carried_out", books.of(species, h.Day))
	if err != nil {
		return nil, err
	}
	h.WormsGrams, h.WormsFound = weight.Net, found
	how, sd := wormMethod(h.WormsOut.Method), weight.RelSDPermille
	var out []ledger.Posting
	if found > 0 {
		out = moved(ledger.Worms(species), found, how, sd, side{ledger.GrowthAccount(bin.ID), bin.SiteID}, section)
	}
	return append(out, moved(ledger.Worms(species), weight.Net, how, sd, section, side{account: ledger.OutsideAccount()})...), nil
}

// closing is what the books hold of all species at the end of a day.
func (b wormBooks) closing(on measure.Day) measure.Grams {
	var sum measure.Grams
	for _, f := range b.first.Values {
		sum += b.of(f.Species, on).Closing
	}
	return sum
}

// Harvests lists harvests, the latest first.
func (s *Service) Harvests(ctx context.Context, a Actor, garden uuid.UUID, f store.BinDays, p store.Page) (store.List[farm.Harvest], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.Harvest] { return b.Harvests(f, p) })
}
