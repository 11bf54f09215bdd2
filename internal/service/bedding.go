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
	"midden/internal/vermi"
)

// The edges speak these types of the store without knowing the store.
type (
	// DryOnHand is dry bedding with what is left of it.
	DryOnHand = store.DryOnHand
	// DryFilter narrows a list of dry bedding.
	DryFilter = store.DryFilter
	// BatchFilter narrows a list of batches of bedding.
	BatchFilter = store.BatchFilter
)

// DryIntake is dry bedding that came in. A zero OccurredAt is now.
type DryIntake struct {
	ID         uuid.UUID
	OccurredAt time.Time
	Material   string
	Mass       farm.Entered
	SiteID     uuid.UUID
	Reserve    bool
	Note       string
}

// ReceiveDryBedding books dry bedding from outside. It refuses with
// bedding.invalid, mass.invalid, bedding.exists, material.not_found,
// site.not_found, day.future and day.closed.
func (s *Service) ReceiveDryBedding(ctx context.Context, a Actor, garden uuid.UUID, in DryIntake, once Once) (Done[store.DryOnHand], error) {
	content, err := digest(in)
	if err != nil {
		return Done[store.DryOnHand]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[store.DryOnHand]
		material *store.Row[farm.MaterialOverride]
		vessels  *store.Rows[farm.Container]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{made[store.DryOnHand]{tx.BeddingContent(in.ID), tx.DryBedding(in.ID)}, tx.MaterialOverride(in.Material), vessels(&tx.Batch, &in.Mass)}
		},
		func(w *Work, k known) (store.DryOnHand, error) {
			if same, err := again(k.content, content, "bedding.exists"); same || err != nil {
				return k.row.Value, err
			}
			material, ok := s.known(in.Material, k.material)
			if !ok || material.Use != farm.BeddingUse {
				return store.DryOnHand{}, noMaterial(in.Material)
			}
			at, day, err := w.at(in.OccurredAt)
			if err != nil {
				return store.DryOnHand{}, err
			}
			d := farm.DryBedding{ID: in.ID, Material: in.Material, SiteID: in.SiteID, Reserve: in.Reserve,
				Note: in.Note, ReceivedAt: at, ReceivedOn: day, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			var f farm.Faults
			d.Entered, d.Weight, err = w.weigh("/amount", in.Mass, material.DensityGPerL, k.vessels)
			f.Keep(err)
			f.Keep(d.Validate())
			if err := f.Err(); err != nil {
				return store.DryOnHand{}, err
			}
			entry := w.entry(ledger.KindBeddingReceipt, ledger.Cause{Kind: "dry_bedding", ID: d.ID}, at, day,
				moved(ledger.BeddingOf(d.Material), d.Weight.Net, methodOf(d.Entered.Method), d.Weight.RelSDPermille,
					side{ledger.OutsideAccount(), d.SiteID}, side{ledger.BeddingAccount(d.ID), d.SiteID})...)
			d.EntryID = entry.ID
			if err := w.InsertDryBedding(d, content); err != nil {
				return store.DryOnHand{}, err
			}
			return store.DryOnHand{DryBedding: d, OnHand: d.Weight.Net}, w.Post(entry)
		})
}

// DryBeddings lists dry bedding, the latest first.
func (s *Service) DryBeddings(ctx context.Context, a Actor, garden uuid.UUID, f store.DryFilter, p store.Page) (store.List[store.DryOnHand], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[store.DryOnHand] { return b.DryBeddings(f, p) })
}

// BatchStart is what a batch of bedding is made from. A part without an amount
// is all that is left of that dry bedding.
type BatchStart struct {
	ID         uuid.UUID
	OccurredAt time.Time
	SiteID     uuid.UUID
	Parts      []PartOf
	Water      measure.Quantity
	Tubs       int
	StandIn    bool
	Note       string
}

// PartOf is so much of a lot, of dry bedding or of a batch; nil for all that is left.
type PartOf struct {
	ID     uuid.UUID
	Amount *farm.Entered
}

// BatchSeen is a batch as it stands on a day.
type BatchSeen struct {
	store.BatchOnHand
	Ready bool
}

// StartBatch books dry bedding and water into a batch that ages, in one entry.
// It refuses with bedding.invalid, bedding.exists, bedding.not_found,
// bedding.short, mass.invalid, site.not_found, day.future and day.closed.
func (s *Service) StartBatch(ctx context.Context, a Actor, garden uuid.UUID, in BatchStart, once Once) (Done[BatchSeen], error) {
	content, err := digest(in)
	if err != nil {
		return Done[BatchSeen]{}, err
	}
	in.ID = s.idOr(in.ID)
	ids, accounts, amounts := make([]uuid.UUID, len(in.Parts)), make([]ledger.Account, len(in.Parts)), make([]*farm.Entered, len(in.Parts))
	for i, p := range in.Parts {
		ids[i], accounts[i], amounts[i] = p.ID, ledger.BeddingAccount(p.ID), p.Amount
	}
	type known struct {
		made[store.BatchOnHand]
		dry       *store.Rows[store.DryOnHand]
		stocks    *store.Rows[store.Stock]
		overrides *store.Rows[farm.MaterialOverride]
		vessels   *store.Rows[farm.Container]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			return known{made[store.BatchOnHand]{tx.BeddingContent(in.ID), tx.BeddingBatch(in.ID)},
				tx.DryBeddingByID(ids), tx.LockStocks(s.from(in.OccurredAt), accounts...), tx.MaterialOverrides(), vessels(&tx.Batch, amounts...)}
		},
		func(w *Work, k known) (BatchSeen, error) {
			if same, err := again(k.content, content, "bedding.exists"); same || err != nil {
				return w.seen(k.row.Value), err
			}
			at, day, err := w.at(in.OccurredAt)
			if err != nil {
				return BatchSeen{}, err
			}
			b := farm.BeddingBatch{ID: in.ID, SiteID: in.SiteID, Water: in.Water, Tubs: in.Tubs, StandIn: in.StandIn, Note: in.Note,
				ReadyOn: w.Garden.Settings.BeddingReadyOn(day, in.StandIn), StartedAt: at, StartedOn: day, RecordedAt: w.Now, RecordedBy: w.Member.ID}
			shelf := shelf{w, day, s.materialsByKey(k.overrides.Values), k.stocks.Values, k.vessels}
			entry := w.entry(ledger.KindBeddingBatch, ledger.Cause{Kind: "bedding_batch", ID: b.ID}, at, day)
			b.EntryID = entry.ID
			if entry.Postings, err = shelf.fill(&b, in.Parts, k.dry.Values); err != nil {
				return BatchSeen{}, err
			}
			if err := w.InsertBeddingBatch(b, content); err != nil {
				return BatchSeen{}, err
			}
			out := store.BatchOnHand{BeddingBatch: b}
			for _, p := range b.Parts {
				out.OnHand += p.Net
			}
			out.OnHand += b.WaterG
			return w.seen(out), w.Post(entry)
		})
}

// fill takes the parts of a batch off the dry stock and gives the postings.
func (h shelf) fill(b *farm.BeddingBatch, parts []PartOf, dry []store.DryOnHand) ([]ledger.Posting, error) {
	var f farm.Faults
	var out []ledger.Posting
	var mix []vermi.Component
	to := side{ledger.BeddingAccount(b.ID), b.SiteID}
	used := map[uuid.UUID]bool{}
	for i, p := range parts {
		at := fmt.Sprintf("/parts/%d", i)
		d, ok := findDry(dry, p.ID)
		switch {
		case !ok:
			f.Add("bedding.not_found", at+"/dry_bedding_id", "dry_bedding_id: no dry bedding %s in this garden", p.ID)
			continue
		case used[p.ID]:
			f.Add("bedding.invalid", at+"/dry_bedding_id", "dry_bedding_id: %s is named twice; give its whole amount once", p.ID)
			continue
		}
		used[p.ID] = true
		t, err := h.take(at+"/amount", ledger.BeddingAccount(p.ID), ledger.BeddingOf(d.Material), d.Material, p.Amount, d.Weight.RelSDPermille)
		if err != nil {
			f.Keep(err)
			continue
		}
		b.Parts = append(b.Parts, farm.BeddingPart{DryID: d.ID, Material: d.Material, Entered: t.entered, Net: t.Net, RelSDPermille: t.RelSDPermille})
		mix = append(mix, vermi.ComponentOf(h.materials[d.Material].Material, t.Net))
		out = append(out, moved(ledger.BeddingOf(d.Material), t.Net, t.how, t.RelSDPermille, side{ledger.BeddingAccount(d.ID), d.SiteID}, to)...)
	}
	if err := f.Err(); err != nil {
		return nil, err
	}
	var err error
	b.WaterG, err = farm.WaterMass(b.Water)
	f.Keep(err)
	f.Keep(b.Validate())
	if err := f.Err(); err != nil {
		return nil, err
	}
	b.MoisturePct, _ = vermi.MixMoisturePct(append(mix, vermi.Water(float64(b.WaterG))))
	return append(out, h.soak(*b, to)...), nil
}

// soak books the water a batch took up, shared among its kinds by mass. What a
// keeper lifts out later is wet, so the batch's stock must hold the water too.
func (h shelf) soak(b farm.BeddingBatch, to side) []ledger.Posting {
	masses := make([]measure.Grams, len(b.Parts))
	for i, p := range b.Parts {
		masses[i] = p.Net
	}
	var out []ledger.Posting
	for i, g := range spread(b.WaterG, masses) {
		if g > 0 {
			out = append(out, moved(ledger.BeddingOf(b.Parts[i].Material), g, ledger.Container,
				h.Garden.Settings.ContainerSDPct*10, side{ledger.WaterAccount(b.ID), b.SiteID}, to)...)
		}
	}
	return out
}

func findDry(list []store.DryOnHand, id uuid.UUID) (store.DryOnHand, bool) {
	for _, d := range list {
		if d.ID == id {
			return d, true
		}
	}
	return store.DryOnHand{}, false
}

// seen is a batch on the garden's day of this use case.
func (w *Work) seen(b store.BatchOnHand) BatchSeen { return seenAt(b, w.Garden, w.Now) }

func seenAt(b store.BatchOnHand, g farm.Garden, now time.Time) BatchSeen {
	today, err := g.DayOf(now)
	return BatchSeen{b, err == nil && b.Ready(today)}
}

// Batches lists batches of bedding, the latest first.
func (s *Service) Batches(ctx context.Context, a Actor, garden uuid.UUID, f store.BatchFilter, p store.Page) (store.List[BatchSeen], error) {
	now := s.now()
	var page *store.Paged[store.BatchOnHand]
	g, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { page = b.BeddingBatches(f, p) })
	if err != nil {
		return store.List[BatchSeen]{}, err
	}
	list := page.List()
	out := store.List[BatchSeen]{Next: list.Next}
	for _, b := range list.Items {
		out.Items = append(out.Items, seenAt(b, g, now))
	}
	return out, nil
}

// Batch is one batch of bedding. It refuses with bedding.not_found.
func (s *Service) Batch(ctx context.Context, a Actor, garden, id uuid.UUID) (BatchSeen, error) {
	now := s.now()
	var row *store.Row[store.BatchOnHand]
	g, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.BeddingBatch(id) })
	if err != nil {
		return BatchSeen{}, err
	}
	batch, err := row.Or("bedding.not_found", "no batch of bedding %s in this garden", id)
	return seenAt(batch, g, now), err
}

// LookAtBatch notes a look at ageing bedding and gives the batch. It refuses
// with bedding.not_found, bedding.invalid, bedding.not_yet, day.future and
// day.closed.
func (s *Service) LookAtBatch(ctx context.Context, a Actor, garden, id uuid.UUID, look farm.BeddingLook, once Once) (Done[BatchSeen], error) {
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) *store.Row[store.BatchOnHand] { return tx.BeddingBatch(id) },
		func(w *Work, row *store.Row[store.BatchOnHand]) (BatchSeen, error) {
			b, err := row.Or("bedding.not_found", "no batch of bedding %s in this garden", id)
			if err != nil {
				return BatchSeen{}, err
			}
			look.ID, look.BatchID, look.RecordedAt, look.RecordedBy = w.ids(), id, w.Now, w.Member.ID
			if look.SeenAt, look.SeenOn, err = w.at(look.SeenAt); err != nil {
				return BatchSeen{}, err
			}
			if look.SeenAt.Before(b.StartedAt) {
				return BatchSeen{}, farm.Refuse("bedding.not_yet", "/occurred_at", "occurred_at: the batch was started at %s; got %s",
					b.StartedAt.Format(time.RFC3339), look.SeenAt.Format(time.RFC3339))
			}
			if err := look.Validate(); err != nil {
				return BatchSeen{}, err
			}
			w.InsertBeddingLook(look)
			b.Looks = withLook(b.Looks, look)
			return w.seen(b), nil
		})
}

// withLook puts a look in its place by time.
func withLook(looks []farm.BeddingLook, look farm.BeddingLook) []farm.BeddingLook {
	i := len(looks)
	for i > 0 && looks[i-1].SeenAt.After(look.SeenAt) {
		i--
	}
	out := append(append(looks[:i:i], look), looks[i:]...)
	return out[max(0, len(out)-store.ShownLooks):]
}
