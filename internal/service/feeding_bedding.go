package service

import (
	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
	"midden/internal/vermi"
)

// bedding lays so much of a batch, or of dry bedding, with the feeding.
func (t *trough) bedding(at string, in LaidOf) error {
	if (in.BatchID == uuid.Nil) == (in.DryID == uuid.Nil) {
		return farm.Refuse("feeding.invalid", at, "bedding: name a bedding_batch_id or a dry_bedding_id, one of them")
	}
	if in.DryID != uuid.Nil {
		return t.layDry(at, in)
	}
	return t.layBatch(at, in)
}

func (t *trough) layDry(at string, in LaidOf) error {
	d, ok := findDry(t.known.dry.Values, in.DryID)
	if !ok {
		return farm.Refuse("bedding.not_found", at+"/dry_bedding_id", "dry_bedding_id: no dry bedding %s in this garden", in.DryID)
	}
	if err := t.once(at+"/dry_bedding_id", in.DryID); err != nil {
		return err
	}
	g, err := t.take(at+"/amount", ledger.BeddingAccount(d.ID), ledger.BeddingOf(d.Material), d.Material, in.Amount, d.Weight.RelSDPermille)
	if err != nil {
		return err
	}
	t.lay(farm.BeddingLaid{DryID: d.ID, MoisturePct: t.materials[d.Material].MoisturePct.Value, Entered: g.entered, RelSDPermille: g.RelSDPermille,
		Kinds: []farm.LaidKind{{Material: d.Material, Grams: g.Net}}}, g.how, side{ledger.BeddingAccount(d.ID), d.SiteID})
	return nil
}

func (t *trough) layBatch(at string, in LaidOf) error {
	var b store.BatchOnHand
	for _, x := range t.known.batches.Values {
		if x.ID == in.BatchID {
			b = x
		}
	}
	if b.ID == uuid.Nil {
		return farm.Refuse("bedding.not_found", at+"/bedding_batch_id", "bedding_batch_id: no batch of bedding %s in this garden", in.BatchID)
	}
	if err := t.once(at+"/bedding_batch_id", in.BatchID); err != nil {
		return err
	}
	g, kinds, err := t.takeBatch(at+"/amount", b, in.Amount)
	if err != nil {
		return err
	}
	t.unaged = t.unaged || !b.Ready(t.day)
	t.lay(farm.BeddingLaid{BatchID: b.ID, AgedDays: t.day.Sub(b.StartedOn), MoisturePct: b.MoisturePct, Entered: g.entered,
		RelSDPermille: g.RelSDPermille, Kinds: kinds}, g.how, side{ledger.BeddingAccount(b.ID), b.SiteID})
	return nil
}

func (t *trough) lay(laid farm.BeddingLaid, how ledger.Method, from side) {
	t.feed.Bedding = append(t.feed.Bedding, laid)
	for _, k := range laid.Kinds {
		t.entry.Postings = append(t.entry.Postings, moved(ledger.BeddingOf(k.Material), k.Grams, how, laid.RelSDPermille, from, t.to)...)
	}
}

// stood is the bin as it stood before the feeding, by what was read with it.
// It is nil for a bulk load.
func (s *Service) stood(bin farm.Bin, day measure.Day, g farm.Garden, k feedKnown) *vermi.State {
	if s.bulk {
		return nil
	}
	keeping := s.keeping(day, g, k.sites.Values, k.overrides.Values)
	state := s.recall.state(newBinPast(k.history).record(keeping, bin, k.sections.Values))
	return &state
}

// warn says what speaks against the feeding, the bin having stood so.
func (t *trough) warn(before *vermi.State) {
	m := vermi.Meal{Frozen: t.frozen, CoverMM: t.feed.CoverMM, BeddingG: t.feed.BeddingMass(), Unaged: t.unaged, Status: t.bin.Status,
		Materials: map[string]farm.Material{}}
	for _, l := range t.feed.Lots {
		m.Food = append(m.Food, vermi.Food{Material: l.Material, Grams: l.Net})
		m.Materials[l.Material] = t.materials[l.Material].Material
	}
	for _, n := range vermi.Concerns(m, before, vermiSettings(t.Garden.Settings)) {
		t.feed.Warnings = append(t.feed.Warnings, farm.Warning{Code: n.Code, Urgency: n.Urgency.String(), Do: n.Do, Why: n.Why, Caution: n.Caution, Source: n.Source})
	}
	t.feed.Warnings = t.feed.Warnings[:min(len(t.feed.Warnings), mostWarnings)]
}

// mostWarnings is how many warnings one feeding shows.
const mostWarnings = 10
