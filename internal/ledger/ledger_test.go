package ledger_test

import (
	"encoding/hex"
	"flag"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
)

var refresh = flag.Bool("refresh", false, "rewrite golden files")

// The generators are made anew for each test: parallel tests must not share one.

func ids() *rapid.Generator[uuid.UUID] {
	return rapid.Custom(func(t *rapid.T) uuid.UUID {
		var id uuid.UUID
		copy(id[:], rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "id"))
		id[0] |= 1 // never the zero id
		return id
	})
}

func accounts() *rapid.Generator[ledger.Account] {
	return rapid.Custom(func(t *rapid.T) ledger.Account {
		id := ids().Draw(t, "id")
		switch rapid.SampledFrom(ledger.Kinds).Draw(t, "kind") {
		case ledger.Lot:
			return ledger.LotAccount(id)
		case ledger.Section:
			return ledger.SectionAccount(ids().Draw(t, "bin"), id)
		case ledger.Source:
			return rapid.SampledFrom([]ledger.Account{ledger.UnknownSource(), ledger.HouseholdSource(id), ledger.MemberSource(id)}).Draw(t, "source")
		case ledger.Bedding:
			return ledger.BeddingAccount(id)
		case ledger.Overflow:
			return ledger.OverflowAccount(id)
		case ledger.Spoiled:
			return ledger.SpoiledAccount()
		case ledger.Rejected:
			return ledger.RejectedAccount()
		case ledger.Castings:
			return ledger.CastingsAccount(id)
		case ledger.Recipient:
			return rapid.SampledFrom([]ledger.Account{ledger.RecipientAccount(ledger.Member, id), ledger.RecipientAccount(ledger.Household, id),
				ledger.RecipientAccount(ledger.Bed, id), ledger.OutsiderRecipient("school")}).Draw(t, "recipient")
		case ledger.Growth:
			return ledger.GrowthAccount(id)
		case ledger.Conversion:
			return ledger.ConversionAccount(id)
		case ledger.Water:
			return ledger.WaterAccount(id)
		}
		return ledger.OutsideAccount()
	})
}

func substances() *rapid.Generator[ledger.Substance] {
	return rapid.SampledFrom([]ledger.Substance{ledger.Scraps("peel"), ledger.Scraps("coffee_grounds"),
		ledger.BeddingOf("cardboard"), ledger.Worms(farm.Eisenia), ledger.CastingsSubstance})
}

// entries are valid: random legs, each substance closed by a last posting.
func entries() *rapid.Generator[ledger.Entry] {
	return rapid.Custom(func(t *rapid.T) ledger.Entry {
		e := ledger.Entry{
			Garden: ids().Draw(t, "garden"), ID: ids().Draw(t, "entry"), Kind: rapid.StringMatching(`[a-z][a-z0-9_]{0,10}`).Draw(t, "kind"),
			EffectiveOn: measure.MustDay("2026-01-01").Add(rapid.IntRange(0, 400).Draw(t, "day")),
			OccurredAt:  time.UnixMicro(rapid.Int64Range(1e15, 2e15).Draw(t, "occurred")), RecordedAt: time.UnixMicro(1.8e15),
			Actor: ids().Draw(t, "actor"), Cause: ledger.Cause{Kind: "lot", ID: ids().Draw(t, "cause")},
		}
		for _, s := range rapid.SliceOfNDistinct(substances(), 1, 3, rapid.ID[ledger.Substance]).Draw(t, "substances") {
			var sum measure.Grams
			add := func(g measure.Grams) {
				e.Postings = append(e.Postings, ledger.Posting{Account: accounts().Draw(t, "account"), Substance: s, Grams: g,
					Method:        rapid.SampledFrom([]ledger.Method{ledger.Weighed, ledger.Container, ledger.Counted, ledger.Estimate, ledger.Book}).Draw(t, "method"),
					RelSDPermille: rapid.IntRange(0, ledger.MaxRelSD).Draw(t, "sd")})
				sum += g
			}
			for range rapid.IntRange(1, 4).Draw(t, "legs") {
				add(measure.Grams(rapid.Int64Range(1, 2_000_000).Draw(t, "grams")))
			}
			add(-sum)
		}
		return e
	})
}

func TestTheTextOfAnAccountReadsBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := accounts().Draw(t, "account")
		b, err := ledger.ParseAccount(a.String())
		if err != nil || a != b {
			t.Fatalf("%q reads back as %+v, %v", a, b, err)
		}
	})
}

func FuzzParseAccount(f *testing.F) {
	f.Add("lot:0198c0de-0000-7000-8000-000000000002")
	f.Add("source:household/0198c0de-0000-7000-8000-000000000002")
	f.Add("section:0198c0de-0000-7000-8000-000000000002/0198c0de-0000-7000-8000-000000000003")
	f.Fuzz(func(t *testing.T, text string) {
		a, err := ledger.ParseAccount(text)
		if err == nil && a.String() != text {
			t.Fatalf("%q was read but is written %q", text, a)
		}
	})
}

func TestOtherSpellingsOfAnAccountAreRefused(t *testing.T) {
	t.Parallel()
	const id = "0198c0de-0000-7000-8000-000000000002"
	for _, s := range []string{"", "lot", "lot:", "lot:" + strings.ToUpper(id), "lot:{" + id + "}", "lot:" + id + "/" + id, "spoiled:",
		"spoiled:" + id, "section:" + id, "source:", "source:" + id, "source:unknown/" + id, "recipient:unknown", "source:bed/" + id,
		"recipient:outsider/", "recipient:outsider/School", "shed:" + id, " lot:" + id} {
		if a, err := ledger.ParseAccount(s); err == nil {
			t.Errorf("%q was read as %s", s, a)
		}
	}
}

func TestOtherSpellingsOfASubstanceAreRefused(t *testing.T) {
	t.Parallel()
	for _, s := range []string{"", "scraps", "scraps/", "scraps/Peel", "castings/x", "castings/", "soil", "worms/a/b"} {
		if got, err := ledger.ParseSubstance(s); err == nil {
			t.Errorf("%q was read as %s", s, got)
		}
	}
}

func TestABalancedEntryHoldsAndSumsToZero(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		e := entries().Draw(t, "entry")
		if err := e.Validate(); err != nil {
			t.Fatal(err)
		}
		sums := map[ledger.Substance]measure.Grams{}
		for _, m := range ledger.Net(e) {
			sums[m.Substance] += m.Net
		}
		for s, g := range sums {
			if g != 0 {
				t.Fatalf("%s nets to %d g", s, g)
			}
		}
	})
}

func TestOneGramOffIsRefused(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		e := entries().Draw(t, "entry")
		i := rapid.IntRange(0, len(e.Postings)-1).Draw(t, "posting")
		e.Postings[i].Grams++
		if farm.CodeOf(e.Validate()) != "entry.invalid" {
			t.Fatalf("was accepted: %+v", e.Postings)
		}
	})
}

func TestAnEntryAndItsReversalLeaveNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		e := entries().Draw(t, "entry")
		r, err := ledger.Reverse(e, ledger.Reversal{ID: ids().Draw(t, "reversal"), OccurredAt: e.OccurredAt, RecordedAt: e.RecordedAt, Actor: e.Actor})
		if err != nil {
			t.Fatal(err)
		}
		if err := r.Validate(); err != nil {
			t.Fatal(err)
		}
		for _, m := range ledger.Net(e, r) {
			if m.Net != 0 {
				t.Fatalf("%s %s is left with %d g", m.Account, m.Substance, m.Net)
			}
		}
		for _, k := range ledger.Totals(e, r) {
			if k.Total != (ledger.Total{}) {
				t.Fatalf("roll-up %+v is left with %+v", k.TotalKey, k.Total)
			}
		}
		if _, err := ledger.Reverse(r, ledger.Reversal{ID: e.ID}); farm.CodeOf(err) != "entry.is_reversal" {
			t.Fatalf("a reversal was reversed: %v", err)
		}
	})
}

func TestRollUpsAgreeWithThePostings(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(entries(), 1, 4).Draw(t, "entries")
		want, spread, records := measure.Grams(0), big.NewInt(0), 0
		for _, e := range list {
			for _, p := range e.Postings {
				if p.Account.RolledUp() {
					want += p.Grams
					records++
					s := big.NewInt(int64(p.Grams) * int64(p.RelSDPermille))
					spread.Add(spread, s.Mul(s, s))
				}
			}
		}
		var sum ledger.Total
		totals := ledger.Totals(list...)
		for i, k := range totals {
			if i > 0 && totals[i-1].TotalKey.Compare(k.TotalKey) >= 0 {
				t.Fatal("roll-ups are out of order")
			}
			if k.Weighed+k.Container+k.Estimate+k.Book != k.In+k.Out {
				t.Fatalf("classes do not add up: %+v", k.Total)
			}
			sum = sum.Add(k.Total)
		}
		if sum.Net() != want || sum.Records != int64(records) || sum.SDSquare.String() != spread.String() {
			t.Fatalf("got %+v, want net %d g of %d records, squares %s", sum, want, records, spread)
		}
	})
}

func TestAnythingMovedOtherwiseHashesOtherwise(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		e := entries().Draw(t, "entry")
		h := e.Hash()
		moved := e
		moved.OccurredAt = e.OccurredAt.In(time.FixedZone("elsewhere", 7200)).Add(300 * time.Nanosecond)
		if moved.Hash() != h {
			t.Fatal("the zone and what the database can't keep must not count")
		}
		for name, change := range map[string]func(*ledger.Entry){
			"grams":    func(x *ledger.Entry) { x.Postings[0].Grams++ },
			"method":   func(x *ledger.Entry) { x.Postings[0].Method += "x" },
			"spread":   func(x *ledger.Entry) { x.Postings[0].RelSDPermille++ },
			"site":     func(x *ledger.Entry) { x.Postings[0].Site = x.ID },
			"day":      func(x *ledger.Entry) { x.EffectiveOn = x.EffectiveOn.Add(1) },
			"instant":  func(x *ledger.Entry) { x.OccurredAt = x.OccurredAt.Add(time.Microsecond) },
			"actor":    func(x *ledger.Entry) { x.Actor = uuid.Nil },
			"reverses": func(x *ledger.Entry) { x.Reverses = x.Garden },
			"order":    func(x *ledger.Entry) { x.Postings = append(x.Postings[1:], x.Postings[0]) },
		} {
			x := e
			x.Postings = append([]ledger.Posting(nil), e.Postings...)
			change(&x)
			if x.Hash() == h {
				t.Fatalf("a changed %s has the same hash", name)
			}
		}
	})
}

// The bytes of format 1 must never change: hashes of years depend on them.
func TestTheCanonicalBytesAreTheGoldenOnes(t *testing.T) {
	t.Parallel()
	id := func(n byte) uuid.UUID { return uuid.UUID{0: 1, 6: 0x70, 8: 0x80, 15: n} }
	e := ledger.Entry{
		Garden: id(1), ID: id(2), Kind: ledger.KindHarvest, EffectiveOn: measure.MustDay("2026-10-25"),
		OccurredAt: time.Date(2026, 10, 24, 23, 30, 0, 123456000, time.UTC), RecordedAt: time.Date(2026, 10, 25, 0, 1, 2, 0, time.UTC),
		Actor: id(3), Cause: ledger.Cause{Kind: "harvest", ID: id(4)},
		Postings: []ledger.Posting{
			{Account: ledger.ConversionAccount(id(5)), Substance: ledger.CastingsSubstance, Grams: -8200, Method: ledger.Weighed, RelSDPermille: 5, Site: id(9)},
			{Account: ledger.CastingsAccount(id(6)), Substance: ledger.CastingsSubstance, Grams: 8200, Method: ledger.Weighed, RelSDPermille: 5, Site: id(9)},
			{Account: ledger.SectionAccount(id(7), id(5)), Substance: ledger.Worms(farm.Eisenia), Grams: -40, Method: ledger.Counted, RelSDPermille: 150},
			{Account: ledger.OutsiderRecipient("school"), Substance: ledger.Worms(farm.Eisenia), Grams: 40, Method: ledger.Counted, RelSDPermille: 150},
		},
	}
	hash := e.Hash()
	got := string(e.Canonical()) + "sha256 " + hex.EncodeToString(hash[:]) + "\n"
	path := filepath.Join("testdata", "entry_format_1.golden")
	if *refresh {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

func TestWhatMayNotFallBelowZero(t *testing.T) {
	t.Parallel()
	id := uuid.New()
	for _, c := range []struct {
		a    ledger.Account
		s    ledger.Substance
		want bool
	}{
		{ledger.LotAccount(id), ledger.Scraps("peel"), true},
		{ledger.SectionAccount(id, id), ledger.Worms(farm.Eisenia), true},
		{ledger.SectionAccount(id, id), ledger.Scraps("peel"), false},
		{ledger.SectionAccount(id, id), ledger.BeddingOf("cardboard"), false},
		{ledger.CastingsAccount(id), ledger.CastingsSubstance, true},
		{ledger.BeddingAccount(id), ledger.BeddingOf("cardboard"), true},
		{ledger.UnknownSource(), ledger.Scraps("peel"), false},
		{ledger.GrowthAccount(id), ledger.Worms(farm.Eisenia), false},
		{ledger.WaterAccount(id), ledger.Scraps("peel"), false},
	} {
		if got := c.a.NeverNegative(c.s); got != c.want {
			t.Errorf("%s %s: got %v, want %v", c.a, c.s, got, c.want)
		}
	}
}

func TestEveryFaultOfAnEntryIsNamed(t *testing.T) {
	t.Parallel()
	e := ledger.Entry{Postings: []ledger.Posting{{Account: ledger.Account{Kind: "shed"}, Substance: "soil", Grams: 0}}}
	err := farm.AsError(e.Validate())
	if err == nil || len(err.More) < 8 {
		t.Fatalf("got %v, want every fault", err)
	}
	stray := ledger.SpoiledAccount()
	stray.ID = uuid.New()
	good := ledger.Posting{Account: ledger.OutsideAccount(), Substance: ledger.Scraps("peel"), Grams: 5, Method: ledger.Weighed}
	bad := ledger.Posting{Account: stray, Substance: ledger.Scraps("peel"), Grams: -5, Method: ledger.Weighed}
	x := ledger.Entry{Garden: uuid.New(), ID: uuid.New(), Kind: "moved", EffectiveOn: measure.MustDay("2026-05-01"),
		OccurredAt: time.Unix(1, 0), RecordedAt: time.Unix(1, 0), Cause: ledger.Cause{Kind: "lot", ID: uuid.New()}, Postings: []ledger.Posting{good, bad}}
	if farm.CodeOf(x.Validate()) != "entry.invalid" {
		t.Error("an account with a stray field would be a map key of its own")
	}
}
