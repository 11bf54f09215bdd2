package service

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// lotWork is a lot under way: its row and stock are locked.
type lotWork struct {
	*Work
	lot      store.LotOnHand
	material farm.KnownMaterial
	at       time.Time
	day      measure.Day
	stock    store.Stock
	vessels  *store.Rows[farm.Container]
}

// onLot locks a lot and its stock, and runs do with both known, and with the
// container that amount names, if any.
func (s *Service) onLot(ctx context.Context, a Actor, garden, id uuid.UUID, may farm.Action, told time.Time, amount *farm.Entered, once Once,
	also func(*store.Tx), do func(*lotWork) (store.LotOnHand, error)) (Done[store.LotOnHand], error) {
	type known struct {
		lots      *store.Rows[store.LotOnHand]
		stocks    *store.Rows[store.Stock]
		overrides *store.Rows[farm.MaterialOverride]
		vessels   *store.Rows[farm.Container]
	}
	return write(ctx, s, a, garden, may, once,
		func(tx *store.Tx) known {
			if also != nil {
				also(tx)
			}
			return known{tx.LockLots(id), tx.LockStocks(s.from(told), ledger.LotAccount(id)), tx.MaterialOverrides(),
				vessels(&tx.Batch, amount)}
		},
		func(w *Work, k known) (store.LotOnHand, error) {
			if len(k.lots.Values) == 0 {
				return store.LotOnHand{}, farm.Refuse("lot.not_found", "", "no lot %s in this garden", id)
			}
			lw := &lotWork{Work: w, lot: k.lots.Values[0], vessels: k.vessels}
			var err error
			if lw.at, lw.day, err = w.at(told); err != nil {
				return lw.lot, err
			}
			if err := lw.lot.Usable(); err != nil {
				return lw.lot, err
			}
			if lw.day.Before(lw.lot.ReceivedOn) {
				return lw.lot, farm.Refuse("lot.not_yet", "/occurred_at", "occurred_at: lot %s came on %s; got %s", id, lw.lot.ReceivedOn, lw.day)
			}
			for _, m := range s.knownMaterials(k.overrides.Values) {
				if m.Key == lw.lot.Material {
					lw.material = m
				}
			}
			lw.stock = store.Find(k.stocks.Values, ledger.Holding{
				Account: ledger.LotAccount(id), Substance: ledger.Scraps(lw.lot.Material)})
			lw.lot.Group = lw.material.Group
			out, err := do(lw)
			out.Group = lw.material.Group
			return out, err
		})
}

// part is how much of the lot is meant, and how it was got: what was entered,
// or all that is left. It refuses with mass.invalid, and with lot.empty when
// there is nothing or not so much.
func (w *lotWork) part(field string, e *farm.Entered) (farm.Weight, ledger.Method, error) {
	left := w.stock.Least(w.day)
	if e == nil {
		if left <= 0 {
			return farm.Weight{}, "", farm.Refuse("lot.empty", "", "lot %s holds nothing from %s on", w.lot.ID, w.day)
		}
		return farm.Weight{Net: left, RelSDPermille: w.lot.Weight.RelSDPermille}, ledger.Book, nil
	}
	_, weight, err := w.weigh(field, *e, w.material.DensityGPerL, w.vessels)
	if err == nil && weight.Net > left {
		err = farm.Refuse("lot.empty", field, "lot %s holds %d g from %s on; asked for %d g", w.lot.ID, left, w.day, weight.Net)
	}
	return weight, methodOf(e.Method), err
}

// send posts a part of the lot to another account and takes it off the lot.
// A note stays with the entry.
func (w *lotWork) send(kind string, weight farm.Weight, how ledger.Method, to side, note string) error {
	if err := farm.CheckText("lot.invalid", "/note", note, 500); err != nil {
		return err
	}
	w.lot.OnHand -= weight.Net
	e := w.entry(kind, lotCause(w.lot.Lot), w.at, w.day,
		moved(ledger.Scraps(w.lot.Material), weight.Net, how, weight.RelSDPermille, lotSide(w.lot.Lot), to)...)
	if note != "" {
		w.NoteEntry(e.ID, note)
	}
	return w.Post(e)
}

// Verdict is the decision on a lot. SortedOut is what sorting took out.
type Verdict struct {
	Status     farm.LotStatus
	Reason     string
	Notice     string
	SortedOut  *farm.Entered
	OccurredAt time.Time
}

// JudgeLot accepts a lot, accepts it after sorting, or rejects it with all
// that is left. It refuses with lot.not_found, lot.judged, lot.rejected,
// lot.invalid, mass.invalid and lot.empty.
func (s *Service) JudgeLot(ctx context.Context, a Actor, garden, id uuid.UUID, v Verdict, once Once) (Done[store.LotOnHand], error) {
	return s.onLot(ctx, a, garden, id, farm.TakeIn, v.OccurredAt, v.SortedOut, once, nil, func(w *lotWork) (store.LotOnHand, error) {
		lot, err := w.lot.Judge(v.Status, v.Reason, v.Notice)
		if err != nil {
			return w.lot, err
		}
		if v.SortedOut != nil && v.Status != farm.LotSorted {
			return w.lot, farm.Refuse("lot.invalid", "/sorted_out", "sorted_out: only a lot accepted after sorting has one")
		}
		if v.Status == farm.LotRejected || v.SortedOut != nil {
			weight, how, err := w.part("/sorted_out", v.SortedOut)
			if err != nil {
				return w.lot, err
			}
			if err := w.send(ledger.KindVerdict, weight, how, side{ledger.RejectedAccount(), lot.SiteID}, ""); err != nil {
				return w.lot, err
			}
		}
		w.UpdateLot(lot)
		lot.Version++
		w.lot.Lot = lot
		return w.lot, nil
	})
}

// Storage is where a lot is kept from now on. A Part moves alone and becomes a
// lot of its own, with PartID as its id. A zero SiteID stays at the site; a
// zero UseBy stays, or follows from freezing.
type Storage struct {
	Place      farm.StoragePlace
	SiteID     uuid.UUID
	UseBy      measure.Day
	Part       *farm.Entered
	PartID     uuid.UUID
	OccurredAt time.Time
}

// StoreLot moves a lot, or splits a part off it, and gives the lot that moved.
// It refuses with lot.not_found, lot.rejected, lot.invalid, lot.exists,
// lot.empty, mass.invalid and site.not_found.
func (s *Service) StoreLot(ctx context.Context, a Actor, garden, id uuid.UUID, in Storage, once Once) (Done[store.LotOnHand], error) {
	content, err := digest(struct {
		Parent uuid.UUID
		Storage
	}{id, in})
	if err != nil {
		return Done[store.LotOnHand]{}, err
	}
	partID := s.idOr(in.PartID)
	var child made[store.LotOnHand]
	var site *store.Row[farm.Site]
	also := func(tx *store.Tx) {
		child = made[store.LotOnHand]{tx.LotContent(partID), tx.Lot(partID)}
		site = tx.Site(in.SiteID)
	}
	return s.onLot(ctx, a, garden, id, farm.TakeIn, in.OccurredAt, in.Part, once, also, func(w *lotWork) (store.LotOnHand, error) {
		if in.Part != nil {
			if same, err := again(child.content, content, "lot.exists"); same || err != nil {
				return child.row.Value, err
			}
		}
		if in.SiteID != uuid.Nil && !site.Found {
			return w.lot, farm.Refuse("site.not_found", "/site_id", "site_id: no such site in this garden")
		}
		next := w.lot.Lot
		w.rehouse(&next, in)
		next.Status = farm.LotAccepted // only for the check of the rest; the status does not change
		if err := next.Validate(); err != nil {
			return w.lot, err
		}
		next.Status = w.lot.Status
		if in.Part == nil {
			if _, _, err := w.part("/part", nil); err != nil {
				return w.lot, err
			}
			w.UpdateLot(next)
			next.Version++
			w.lot.Lot = next
			w.notePlace(next)
			return w.lot, nil
		}
		return w.split(next, in, partID, content)
	})
}

func (w *lotWork) rehouse(l *farm.Lot, in Storage) {
	froze := in.Place == farm.Freezer && l.Place != farm.Freezer
	l.Place = in.Place
	if in.SiteID != uuid.Nil {
		l.SiteID = in.SiteID
	}
	switch {
	case !in.UseBy.IsZero():
		l.UseBy = in.UseBy
	case froze:
		l.UseBy = farm.UseByFor(w.material.Material, farm.Freezer, w.day)
	}
}

func (w *lotWork) split(child farm.Lot, in Storage, id uuid.UUID, content [32]byte) (store.LotOnHand, error) {
	weight, how, err := w.part("/part", in.Part)
	if err != nil {
		return w.lot, err
	}
	entered, err := inVessel("/part", *in.Part, w.vessels)
	if err != nil {
		return w.lot, err
	}
	child.ID, child.ParentID, child.Entered, child.Weight = id, w.lot.ID, entered, weight
	child.RecordedAt, child.RecordedBy, child.Version = w.Now, w.Member.ID, 1
	entry := w.entry(ledger.KindMove, lotCause(child), w.at, w.day,
		moved(ledger.Scraps(child.Material), weight.Net, how, weight.RelSDPermille, lotSide(w.lot.Lot), lotSide(child))...)
	child.EntryID = entry.ID
	w.InsertLot(child, content)
	w.notePlace(child)
	return store.LotOnHand{Lot: child, OnHand: weight.Net}, w.Post(entry)
}

func (w *lotWork) notePlace(l farm.Lot) {
	w.InsertLotPlace(store.LotPlace{ID: w.ids(), LotID: l.ID, SiteID: l.SiteID, Place: l.Place, UseBy: l.UseBy,
		MovedAt: w.at, MovedBy: w.Member.ID})
}

// Spoilage is scraps that went bad. A nil Part is all that is left.
type Spoilage struct {
	To         farm.SpoiledTo
	Part       *farm.Entered
	Note       string
	OccurredAt time.Time
}

// SpoilLot books scraps that went bad and where they went. It refuses with
// lot.not_found, lot.rejected, lot.invalid, lot.empty and mass.invalid.
func (s *Service) SpoilLot(ctx context.Context, a Actor, garden, id uuid.UUID, in Spoilage, once Once) (Done[store.LotOnHand], error) {
	return s.onLot(ctx, a, garden, id, farm.TakeIn, in.OccurredAt, in.Part, once, nil, func(w *lotWork) (store.LotOnHand, error) {
		kind := ledger.KindSpoilageLandfill
		switch in.To {
		case farm.ToLandfill:
		case farm.ToElsewhere:
			kind = ledger.KindSpoilageElsewhere
		default:
			return w.lot, farm.Refuse("lot.invalid", "/destination", "destination: must be landfill or elsewhere; got %q", in.To)
		}
		weight, how, err := w.part("/amount", in.Part)
		if err != nil {
			return w.lot, err
		}
		return w.lot, w.send(kind, weight, how, side{ledger.SpoiledAccount(), w.lot.SiteID}, in.Note)
	})
}

// ToOverflow is scraps sent to an overflow place. A nil Part is all that is left.
type ToOverflow struct {
	PlaceID    uuid.UUID
	Part       *farm.Entered
	Note       string
	OccurredAt time.Time
}

// OverflowLot sends scraps to an overflow place. It refuses with
// lot.not_found, lot.rejected, overflow.not_found, overflow.inactive,
// lot.empty and mass.invalid.
func (s *Service) OverflowLot(ctx context.Context, a Actor, garden, id uuid.UUID, in ToOverflow, once Once) (Done[store.LotOnHand], error) {
	var place *store.Row[farm.OverflowPlace]
	also := func(tx *store.Tx) { place = tx.OverflowPlace(in.PlaceID) }
	return s.onLot(ctx, a, garden, id, farm.TakeIn, in.OccurredAt, in.Part, once, also, func(w *lotWork) (store.LotOnHand, error) {
		p, err := place.Or("overflow.not_found", "no overflow place %s in this garden", in.PlaceID)
		if err != nil {
			return w.lot, err
		}
		if !p.Active {
			return w.lot, farm.Refuse("overflow.inactive", "/overflow_place_id", "overflow_place_id: %s takes nothing at present", p.Name)
		}
		weight, how, err := w.part("/amount", in.Part)
		if err != nil {
			return w.lot, err
		}
		return w.lot, w.send(ledger.KindOverflow, weight, how, side{ledger.OverflowAccount(p.ID), w.lot.SiteID}, in.Note)
	})
}

// Reweighing is a second weighing of what is left. The cause stays with the
// entry as its note.
type Reweighing struct {
	Cause      farm.ReweighCause
	Mass       farm.Entered
	OccurredAt time.Time
}

// ReweighLot books the weight lost or gained since the last weighing as water.
// It refuses with lot.not_found, lot.rejected, mass.invalid, and with
// lot.invalid what did not stand on a scale.
func (s *Service) ReweighLot(ctx context.Context, a Actor, garden, id uuid.UUID, in Reweighing, once Once) (Done[store.LotOnHand], error) {
	return s.onLot(ctx, a, garden, id, farm.TakeIn, in.OccurredAt, &in.Mass, once, nil, func(w *lotWork) (store.LotOnHand, error) {
		if in.Mass.Method != farm.ByScale {
			return w.lot, farm.Refuse("lot.invalid", "/amount/method", "method: a lot is weighed again on a scale; got %q", in.Mass.Method)
		}
		if !slices.Contains(farm.ReweighCauses, in.Cause) {
			return w.lot, farm.Refuse("lot.invalid", "/cause", "cause: must be one of %v; got %q", farm.ReweighCauses, in.Cause)
		}
		_, weight, err := w.weigh("/amount", in.Mass, w.material.DensityGPerL, w.vessels)
		if err != nil {
			return w.lot, err
		}
		lost := w.stock.Closing(w.day) - weight.Net
		if lost == 0 {
			return w.lot, nil
		}
		weight.Net = lost // below zero: it gained
		return w.lot, w.send(ledger.KindReweighing, weight, ledger.Weighed, side{ledger.WaterAccount(id), w.lot.SiteID}, string(in.Cause))
	})
}
