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

// WormMove is a wish to record worms moved. A zero OccurredAt is now; an empty
// Species is the source's own; an empty Reason is other.
type WormMove struct {
	ID           uuid.UUID
	OccurredAt   time.Time
	From         farm.WormEnd
	To           farm.WormEnd
	Worms        farm.WormAmount
	Species      farm.Species
	BeddingAlong *farm.Entered
	Lost         measure.Quantity
	Reason       farm.TransferReason
	Note         string
}

// place is a bin and one of its sections, looked up.
type place struct {
	bin     *store.Row[farm.Bin]
	section *store.Row[farm.Section]
}

func lookUp(b *store.Batch, bin, section uuid.UUID) place {
	return place{b.Bin(bin), b.Section(bin, section)}
}

// found refuses with bin.not_found and section.not_found, naming the fields
// under at.
func (p place) found(at string) (farm.Bin, farm.Section, error) {
	switch {
	case !p.bin.Found:
		return farm.Bin{}, farm.Section{}, farm.Refuse("bin.not_found", at+"/bin_id", "bin_id: no such bin in this garden")
	case !p.section.Found:
		return farm.Bin{}, farm.Section{}, farm.Refuse("section.not_found", at+"/section_id", "section_id: no such section in %s", p.bin.Value.Name)
	}
	return p.bin.Value, p.section.Value, nil
}

// MoveWorms books worms from one section to another, in from outside or out.
// A weighed or counted removal beyond the books posts what was found from the
// bin's growth. It refuses with transfer.invalid, transfer.same_section,
// transfer.quarantine, worms.invalid, worms.none, bin.not_found,
// bin.not_yours, bin.state, section.not_found, id.taken, day.future and
// day.closed. Called with the context of a running write it joins it; one write
// may move worms out of the same section only once.
func (s *Service) MoveWorms(ctx context.Context, a Actor, garden uuid.UUID, in WormMove, once Once) (Done[farm.Transfer], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Transfer]{}, err
	}
	in.ID = s.idOr(in.ID)
	if in.Reason == "" {
		in.Reason = farm.ForOther
	}
	type known struct {
		made[farm.Transfer]
		from, to place
		covers   *store.Rows[farm.Cover]
		vessels  *store.Rows[farm.Container]
		worms    wormBooks
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			source := ledger.SectionAccount(in.From.BinID, in.From.SectionID)
			return known{made[farm.Transfer]{tx.TransferContent(in.ID), tx.Transfer(in.ID)},
				lookUp(&tx.Batch, in.From.BinID, in.From.SectionID), lookUp(&tx.Batch, in.To.BinID, in.To.SectionID),
				s.coversFor(&tx.Batch, in.OccurredAt), vessels(&tx.Batch, in.BeddingAlong),
				s.lockWorms(tx, source, in.OccurredAt, ledger.SectionAccount(in.To.BinID, in.To.SectionID))}
		},
		func(w *Work, k known) (farm.Transfer, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			at, day, err := w.at(in.OccurredAt)
			if err != nil {
				return farm.Transfer{}, err
			}
			t := farm.Transfer{ID: in.ID, From: in.From, To: in.To, Worms: in.Worms, Species: in.Species, BeddingAlong: in.BeddingAlong,
				LostEntered: in.Lost, Reason: in.Reason, Note: in.Note, OccurredAt: at, Day: day, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			if err := t.Validate(); err != nil {
				return t, err
			}
			var from, to farm.Bin
			if !t.From.IsOutside() {
				if from, err = w.caredFor(k.from, "/from", k.covers, day); err != nil {
					return t, err
				}
			}
			if !t.To.IsOutside() {
				if to, err = w.caredFor(k.to, "/to", k.covers, day); err != nil {
					return t, err
				}
				if err := t.CheckArrival(to); err != nil {
					return t, err
				}
			}
			if in.BeddingAlong != nil {
				// Only a note, but it must be an amount. Bedding with worms in
				// it is as dense as castings.
				bedding, _, err := w.weigh("/bedding_along", *in.BeddingAlong, farm.CastingsDensity, k.vessels)
				if err != nil {
					return t, err
				}
				t.BeddingAlong = &bedding
			}
			return w.moveWorms(t, from, to, k.worms, content)
		})
}

// caredFor is a bin that must be there and that the member may act on.
func (w *Work) caredFor(p place, at string, covers *store.Rows[farm.Cover], day measure.Day) (farm.Bin, error) {
	bin, _, err := p.found(at)
	if err != nil {
		return bin, err
	}
	return bin, w.mayCareFor(bin, covers, day)
}

// moveWorms works out the grams of a checked transfer and books it.
func (w *Work) moveWorms(t farm.Transfer, from, to farm.Bin, books wormBooks, content [32]byte) (farm.Transfer, error) {
	var weight farm.WormWeight
	var found measure.Grams
	var err error
	switch {
	case t.From.IsOutside():
		if t.Species == "" {
			t.Species = to.Species
		}
		weight, err = t.Worms.Work("/worms", 0)
	default:
		if t.Species == "" {
			t.Species = books.own(from.Species, t.Day)
		}
		weight, found, err = farm.TakeWorms(t.Worms, "/worms", books.of(t.Species, t.Day))
	}
	if err != nil {
		return t, err
	}
	if t, err = t.Settle(weight, found); err != nil {
		return t, err
	}
	entry := w.entry(ledger.KindWormTransfer, ledger.Cause{Kind: "transfer", ID: t.ID}, t.OccurredAt, t.Day, wormPostings(t, from, to)...)
	t.EntryID = entry.ID
	if err := w.InsertTransfer(t, content); err != nil {
		return t, err
	}
	return t, w.Post(entry)
}

// wormPostings are a transfer's: what was found comes from growth, what died
// on the way goes to it.
func wormPostings(t farm.Transfer, from, to farm.Bin) []ledger.Posting {
	worms, how := ledger.Worms(t.Species), wormMethod(t.Worms.Method)
	end := func(e farm.WormEnd, b farm.Bin) side {
		if e.IsOutside() {
			return side{account: ledger.OutsideAccount()}
		}
		return side{ledger.SectionAccount(e.BinID, e.SectionID), b.SiteID}
	}
	source, target := end(t.From, from), end(t.To, to)
	home := from // the bin on whose growth losses count
	if t.From.IsOutside() {
		home = to
	}
	growth := side{ledger.GrowthAccount(home.ID), home.SiteID}
	var out []ledger.Posting
	if t.Found > 0 {
		out = append(out, moved(worms, t.Found, how, t.RelSDPermille, growth, source)...)
	}
	if arrived := t.Grams - t.Lost; arrived > 0 {
		out = append(out, moved(worms, arrived, how, t.RelSDPermille, source, target)...)
	}
	if t.Lost > 0 {
		out = append(out, moved(worms, t.Lost, ledger.Weighed, farm.WormsWeighed.RelSDPermille(), source, growth)...)
	}
	return out
}

func wormMethod(m farm.WormMethod) ledger.Method {
	switch m {
	case farm.WormsWeighed:
		return ledger.Weighed
	case farm.WormsShare:
		return ledger.Estimate
	}
	return ledger.Counted
}

// wormBooks is what a section's books hold of worms, its stock locked.
type wormBooks struct {
	account ledger.Account
	stocks  *store.Rows[store.Stock]
	first   *store.Rows[store.FirstWorms]
}

// lockWorms locks the worm stock of a section for something that occurred at
// an instant (zero: now), together with that of others which the same write
// will move.
func (s *Service) lockWorms(tx *store.Tx, section ledger.Account, told time.Time, others ...ledger.Account) wormBooks {
	at := told
	if at.IsZero() {
		at = s.now()
	}
	return wormBooks{section, tx.LockStocks(s.from(told), append(others, section)...), tx.FirstWorms(section, at)}
}

// of is what the books hold of a species on a day.
func (b wormBooks) of(s farm.Species, on measure.Day) farm.WormBooks {
	stock := store.Find(b.stocks.Values, ledger.Holding{Account: b.account, Substance: ledger.Worms(s)})
	books := farm.WormBooks{Closing: stock.Closing(on), Least: stock.Least(on)}
	for _, f := range b.first.Values {
		if f.Species == s && !f.Day.After(on) {
			books.Known = true
		}
	}
	return books
}

// own is the species meant when none was named: the bin's own where the books
// know it, else the one they hold most of.
func (b wormBooks) own(bin farm.Species, on measure.Day) farm.Species {
	if b.of(bin, on).Known {
		return bin
	}
	best, most := bin, measure.Grams(-1)
	for _, f := range b.first.Values {
		if books := b.of(f.Species, on); books.Known && books.Closing > most {
			best, most = f.Species, books.Closing
		}
	}
	return best
}

// Transfers lists worm transfers, the latest first.
func (s *Service) Transfers(ctx context.Context, a Actor, garden uuid.UUID, f store.BinDays, p store.Page) (store.List[farm.Transfer], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.Transfer] { return b.Transfers(f, p) })
}

// Lineage lists the transfers through which a bin's worms came, or, forward,
// those by which they went on. It refuses with bin.not_found.
func (s *Service) Lineage(ctx context.Context, a Actor, garden, bin uuid.UUID, forward bool) ([]store.LineageStep, error) {
	var row *store.Row[farm.Bin]
	var steps *store.Rows[store.LineageStep]
	_, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) {
		row = b.Bin(bin)
		if forward {
			steps = b.LineageForward(bin)
		} else {
			steps = b.LineageBack(bin)
		}
	})
	if err != nil {
		return nil, err
	}
	if _, err := row.Or("bin.not_found", "no bin %s in this garden", bin); err != nil {
		return nil, err
	}
	return steps.Values, nil
}
