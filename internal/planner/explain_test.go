package planner

import (
	"slices"
	"strings"
	"testing"
)

// twoBins is a garden small enough to reason about by hand: a near and a far
// bin, two weeks, one keeper day each in the first week.
func twoBins() *Problem {
	full := func(days ...int) []int64 {
		room := make([]int64, 14)
		for _, d := range days {
			room[d] = 10_000
		}
		return room
	}
	return &Problem{Days: 14, UnitG: 1,
		Prices: Prices{Overflow: 1_000_000, Decline: 900_000, StillFrozen: 950_000, Freeze: 2000, Hold: 1000, Thaw: 10_000, Carry: 20_000, StandIn: 15_000},
		Load:   []Step{{60, 0}, {80, 5000}, {90, 40_000}, {100, 120_000}},
		Groups: []Group{{ID: "veg", Label: "vegetables", MaxPct: 100}, {ID: "citrus", MaxPct: 10}},
		Sites:  []Site{{ID: "yard", Label: "the yard", Place: &Place{}, Bedding: []int64{100_000, 100_000}}},
		Bins: []Bin{
			{ID: "near", Label: "Near Bin", Site: "yard", Room: full(2), Weekly: []int64{20_000, 20_000}},
			{ID: "far", Label: "Far Bin", Site: "yard", Place: &Place{XM: 2000}, Room: full(3), Weekly: []int64{20_000, 20_000}},
		},
		Lots: []Lot{{ID: "box", Label: "the crate of greens", Site: "yard", Group: "veg", Kind: OnHand, Mass: 3000, Arrive: 0, Latest: 5}},
	}
}

func TestAPlanSaysWhyInPlainSentences(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name   string
		change func(p *Problem)
		code   string
		cause  Cause
		text   string
	}{
		{"the nearer bin", func(p *Problem) {}, PlacedNearer, "",
			"3 kg of the crate of greens goes to Near Bin: Far Bin would do, but is farther to carry."},
		{"a full bin", func(p *Problem) { p.Lots[0].Mass = 10_000; p.Bins[0].Weekly[0] = 1000 }, PlacedFuller, CauseWeek,
			"9 kg of the crate of greens goes to Far Bin rather than Near Bin: Near Bin can eat no more in that week."},
		{"the only bin", func(p *Problem) { each(p.Bins[1].Room, 0) }, PlacedOnly, "",
			"3 kg of the crate of greens goes to Near Bin: no other bin within reach could take it in time."},
		{"two bins alike", func(p *Problem) { p.Bins[1].Place = nil }, PlacedAsGood, "",
			"3 kg of the crate of greens goes to Near Bin; Far Bin would do just as well."},
		{"a crowded bin", func(p *Problem) { p.Lots[0].Mass = 9500; p.Bins[1].Place = &Place{XM: 200} }, PlacedFuller, CauseCrowding,
			"3.5 kg of the crate of greens goes to Far Bin rather than Near Bin: Near Bin is already well filled."},
		{"past use", func(p *Problem) { p.Lots[0].Arrive, p.Lots[0].Latest = 1, 0 }, LeftPastUse, "",
			"3 kg of the crate of greens is left over: it is past its last good day when it arrives."},
		{"no keeper in time", func(p *Problem) { p.Lots[0].Latest = 1 }, LeftTooLate, "",
			"3 kg of the crate of greens is left over: it keeps only until day 2 and the next keeper comes on day 3."},
		{"no keeper at all", func(p *Problem) { p.Lots[0].Arrive = 4 }, LeftNoVisit, "",
			"3 kg of the crate of greens is left over: no keeper comes to a bin within reach."},
		{"a group no bin takes", func(p *Problem) { p.Lots[0].Group, p.Groups[1].MaxPct = "citrus", 0 }, LeftNever, "",
			"3 kg of the crate of greens is left over: no bin within reach takes citrus from day 1 to day 6."},
		{"no bins", func(p *Problem) { p.Bins = nil }, LeftNoBin, "",
			"3 kg of the crate of greens is left over: no bin is within reach."},
		{"the go-easy limit", func(p *Problem) { p.Lots[0].Group = "citrus" }, LeftBound, CauseGoEasy,
			"1 kg of the crate of greens is left over: the go-easy limit on citrus is reached at all 2 visits within reach from day 1 to day 6. One more kilogram of it allowed in one of those feedings would spare up to 1 kg of food."},
		{"all the room", func(p *Problem) { p.Lots[0].Mass = 25_000 }, LeftBound, CauseRoom,
			"5 kg of the crate of greens is left over: the bins are fed all they can take at all 2 visits within reach from day 1 to day 6. One more kilogram of room in one of those bins would spare up to 880 g of food."},
		{"the week's appetite", func(p *Problem) { p.Bins[0].Weekly[0], p.Bins[1].Weekly[0] = 1000, 500 }, LeftBound, CauseWeek,
			"1.5 kg of the crate of greens is left over: the bins can eat no more in the week at all 2 visits within reach from day 1 to day 6. One more kilogram of appetite in one of those bins would spare up to 1 kg of food."},
		{"the bedding", func(p *Problem) { p.Sites[0].Bedding[0] = 2500 }, LeftBound, CauseBedding,
			"500 g of the crate of greens is left over: there is no ripe bedding left at all 2 visits within reach from day 1 to day 6. One more kilogram of food covered by bedding would spare up to 1 kg of food."},
		{"no bedding at all", func(p *Problem) { p.Sites[0].Bedding[0] = 0 }, LeftBound, CauseBedding,
			"3 kg of the crate of greens is left over: there is no bedding for the bins within reach from day 1 to day 6."},
		{"a way that is too dear", func(p *Problem) { p.Lots[0].Carry = []BinCost{{"far", 2_000_000}} }, LeftTooDear, "",
			"3 kg of the crate of greens is left over: by the garden's own priorities, bringing it to a bin within reach from day 1 to day 6 is worth less than it costs."},
		{"a pledge", func(p *Problem) { p.Lots[0].Kind, p.Lots[0].Latest = Pledge, 1 }, LeftTooLate, "",
			"3 kg of the crate of greens is better declined: it keeps only until day 2 and the next keeper comes on day 3."},
		{"no freezer", func(p *Problem) { p.Lots[0].Latest, p.Lots[0].Freezable = 1, true }, LeftTooLate, "",
			"3 kg of the crate of greens is left over: it keeps only until day 2 and the next keeper comes on day 3, and there is no freezer drawer for vegetables at the yard."},
		{"a full freezer", func(p *Problem) {
			p.Lots[0].Latest, p.Lots[0].Freezable = 1, true
			p.Sites[0].Drawers = []Drawer{{"veg", 2000}}
		}, LeftTooLate, "",
			"1 kg of the crate of greens is left over: it keeps only until day 2 and the next keeper comes on day 3, and the freezer drawer for vegetables fills up."},
		{"from the freezer", func(p *Problem) {
			p.Lots[0].Latest, p.Lots[0].Freezable = 1, true
			p.Sites[0].Drawers = []Drawer{{"veg", 2000}}
		}, PlacedThawed, "",
			"2 kg of the crate of greens goes to Near Bin from the freezer: there is better room for it on that day."},
		{"still frozen", func(p *Problem) {
			p.Lots[0].Arrive, p.Lots[0].Latest, p.Lots[0].Freezable = 6, 7, true
			p.Sites[0].Drawers = []Drawer{{"veg", 2000}}
		}, KeptFrozen, "",
			"2 kg of the crate of greens stays in the freezer: no bin has better room for it before the last day of the plan."},
		{"the names of the days", func(p *Problem) {
			p.DayLabels = slices.Repeat([]string{"some day"}, 14)
			p.DayLabels[1], p.DayLabels[2] = "Tuesday", "Wednesday"
			p.Lots[0].Latest = 1
		}, LeftTooLate, "",
			"3 kg of the crate of greens is left over: it keeps only until Tuesday and the next keeper comes on Wednesday."},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := twoBins()
			c.change(p)
			r := solved(t, p, Options{Explain: true})
			if faults := Check(p, r); len(faults) > 0 {
				t.Fatal(faults)
			}
			i := slices.IndexFunc(r.Reasons, func(rs Reason) bool { return rs.Text == c.text })
			if i < 0 {
				t.Fatalf("want %q\ngot %+v", c.text, r.Reasons)
			}
			if got := r.Reasons[i]; got.Code != c.code || got.Cause != c.cause || got.Lot != "box" {
				t.Errorf("%+v", got)
			}
		})
	}
}

// Every gram of every lot is accounted for by a reason, in words a gardener uses.
func TestEveryGramHasAReasonWithoutMathematics(t *testing.T) {
	t.Parallel()
	p := bigGarden(9, 30, 400, 28, 4, 6, 8)
	for _, opt := range []Options{{Explain: true}, {Explain: true, MaxPivots: 50}} {
		r := solved(t, p, opt)
		sum := map[string]int64{}
		for _, rs := range r.Reasons {
			sum[rs.Lot] += rs.Mass
			text := strings.ToLower(rs.Text)
			for _, word := range []string{"arc", "node", "slot", "dual", "pivot", "flow ", "potential", "network", "simplex", "bound"} {
				for _, w := range strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == ',' || c == '.' || c == ':' || c == ';' }) {
					if w == strings.TrimSpace(word) || w == word+"s" {
						t.Errorf("%q in %q", word, rs.Text)
					}
				}
			}
			if !strings.HasSuffix(rs.Text, ".") {
				t.Errorf("no sentence: %q", rs.Text)
			}
		}
		for _, l := range p.Lots {
			if sum[l.ID] != l.Mass {
				t.Errorf("%s: reasons for %d of %d", l.ID, sum[l.ID], l.Mass)
			}
		}
	}
}

func TestAWorthSaysWhatMoreOfALimitWouldSpare(t *testing.T) {
	t.Parallel()
	p := twoBins()
	p.Lots[0].Group = "citrus"
	r := solved(t, p, Options{})
	if len(r.Worth) != 2 {
		t.Fatalf("two feedings reach their go-easy limit; got %+v", r.Worth)
	}
	for _, w := range r.Worth {
		if w.Cause != CauseGoEasy || w.Group != "citrus" || w.Day == nil || w.SparedG > 1000 || w.SparedG < 950 {
			t.Errorf("%+v", w)
		}
	}
	// Far Bin is 2 km away at 20,000 a kilometre: a gram more there saves the
	// overflow price of 1,000,000 less 40,000.
	if far := r.Worth[1]; far.Bin != "far" || far.CostPerUnit != 960_000 || far.SparedG != 960 {
		t.Errorf("%+v", far)
	}
}
