package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/store"
)

// careKnown is what a care event is judged by; what its kind does not need is
// not asked for.
type careKnown struct {
	made[farm.CareEvent]
	cared
	sections  *store.Rows[farm.Section]
	place     *store.Row[farm.OverflowPlace]
	batch     *store.Row[store.BatchOnHand]
	food      *store.Row[store.Stock]
	bedding   *store.Rows[store.Stock]
	overrides *store.Rows[farm.MaterialOverride]
	vessels   *store.Rows[farm.Container]
}

// RecordCare keeps what was done for a bin; its ID may be the client's own, and
// a zero OccurredAt is now. Food taken out goes from the section's books to an
// overflow place or to landfill, never more than they hold; bedding laid comes
// off its batch. It refuses with care.invalid, bin.not_found, bin.not_yours,
// bin.state, section.not_found, section.short, mass.invalid, container.not_found,
// overflow.not_found, overflow.inactive, bedding.not_found, bedding.short,
// id.taken, day.future and day.closed.
func (s *Service) RecordCare(ctx context.Context, a Actor, garden uuid.UUID, in farm.CareEvent, once Once) (Done[farm.CareEvent], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.CareEvent]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) careKnown { return s.askCare(tx, in) },
		func(w *Work, k careKnown) (farm.CareEvent, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			c := in
			var err error
			if c.OccurredAt, c.Day, err = w.at(in.OccurredAt); err != nil {
				return c, err
			}
			bin, err := w.careFor(k.cared, c.Day)
			if err != nil {
				return c, err
			}
			c.RecordedAt, c.RecordedBy = w.Now, w.Member.ID
			if err := c.Validate(k.sections.Values); err != nil {
				return c, err
			}
			var entry ledger.Entry
			shelf := shelf{w, c.Day, s.materialsByKey(k.overrides.Values), k.bedding.Values, k.vessels}
			switch c.Kind {
			case farm.Watered:
				c.Grams, err = c.Watering()
			case farm.FoodRemoved:
				entry, err = shelf.removeFood(&c, bin, k)
			case farm.FedBeddingOnly:
				entry, err = shelf.layBedding(&c, bin, k)
			}
			if err != nil {
				return c, err
			}
			if err := w.InsertCareEvent(c, content); err != nil || c.EntryID == uuid.Nil {
				return c, err
			}
			return c, w.Post(entry)
		})
}

func (s *Service) askCare(tx *store.Tx, in farm.CareEvent) careKnown {
	k := careKnown{made: made[farm.CareEvent]{tx.CareContent(in.ID), tx.CareEvent(in.ID)}, cared: s.lockCared(tx, in.BinID, in.OccurredAt),
		sections: tx.Sections(in.BinID), bedding: &store.Rows[store.Stock]{}, overrides: &store.Rows[farm.MaterialOverride]{},
		vessels: vessels(&tx.Batch, in.Entered)}
	if in.Entered != nil {
		k.overrides = tx.MaterialOverrides()
	}
	switch in.Kind {
	case farm.FoodRemoved:
		k.place = tx.OverflowPlace(in.PlaceID)
		k.food = tx.RolledStock(foodIn(in), s.from(in.OccurredAt))
	case farm.FedBeddingOnly:
		k.batch = tx.BeddingBatch(in.BatchID)
		k.bedding = tx.LockStocks(s.from(in.OccurredAt), ledger.BeddingAccount(in.BatchID))
	}
	return k
}

func foodIn(c farm.CareEvent) ledger.Holding {
	return ledger.Holding{Account: ledger.SectionAccount(c.BinID, c.SectionID), Substance: ledger.Scraps(c.Material)}
}

func careCause(c farm.CareEvent) ledger.Cause { return ledger.Cause{Kind: "care_event", ID: c.ID} }

// removeFood works out how much uneaten food goes, and where.
func (h shelf) removeFood(c *farm.CareEvent, bin farm.Bin, k careKnown) (ledger.Entry, error) {
	entered, weight, err := h.weigh("/removed", *c.Entered, h.materials[c.Material].DensityGPerL, h.vessels)
	if err != nil {
		return ledger.Entry{}, err
	}
	if held := k.food.Value.Least(c.Day); weight.Net > held {
		return ledger.Entry{}, farm.Refuse("section.short", "/removed",
			"removed: the section's books hold %d g of %s from %s on; asked for %d g", max(0, held), c.Material, c.Day, weight.Net)
	}
	kind, to := ledger.KindRemovalLandfill, side{ledger.SpoiledAccount(), bin.SiteID}
	if c.To == farm.RemovedToOverflow {
		place, err := k.place.Or("overflow.not_found", "no overflow place %s in this garden", c.PlaceID)
		if err != nil {
			return ledger.Entry{}, err
		}
		if !place.Active {
			return ledger.Entry{}, farm.Refuse("overflow.inactive", "/overflow_place_id", "overflow_place_id: %s takes nothing at present", place.Name)
		}
		kind, to = ledger.KindRemovalElsewhere, side{ledger.OverflowAccount(place.ID), bin.SiteID}
	}
	c.Entered, c.Grams, c.RelSDPermille = &entered, weight.Net, weight.RelSDPermille
	e := h.entry(kind, careCause(*c), c.OccurredAt, c.Day, moved(ledger.Scraps(c.Material), weight.Net, methodOf(entered.Method),
		weight.RelSDPermille, side{ledger.SectionAccount(c.BinID, c.SectionID), bin.SiteID}, to)...)
	c.EntryID = e.ID
	return e, nil
}

// layBedding takes bedding off its batch, kind by kind in proportion to what
// the batch holds.
func (h shelf) layBedding(c *farm.CareEvent, bin farm.Bin, k careKnown) (ledger.Entry, error) {
	if bin.Status == farm.BinClosed {
		return ledger.Entry{}, farm.Refuse("bin.state", "", "%s is closed", bin.Name)
	}
	batch, err := k.batch.Or("bedding.not_found", "no batch of bedding %s in this garden", c.BatchID)
	if err != nil {
		return ledger.Entry{}, err
	}
	t, laid, err := h.takeBatch("/bedding", batch, c.Entered)
	if err != nil {
		return ledger.Entry{}, err
	}
	c.Entered, c.Grams, c.RelSDPermille, c.MoisturePct = t.entered, t.Net, t.RelSDPermille, batch.MoisturePct
	e := h.entry(ledger.KindBeddingLaid, careCause(*c), c.OccurredAt, c.Day)
	for _, l := range laid {
		e.Postings = append(e.Postings, moved(ledger.BeddingOf(l.Material), l.Grams, t.how, t.RelSDPermille,
			side{ledger.BeddingAccount(c.BatchID), batch.SiteID}, side{ledger.SectionAccount(c.BinID, c.SectionID), bin.SiteID})...)
	}
	c.Laid = laid
	c.EntryID = e.ID
	return e, nil
}

// CareEvents lists care events, the latest first.
func (s *Service) CareEvents(ctx context.Context, a Actor, garden uuid.UUID, f BinDays, p Page) (List[farm.CareEvent], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.CareEvent] { return b.CareEvents(f, p) })
}
