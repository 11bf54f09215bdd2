package store_test

import (
	"testing"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

// model keeps the ledger in memory, the plain way: every entry in a list, and
// each question answered by adding up.
type model struct{ entries []ledger.Entry }

func (m *model) closing(h ledger.Holding, on measure.Day) (sum measure.Grams) {
	for _, e := range m.entries {
		for _, p := range e.Postings {
			if p.Account == h.Account && p.Substance == h.Substance && !e.EffectiveOn.After(on) {
				sum += p.Grams
			}
		}
	}
	return sum
}

// allows tells whether no stock is below zero on any day of the test.
func (m *model) allows(holdings []ledger.Holding, days int) bool {
	for _, h := range holdings {
		for d := range days {
			if h.Account.NeverNegative(h.Substance) && m.closing(h, today.Add(d)) < 0 {
				return false
			}
		}
	}
	return true
}

// Random entries, backdated and reversed at will, are accepted and refused,
// and add up, exactly as in the model.
func TestTheStoreAgreesWithAPlainModelOfTheLedger(t *testing.T) {
	t.Parallel()
	base := setup(t)
	const days = 8
	rapid.Check(t, func(rt *rapid.T) {
		p := makePlot(t, base.db, base.s)
		bin := id()
		accounts := []ledger.Account{ledger.LotAccount(id()), ledger.LotAccount(id()), ledger.SectionAccount(bin, id()),
			ledger.SectionAccount(bin, id()), ledger.CastingsAccount(id()), ledger.BeddingAccount(id()),
			ledger.HouseholdSource(p.household), ledger.OutsideAccount(), ledger.SpoiledAccount()}
		substances := []ledger.Substance{ledger.Scraps("peel"), ledger.Worms(farm.Eisenia), ledger.CastingsSubstance}
		var holdings []ledger.Holding
		for _, a := range accounts {
			for _, s := range substances {
				holdings = append(holdings, ledger.Holding{Account: a, Substance: s})
			}
		}
		m := &model{}
		reversed := map[int]bool{}
		draw := func(rt *rapid.T) ledger.Entry {
			pick := rapid.Permutation(accounts).Draw(rt, "accounts")
			from, to := pick[0], pick[1]
			if rapid.Bool().Draw(rt, "from outside") {
				from = ledger.OutsideAccount()
				if to == from {
					to = accounts[0]
				}
			}
			e := p.entryOf(rapid.SampledFrom(substances).Draw(rt, "substance"), today.Add(rapid.IntRange(0, days-1).Draw(rt, "day")),
				from, to, measure.Grams(rapid.IntRange(1, 300).Draw(rt, "grams")))
			e.Cause.ID = id()
			return e
		}
		try := func(rt *rapid.T, list ...ledger.Entry) bool {
			next := &model{append(append([]ledger.Entry(nil), m.entries...), list...)}
			want := next.allows(holdings, days)
			err := p.post(list...)
			switch code := farm.CodeOf(err); {
			case err == nil && !want:
				rt.Fatalf("was accepted, but a stock falls below zero: %+v", list)
			case err != nil && want:
				rt.Fatalf("was refused, but every stock holds: %v", err)
			case err != nil && code != "lot.empty" && code != "worms.none" && code != "castings.short" && code != "bedding.short":
				rt.Fatalf("was refused for another reason: %v", err)
			}
			if want {
				m = next
			}
			return want
		}
		rt.Repeat(map[string]func(*rapid.T){
			"one":  func(rt *rapid.T) { try(rt, draw(rt)) },
			"many": func(rt *rapid.T) { try(rt, draw(rt), draw(rt), draw(rt)) },
			"reverse": func(rt *rapid.T) {
				if len(m.entries) == 0 {
					return // nothing to reverse
				}
				i := rapid.IntRange(0, len(m.entries)-1).Draw(rt, "entry")
				r, err := ledger.Reverse(m.entries[i], ledger.Reversal{ID: id(), OccurredAt: noon, RecordedAt: noon, Actor: p.member})
				if err != nil || reversed[i] {
					return // it was reversed before
				}
				reversed[i] = try(rt, r)
			},
			"": func(rt *rapid.T) {
				h := rapid.SampledFrom(holdings).Draw(rt, "holding")
				on := today.Add(rapid.IntRange(0, days-1).Draw(rt, "on"))
				if got, want := p.balance(h, on), m.closing(h, on); got != want {
					rt.Fatalf("%s %s on %s: got %d g, want %d g", h.Account, h.Substance, on, got, want)
				}
			},
		})
		faults, err := p.s.CheckLedger(t.Context(), p.scope.Garden)
		p.must(err)
		if len(faults) > 0 {
			rt.Fatalf("%v", faults)
		}
	})
}
