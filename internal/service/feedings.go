package service

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// The edges speak these types of the store without knowing the store.
type (
	// FeedingSeen is a feeding as it stands in the ledger.
	FeedingSeen = store.FeedingSeen
	// FeedingFilter narrows a list of feedings.
	FeedingFilter = store.FeedingFilter
)

// FeedIn is what went into a section. A zero OccurredAt is now.
type FeedIn struct {
	ID         uuid.UUID
	OccurredAt time.Time
	BinID      uuid.UUID
	SectionID  uuid.UUID
	CoverMM    *int
	PlanTaskID uuid.UUID
	Note       string
	Lots       []PartOf
	Unrecorded []Unrecorded
	Bedding    []LaidOf
}

// Unrecorded is scraps that nobody booked in; LotID may be the client's own.
type Unrecorded struct {
	LotID    uuid.UUID
	Material string
	Mass     farm.Entered
}

// LaidOf is so much of a batch, or of dry bedding; a nil Amount is all that is left.
type LaidOf struct {
	BatchID uuid.UUID
	DryID   uuid.UUID
	Amount  *farm.Entered
}

func (l LaidOf) id() uuid.UUID {
	if l.BatchID != uuid.Nil {
		return l.BatchID
	}
	return l.DryID
}

// feedKnown is what a feeding must know: the bin, the lots and the stocks are held.
type feedKnown struct {
	cared
	made      made[store.FeedingSeen]
	section   *store.Row[farm.Section]
	lots      *store.Rows[store.LotOnHand]
	batches   *store.Rows[store.BatchOnHand]
	dry       *store.Rows[store.DryOnHand]
	stocks    *store.Rows[store.Stock]
	overrides *store.Rows[farm.MaterialOverride]
	vessels   *store.Rows[farm.Container]
	sections  *store.Rows[farm.Section]
	sites     *store.Rows[farm.Site]
	history   store.BinHistory
}

func (s *Service) lockFeed(tx *store.Tx, in FeedIn) feedKnown {
	var lots, batches, dry []uuid.UUID
	var accounts []ledger.Account
	var amounts []*farm.Entered
	for _, l := range in.Lots {
		lots, accounts, amounts = append(lots, l.ID), append(accounts, ledger.LotAccount(l.ID)), append(amounts, l.Amount)
	}
	for _, u := range in.Unrecorded {
		lots, amounts = append(lots, u.LotID), append(amounts, &u.Mass)
	}
	for _, b := range in.Bedding {
		batches, dry = append(batches, b.BatchID), append(dry, b.DryID)
		accounts, amounts = append(accounts, ledger.BeddingAccount(b.id())), append(amounts, b.Amount)
	}
	k := feedKnown{cared: s.lockCared(tx, in.BinID, in.OccurredAt),
		made: made[store.FeedingSeen]{tx.FeedingContent(in.ID), tx.Feeding(in.ID)}, section: tx.LockSection(in.BinID, in.SectionID),
		lots: tx.LockLots(lots...), batches: tx.BeddingBatchesByID(batches), dry: tx.DryBeddingByID(dry),
		stocks: tx.LockStocks(s.from(in.OccurredAt), accounts...), overrides: tx.MaterialOverrides(), vessels: vessels(&tx.Batch, amounts...)}
	if !s.bulk {
		k.sections, k.sites = tx.Sections(in.BinID), tx.AllSites()
		k.history = tx.BinHistory(in.BinID, s.from(in.OccurredAt).Add(-rememberedDays))
	}
	return k
}

// Feed books scraps and bedding into a section, in one entry. Scraps that
// nobody booked in become a lot of an unknown giver in the same entry. What
// speaks against the feeding comes back as warnings.
//
// It refuses with bin.not_found, bin.not_yours, bin.state, section.not_found,
// section.stage, feeding.invalid, feeding.exists, lot.not_found, lot.exists,
// lot.rejected, lot.state, lot.not_yet, lot.empty, bedding.not_found,
// bedding.short, material.not_found, container.not_found, mass.invalid,
// day.future and day.closed.
func (s *Service) Feed(ctx context.Context, a Actor, garden uuid.UUID, in FeedIn, once Once) (Done[FeedingSeen], error) {
	content, err := digest(in)
	if err != nil {
		return Done[FeedingSeen]{}, err
	}
	in.ID = s.idOr(in.ID)
	in.Unrecorded = append([]Unrecorded(nil), in.Unrecorded...)
	for i := range in.Unrecorded {
		in.Unrecorded[i].LotID = s.idOr(in.Unrecorded[i].LotID)
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) feedKnown { return s.lockFeed(tx, in) },
		func(w *Work, k feedKnown) (FeedingSeen, error) {
			at, day, err := w.at(in.OccurredAt)
			if err != nil {
				return FeedingSeen{}, err
			}
			bin, err := w.careFor(k.cared, day)
			if err != nil {
				return FeedingSeen{}, err
			}
			if same, err := again(k.made.content, content, "feeding.exists"); same || err != nil {
				return k.made.row.Value, err
			}
			section, ok := k.section.Value, k.section.Found
			if !ok {
				return FeedingSeen{}, farm.Refuse("section.not_found", "/section_id", "section_id: no section %s in this bin", in.SectionID)
			}
			if err := bin.CheckFeed(section); err != nil {
				return FeedingSeen{}, err
			}
			f := farm.Feed{ID: in.ID, BinID: in.BinID, SectionID: in.SectionID, CoverMM: in.CoverMM, PlanTaskID: in.PlanTaskID, Note: in.Note,
				FedAt: at, FedOn: day, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			t := &trough{shelf: shelf{w, day, s.materialsByKey(k.overrides.Values), k.stocks.Values, k.vessels}, known: k, bin: bin,
				feed: f, to: side{ledger.SectionAccount(bin.ID, section.ID), bin.SiteID}, used: map[uuid.UUID]bool{}}
			if err := t.fill(in); err != nil {
				return FeedingSeen{}, err
			}
			t.warn(s.stood(bin, day, w.Garden, k))
			w.beginFeeding(bin, section, day)
			if err := w.InsertFeeding(t.feed, content); err != nil {
				return FeedingSeen{}, err
			}
			return FeedingSeen{Feed: t.feed}, w.Post(t.entry)
		})
}

// beginFeeding notes the first feed on the section and on the bin's checklist.
func (w *Work) beginFeeding(bin farm.Bin, section farm.Section, day measure.Day) {
	if section.StartedOn.IsZero() {
		section.StartedOn = day
		w.UpdateSection(section)
	}
	if bin.SetUp.FirstFeedOn.IsZero() && !day.Before(bin.SetUp.WormsLaidOn) {
		bin.SetUp.FirstFeedOn = day
		w.UpdateBin(bin)
	}
}

// mostFedPostings keeps an entry within what one answer can show.
const mostFedPostings = 200

// trough is a feeding under way: what goes in, and the entry that books it.
type trough struct {
	shelf
	known  feedKnown
	bin    farm.Bin
	feed   farm.Feed
	to     side
	entry  ledger.Entry
	used   map[uuid.UUID]bool
	frozen []string // names of materials fed frozen
	unaged bool     // bedding of a batch that is not ready
}

// fill takes everything that goes in and gathers every mistake.
func (t *trough) fill(in FeedIn) error {
	t.entry = t.Work.entry(ledger.KindFeeding, ledger.Cause{Kind: "feeding", ID: t.feed.ID}, t.feed.FedAt, t.feed.FedOn)
	t.feed.EntryID = t.entry.ID
	var f farm.Faults
	for i, l := range in.Lots {
		f.Keep(t.lot(fmt.Sprintf("/lots/%d", i), l))
	}
	for i, u := range in.Unrecorded {
		f.Keep(t.unrecorded(fmt.Sprintf("/unrecorded/%d", i), u))
	}
	for i, b := range in.Bedding {
		f.Keep(t.bedding(fmt.Sprintf("/bedding/%d", i), b))
	}
	if f.Len() == 0 {
		f.Keep(t.feed.Validate())
	}
	if n := len(t.entry.Postings); n > mostFedPostings {
		f.Add("feeding.invalid", "/bedding", "bedding: this feeding moves too many kinds at once; record it in two")
	}
	return f.Err()
}

// once refuses with feeding.invalid what is named a second time.
func (t *trough) once(field string, id uuid.UUID) error {
	if t.used[id] {
		return farm.Refuse("feeding.invalid", field, "%s is named twice; give its whole amount once", id)
	}
	t.used[id] = true
	return nil
}

func (t *trough) lot(at string, in PartOf) error {
	var lot store.LotOnHand
	for _, l := range t.known.lots.Values {
		if l.ID == in.ID {
			lot = l
		}
	}
	if lot.ID == uuid.Nil {
		return farm.Refuse("lot.not_found", at+"/lot_id", "lot_id: no lot %s in this garden", in.ID)
	}
	if err := t.once(at+"/lot_id", in.ID); err != nil {
		return err
	}
	if err := lot.MayFeed(at+"/lot_id", t.day); err != nil {
		return err
	}
	g, err := t.take(at+"/amount", ledger.LotAccount(lot.ID), ledger.Scraps(lot.Material), lot.Material, in.Amount, lot.Weight.RelSDPermille)
	if err != nil {
		return err
	}
	if lot.Place == farm.Freezer {
		t.frozen = append(t.frozen, t.materials[lot.Material].Name)
	}
	t.feed.Lots = append(t.feed.Lots, farm.FedLot{LotID: lot.ID, Material: lot.Material, Entered: g.entered, Net: g.Net, RelSDPermille: g.RelSDPermille})
	t.entry.Postings = append(t.entry.Postings, moved(ledger.Scraps(lot.Material), g.Net, g.how, g.RelSDPermille, lotSide(lot.Lot), t.to)...)
	return nil
}

// unrecorded books scraps of an unknown giver in, as a lot that can be matched
// later, and feeds all of it. Nobody at a bin is refused because someone at
// the table forgot.
func (t *trough) unrecorded(at string, u Unrecorded) error {
	for _, l := range t.known.lots.Values {
		if l.ID == u.LotID {
			return farm.Refuse("lot.exists", at+"/lot_id", "lot_id: another lot has this id")
		}
	}
	if err := t.once(at+"/lot_id", u.LotID); err != nil {
		return err
	}
	m, ok := t.materials[u.Material]
	if !ok || m.Use != farm.ScrapUse {
		return farm.Refuse("material.not_found", at+"/material", "material: %q is no scrap of the catalogue nor of the garden's own", u.Material)
	}
	entered, weight, err := t.weigh(at+"/amount", u.Mass, m.DensityGPerL, t.vessels)
	if err != nil {
		return err
	}
	content, err := digest(struct {
		Feeding uuid.UUID
		Unrecorded
	}{t.feed.ID, u})
	if err != nil {
		return err
	}
	lot := farm.Lot{ID: u.LotID, Material: m.Key, SiteID: t.bin.SiteID, EntryID: t.entry.ID, Entered: entered, Weight: weight, Place: farm.Shelf,
		UseBy: farm.UseByFor(m.Material, farm.Shelf, t.day), Status: farm.LotAccepted, ReceivedAt: t.feed.FedAt, ReceivedOn: t.day,
		RecordedAt: t.Now, RecordedBy: t.Member.ID, Version: 1}
	if err := lot.Validate(); err != nil {
		return err
	}
	t.InsertLot(lot, content)
	t.InsertLotPlace(store.LotPlace{ID: t.ids(), LotID: lot.ID, SiteID: lot.SiteID, Place: lot.Place, UseBy: lot.UseBy,
		MovedAt: lot.ReceivedAt, MovedBy: t.Member.ID})
	t.feed.Lots = append(t.feed.Lots, farm.FedLot{LotID: lot.ID, Material: lot.Material, Unrecorded: true, Entered: &entered,
		Net: weight.Net, RelSDPermille: weight.RelSDPermille})
	how, s := methodOf(entered.Method), ledger.Scraps(lot.Material)
	t.entry.Postings = append(t.entry.Postings,
		moved(s, weight.Net, how, weight.RelSDPermille, side{ledger.UnknownSource(), lot.SiteID}, lotSide(lot))...)
	t.entry.Postings = append(t.entry.Postings, moved(s, weight.Net, how, weight.RelSDPermille, lotSide(lot), t.to)...)
	return nil
}

// Feedings lists feedings, the latest first.
func (s *Service) Feedings(ctx context.Context, a Actor, garden uuid.UUID, f store.FeedingFilter, p store.Page) (store.List[FeedingSeen], error) {
	var page *store.Paged[store.FeedingSeen]
	_, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { page = b.Feedings(f, p) })
	if err != nil {
		return store.List[FeedingSeen]{}, err
	}
	return page.List(), nil
}

// Feeding is one feeding. It refuses with feeding.not_found.
func (s *Service) Feeding(ctx context.Context, a Actor, garden, id uuid.UUID) (FeedingSeen, error) {
	var row *store.Row[store.FeedingSeen]
	if _, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.Feeding(id) }); err != nil {
		return FeedingSeen{}, err
	}
	return row.Or("feeding.not_found", "no feeding %s in this garden", id)
}
