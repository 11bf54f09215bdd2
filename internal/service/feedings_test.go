package service_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
)

func grams(n int) farm.Entered {
	return farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: fmt.Sprint(n), Unit: measure.Gram}}
}

// bed makes a batch bin and gives its section's account.
func (p *plot) bed(name string) ledger.Account {
	p.t.Helper()
	bin, err := p.svc.CreateBin(p.t.Context(), p.founder, p.garden, farm.Bin{Name: name, SiteID: p.site, Method: farm.Batch, Drained: true,
		Shape: farm.Shape{Kind: farm.Box, LengthMM: 1000, WidthMM: 500, DepthMM: 400}, Ventilation: farm.AirHoles, Species: farm.Eisenia, Status: farm.BinInUse}, service.Once{})
	p.must(err)
	list, err := p.svc.Sections(p.t.Context(), p.founder, p.garden, bin.Value.ID, store.Page{})
	p.must(err)
	return ledger.SectionAccount(bin.Value.ID, list.Items[0].ID)
}

// holds is what accounts hold of the scrap material, read at once.
func (p *plot) holds(material string, accounts ...ledger.Account) []measure.Grams {
	p.t.Helper()
	rows := make([]*store.Row[int64], len(accounts))
	p.must(p.store.Snapshot(p.t.Context(), store.Scope{Garden: p.garden, Account: p.founder.AccountID}, func(b *store.Batch) {
		for i, a := range accounts {
			rows[i] = b.Balance(ledger.Holding{Account: a, Substance: ledger.Scraps(material)}, measure.Day{})
		}
	}))
	out := make([]measure.Grams, len(rows))
	for i, r := range rows {
		out[i] = measure.Grams(r.Value)
	}
	return out
}

// shedBook keeps lots the plain way: what moved on each of four days.
type shedBook struct {
	lots       map[uuid.UUID]*[4]measure.Grams
	ids        []uuid.UUID
	fed, spoil measure.Grams
}

// least is the most that can be taken from a lot on a day.
func (m *shedBook) least(lot uuid.UUID, day int) measure.Grams {
	var sum, least measure.Grams
	for d, g := range m.lots[lot] {
		if sum += g; d == day || d > day && sum < least {
			least = sum
		}
	}
	return least
}

func (m *shedBook) left(lot uuid.UUID) (sum measure.Grams) {
	for _, g := range m.lots[lot] {
		sum += g
	}
	return sum
}

func TestIntakeFeedingAndSpoilageAgreeWithAPlainBook(t *testing.T) {
	t.Parallel()
	p := setup(t)
	material, checks := p.scrap(), 0
	rapid.Check(t, func(rt *rapid.T) {
		checks++
		section := p.bed(fmt.Sprintf("Bed %d", checks))
		m := &shedBook{lots: map[uuid.UUID]*[4]measure.Grams{}}
		before := p.holds(material, ledger.SpoiledAccount())[0]
		on := func() (int, time.Time) {
			d := rapid.IntRange(0, 3).Draw(rt, "day")
			return d, p.clock().AddDate(0, 0, d-3)
		}
		takeIn := func() {
			d, at := on()
			in := p.intake(grams(rapid.IntRange(1, 5000).Draw(rt, "grams")))
			in.OccurredAt = at
			done, err := p.svc.TakeIn(t.Context(), p.founder, p.garden, in, service.Once{})
			p.must(err)
			m.lots[done.Value.ID] = &[4]measure.Grams{}
			m.lots[done.Value.ID][d] = done.Value.OnHand
			m.ids = append(m.ids, done.Value.ID)
		}
		// take draws how much of which lot on which day, and what the book says of it.
		take := func() (lot uuid.UUID, d int, at time.Time, part *farm.Entered, g measure.Grams, ok bool) {
			lot = rapid.SampledFrom(m.ids).Draw(rt, "lot")
			d, at = on()
			least := m.least(lot, d)
			if g = least; !rapid.Bool().Draw(rt, "all") {
				g = measure.Grams(rapid.IntRange(1, 3000).Draw(rt, "part"))
				e := grams(int(g))
				part = &e
			}
			return lot, d, at, part, g, g > 0 && g <= least
		}
		judge := func(what string, ok bool, err error) {
			code := farm.CodeOf(err)
			if ok != (err == nil) || err != nil && code != "lot.empty" && code != "lot.not_yet" {
				rt.Fatalf("%s: the book says %t, the service %v", what, ok, err)
			}
		}
		takeIn()
		for range rapid.IntRange(1, 8).Draw(rt, "steps") {
			switch rapid.SampledFrom([]string{"take in", "feed", "feed", "spoil", "unrecorded"}).Draw(rt, "what") {
			case "take in":
				takeIn()
			case "unrecorded":
				n := rapid.IntRange(1, 3000).Draw(rt, "grams")
				_, at := on()
				_, err := p.svc.Feed(t.Context(), p.founder, p.garden, service.FeedIn{BinID: section.Bin, SectionID: section.ID, OccurredAt: at,
					Unrecorded: []service.Unrecorded{{Material: material, Mass: grams(n)}}}, service.Once{})
				judge("unrecorded", true, err)
				m.fed += measure.Grams(n)
			case "feed":
				lot, d, at, part, g, ok := take()
				_, err := p.svc.Feed(t.Context(), p.founder, p.garden, service.FeedIn{BinID: section.Bin, SectionID: section.ID, OccurredAt: at,
					Lots: []service.PartOf{{ID: lot, Amount: part}}}, service.Once{})
				judge("feed", ok, err)
				if ok {
					m.lots[lot][d] -= g
					m.fed += g
				}
			case "spoil":
				lot, d, at, part, g, ok := take()
				_, err := p.svc.SpoilLot(t.Context(), p.founder, p.garden, lot, service.Spoilage{To: farm.ToElsewhere, Part: part, OccurredAt: at}, service.Once{})
				judge("spoil", ok, err)
				if ok {
					m.lots[lot][d] -= g
					m.spoil += g
				}
			}
			accounts := []ledger.Account{section, ledger.SpoiledAccount()}
			for _, id := range m.ids {
				accounts = append(accounts, ledger.LotAccount(id))
			}
			got := p.holds(material, accounts...)
			if got[0] != m.fed || got[1]-before != m.spoil {
				rt.Fatalf("fed %d g and spoiled %d g, want %d and %d", got[0], got[1]-before, m.fed, m.spoil)
			}
			for i, id := range m.ids {
				if got[i+2] != m.left(id) {
					rt.Fatalf("lot %s holds %d g, want %d", id, got[i+2], m.left(id))
				}
			}
		}
	})
	p.sound()
}

func TestFoodAndBeddingReadBackPerBinWithoutWhatWasUndone(t *testing.T) {
	t.Parallel()
	p := setup(t)
	one, other := p.bed("One"), p.bed("Other")
	var dry []uuid.UUID
	for _, kind := range []string{"corrugated_cardboard", "leaves"} {
		done, err := p.svc.ReceiveDryBedding(t.Context(), p.founder, p.garden, service.DryIntake{Material: kind, SiteID: p.site, Mass: kg("3"), Reserve: true}, service.Once{})
		p.must(err)
		dry = append(dry, done.Value.ID)
	}
	two := kg("2")
	batch, err := p.svc.StartBatch(t.Context(), p.founder, p.garden, service.BatchStart{SiteID: p.site,
		Parts: []service.PartOf{{ID: dry[0], Amount: &two}, {ID: dry[1], Amount: &two}}}, service.Once{})
	p.must(err)
	half := kg("1")
	feed := func(bed ledger.Account, mass string) service.FeedingSeen {
		done, err := p.svc.Feed(t.Context(), p.founder, p.garden, service.FeedIn{BinID: bed.Bin, SectionID: bed.ID,
			Unrecorded: []service.Unrecorded{{Material: p.scrap(), Mass: kg(mass)}}, Bedding: []service.LaidOf{{BatchID: batch.Value.ID, Amount: &half}}}, service.Once{})
		p.must(err)
		return done.Value
	}
	kept, _, undone := feed(one, "1"), feed(other, "2"), feed(one, "3")
	_, err = p.svc.ReverseEntry(t.Context(), p.founder, p.garden, undone.EntryID, service.Undo{Reason: "Wrong bin."}, service.Once{})
	p.must(err)
	var food, all, laid, allLaid *store.Rows[store.Fed]
	var hand *store.Rows[store.BeddingStock]
	p.must(p.store.Read(t.Context(), store.Scope{Garden: p.garden, Account: p.founder.AccountID}, func(b *store.Batch) {
		food, all = b.FeedingsOf(one.Bin, measure.Day{}), b.AllFeedings(kept.FedOn)
		laid, allLaid = b.BeddingLaidOf(one.Bin, kept.FedOn), b.AllBeddingLaid(kept.FedOn.Add(1))
		hand = b.BeddingOnHand()
	}))
	if len(food.Values) != 1 || food.Values[0].FeedingID != kept.ID || food.Values[0].Grams != 1000 || food.Values[0].SectionID != one.ID || len(all.Values) != 2 {
		t.Errorf("food %+v, of all bins %d rows", food.Values, len(all.Values))
	}
	if len(laid.Values) != 2 || laid.Values[0].Grams != 500 || laid.Values[1].Grams != 500 || laid.Values[0].MoisturePct != batch.Value.MoisturePct || len(allLaid.Values) != 0 {
		t.Errorf("bedding %+v, from tomorrow on %+v", laid.Values, allLaid.Values)
	}
	var dryLeft, aged measure.Grams
	for _, x := range hand.Values {
		if x.Dry {
			dryLeft += x.Grams
		} else if aged += x.Grams; x.ReadyOn != kept.FedOn.Add(14) || x.LastLook != nil || x.ReadyFrom(kept.FedOn) != x.ReadyOn {
			t.Errorf("the batch is %+v", x)
		}
	}
	if len(hand.Values) != 4 || dryLeft != 2000 || aged != 2000 {
		t.Errorf("on hand %d rows, %d g dry and %d g ageing", len(hand.Values), dryLeft, aged)
	}
	p.sound()
}
