package planner

import (
	"encoding/json"
	"slices"
	"testing"
)

// A plan that was tampered with is found out.
func TestCheckFindsWhatIsWrongWithAPlan(t *testing.T) {
	t.Parallel()
	p := bigGarden(5, 8, 40, 14, 2, 6, 7)
	good := solved(t, p, Options{})
	if len(good.Freezes) == 0 || len(good.LeftOver) == 0 || len(good.Bedding) == 0 {
		t.Fatal("the garden is too easy for this test")
	}
	thawed := slices.IndexFunc(good.Feedings, func(f Feeding) bool { return f.TakenOut != nil })
	lotOf := func(id string) *Lot {
		return &p.Lots[slices.IndexFunc(p.Lots, func(l Lot) bool { return l.ID == id })]
	}
	fresh := slices.IndexFunc(good.Feedings, func(f Feeding) bool {
		l := lotOf(f.Lot)
		return f.TakenOut == nil && l.Arrive > 0 && l.Latest < p.Days-1
	})
	if fresh < 0 || thawed < 0 {
		t.Fatal("the garden must feed both fresh and thawed food")
	}
	cases := []struct {
		name, rule string
		change     func(r *Result)
	}{
		{"a gram too many", "lot.balance", func(r *Result) { r.Feedings[fresh].Mass++ }},
		{"a feeding forgotten", "lot.balance", func(r *Result) { r.Feedings = slices.Delete(r.Feedings, fresh, fresh+1) }},
		{"an unknown bin", "id.unknown", func(r *Result) { r.Feedings[fresh].Bin = "nowhere" }},
		{"an unknown lot", "id.unknown", func(r *Result) { r.LeftOver[0].Lot = "nothing" }},
		{"a negative mass", "mass.range", func(r *Result) { r.Feedings[fresh].Mass = -4 }},
		{"fed before it arrives", "feeding.window", func(r *Result) { r.Feedings[fresh].Day = lotOf(r.Feedings[fresh].Lot).Arrive - 1 }},
		{"fed past its last day", "feeding.window", func(r *Result) { r.Feedings[fresh].Day = lotOf(r.Feedings[fresh].Lot).Latest + 1 }},
		{"fed out of reach", "feeding.too_far", func(r *Result) { r.Feedings[fresh].Bin = farthest(p, lotOf(r.Feedings[fresh].Lot)) }},
		{"thawed for another site", "feeding.other_freezer", func(r *Result) {
			f := &r.Feedings[thawed]
			f.Bin = p.Bins[slices.IndexFunc(p.Bins, func(b Bin) bool { return b.Site != lotOf(f.Lot).Site })].ID
		}},
		{"thawed too soon", "feeding.thaw", func(r *Result) { day := r.Feedings[thawed].Day - 1; r.Feedings[thawed].TakenOut = &day }},
		{"not frozen first", "freezer.balance", func(r *Result) { r.Freezes = r.Freezes[1:] }},
		{"frozen on another day", "freezing.where", func(r *Result) { r.Freezes[0].Day++ }},
		{"too much for a bin", "bin.room", func(r *Result) { r.Feedings[fresh].Mass += 100_000 }},
		{"too much of a group", "bin.go_easy", func(r *Result) { r.Feedings[fresh].Mass += 100_000 }},
		{"too much in a week", "bin.week", func(r *Result) { r.Feedings[fresh].Mass += 100_000 }},
		{"more bedding than there is", "bedding.stock", func(r *Result) { r.Bedding[0].Ready += 100_000 }},
		{"too little bedding", "bedding.short", func(r *Result) { r.Bedding[0].Ready-- }},
		{"bedding for other food", "bedding.food", func(r *Result) { r.Bedding[0].Food++ }},
		{"declined though on hand", "left_over.kind", func(r *Result) { r.LeftOver[0].Declined = true }},
		{"a wrong sum", "totals", func(r *Result) { r.Totals.Fed-- }},
		{"a wrong value", "value", func(r *Result) { r.Value-- }},
		{"a bound above the value", "bound", func(r *Result) { r.Bound++ }},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			data, err := json.Marshal(good)
			if err != nil {
				t.Fatal(err)
			}
			bad := new(Result)
			if err := json.Unmarshal(data, bad); err != nil {
				t.Fatal(err)
			}
			if faults := Check(p, bad); len(faults) > 0 {
				t.Fatalf("the plan did not survive being stored: %v", faults)
			}
			c.change(bad)
			faults := Check(p, bad)
			if !slices.ContainsFunc(faults, func(f Fault) bool { return f.Rule == c.rule }) {
				t.Errorf("no %s in %v", c.rule, faults)
			}
		})
	}
}

// farthest is the bin farthest from a lot.
func farthest(p *Problem, l *Lot) string {
	far := slices.MaxFunc(p.Bins, func(a, b Bin) int {
		sq := func(b Bin) int64 {
			dx, dy := b.Place.XM-l.Place.XM, b.Place.YM-l.Place.YM
			return dx*dx + dy*dy
		}
		if sq(a) < sq(b) {
			return -1
		}
		return 1
	})
	return far.ID
}
