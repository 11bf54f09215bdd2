package store_test

import (
	"strings"
	"testing"

	"midden/internal/ledger"
)

func TestTheCheckSaysExactlyWhatIsWrong(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		damage []string
		where  string // begins the first fault; E is the entry, L the lot's account
		what   string // is part of some fault
	}{
		{"a posting was changed", []string{`UPDATE midden.postings SET grams = grams + 7 WHERE account = 'spoiled'`}, "entry E", "must sum to 0 g; got 7 g"},
		{"both postings were changed", []string{`UPDATE midden.postings SET grams = grams * 2`}, "entry ", "hash stored"},
		{"an entry was dated otherwise", []string{`UPDATE midden.entries SET effective_on = effective_on + 1`}, "entry ", "hash stored"},
		{"a posting was dropped", []string{`DELETE FROM midden.postings WHERE account = 'spoiled'`}, "entry E", "must be between 2 and 500; got 1"},
		{"an entry was dropped", []string{`DELETE FROM midden.entry_queue`, `DELETE FROM midden.postings`, `DELETE FROM midden.entries`}, "stock L", "without any entry"},
		{"a method was changed", []string{`UPDATE midden.postings SET method = 'estimate'`}, "entry ", "hash stored"},
		{"a closing was changed", []string{`UPDATE midden.stock_days SET closing_g = closing_g + 1 WHERE day = (SELECT max(day) FROM midden.stock_days)`}, "stock L scraps/peel 2026-05-12", "stored net -300 g, closing 701 g; by the entries net -300 g, closing 700 g"},
		{"a day was dropped", []string{`DELETE FROM midden.stock_days WHERE net_g < 0`}, "stock L scraps/peel 2026-05-12", "no row; by the entries net -300 g, closing 700 g"},
		{"a head was changed", []string{`UPDATE midden.stock_heads SET latest_g = 5`}, "head L scraps/peel", "stored 5 g; by the entries 700 g"},
		{"a roll-up was changed", []string{`UPDATE midden.day_totals SET weighed_g = weighed_g - 1 WHERE account = 'spoiled'`}, "roll-up 2026-05-12", "Weighed:299"},
		{"a roll-up was dropped", []string{`DELETE FROM midden.day_totals WHERE account = 'spoiled'`}, "roll-up 2026-05-12", "no row"},
		{"a roll-up was made up", []string{`INSERT INTO midden.day_totals SELECT garden_id, day + 1, site_id, account, substance, kind, account_kind, in_g, out_g, weighed_g, container_g, estimate_g, book_g, records, sd_linear, sd_square FROM midden.day_totals WHERE account = 'spoiled'`}, "roll-up 2026-05-13", "by the entries {In:0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := setup(t)
			lot := ledger.LotAccount(id())
			out := p.entry(today.Add(2), lot, ledger.SpoiledAccount(), 300)
			p.must(p.post(p.entry(today, ledger.HouseholdSource(p.household), lot, 1000)))
			p.must(p.post(out))
			faults, err := p.s.CheckLedger(t.Context(), p.scope.Garden)
			p.must(err)
			if len(faults) != 0 {
				t.Fatalf("a sound ledger has faults: %v", faults)
			}
			p.must(p.asOwner(`ALTER TABLE midden.postings DISABLE TRIGGER USER`))
			p.must(p.asOwner(`ALTER TABLE midden.entries DISABLE TRIGGER USER`))
			for _, sql := range c.damage {
				p.must(p.asOwner(sql))
			}
			faults, err = p.s.CheckLedger(t.Context(), p.scope.Garden)
			p.must(err)
			if len(faults) == 0 {
				t.Fatal("the damage was not found")
			}
			where := strings.NewReplacer("E", out.ID.String(), "L", lot.String()).Replace(c.where)
			found, said := false, false
			for _, f := range faults {
				found = found || strings.HasPrefix(f.Where, where)
				said = said || strings.HasPrefix(f.Where, where) && strings.Contains(f.What, c.what)
			}
			if !found || !said {
				t.Errorf("want a fault of %q that says %q; got %v", where, c.what, faults)
			}
		})
	}
}

func TestTheCheckLooksAtOneGardenOnly(t *testing.T) {
	t.Parallel()
	p := setup(t)
	other := makePlot(t, p.db, p.s)
	p.must(other.post(other.entry(today, ledger.OutsideAccount(), ledger.LotAccount(id()), 9)))
	p.must(other.asOwner(`UPDATE midden.stock_heads SET latest_g = 5`))
	faults, err := p.s.CheckLedger(t.Context(), p.scope.Garden)
	p.must(err)
	if len(faults) != 0 {
		t.Errorf("got another garden's faults: %v", faults)
	}
}
