package planner

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func drawRefined(t *rapid.T) *Problem {
	p := drawGarden(t)
	refineGarden(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "refine"), 6)), p)
	return p
}

// The stored values were proven by CBC 2.10.8 and HiGHS; PROVENANCE.md says which
// proved what.
func TestVisitsAndContainersCostWhatOutsideSolversProved(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"small1", "small2", "slack1", "medium"} {
		for _, kind := range []string{"visits_milp", "visits_pails20_milp"} {
			in := readInstance(t, name)
			want, ok := in.Optimal[kind]
			if !ok {
				continue
			}
			t.Run(name+"/"+kind, func(t *testing.T) {
				t.Parallel()
				p := in.problem()
				p.Prices.Visit = in.VisitCost
				opt := Options{}
				if kind == "visits_pails20_milp" {
					p.ContainerUnits = in.Quantum
				}
				r := solved(t, p, opt)
				if faults := Check(p, r); len(faults) > 0 {
					t.Error(faults)
				}
				if r.Bound > want || r.Value < want {
					t.Errorf("bound %d, value %d, proven %d", r.Bound, r.Value, want)
				}
				if r.Status != Proven || r.Gap != 0 || r.Value != want {
					t.Errorf("status %s by %q, value %d, proven %d", r.Status, r.StoppedBy, r.Value, want)
				}
			})
		}
	}
}

func TestEveryRefinedPlanCanBeCarriedOutAndHasABound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawRefined(t)
		r := solved(t, p, Options{Explain: true})
		if faults := Check(p, r); len(faults) > 0 {
			t.Fatal(faults)
		}
		if r.Bound < 0 || r.Bound > r.Value || (r.Status == Proven) != (r.Gap == 0) || (r.Status == Proven) != (r.StoppedBy == "") {
			t.Fatalf("status %s by %q, value %d, bound %d", r.Status, r.StoppedBy, r.Value, r.Bound)
		}
		if r.Unavoidable > r.Value {
			t.Fatalf("unavoidable %d above the value %d", r.Unavoidable, r.Value)
		}
		said := map[string]int64{}
		for _, s := range r.Reasons {
			said[s.Lot] += s.Mass
		}
		for _, l := range p.Lots {
			if said[l.ID] != l.Mass {
				t.Fatalf("lot %q: reasons for %d of %d", l.ID, said[l.ID], l.Mass)
			}
		}
	})
}

func TestARefinedSearchStoppedEarlyStillHasABound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawRefined(t)
		best := solved(t, p, Options{})
		opt := Options{Explain: true}
		if rapid.Bool().Draw(t, "by pivots") {
			opt.MaxPivots = rapid.Int64Range(-1, 300).Draw(t, "pivots")
		} else {
			opt.MaxNodes = rapid.IntRange(-1, 3).Draw(t, "nodes")
		}
		r := solved(t, p, opt)
		if faults := Check(p, r); len(faults) > 0 {
			t.Fatal(faults)
		}
		if r.Bound > best.Value || best.Bound > r.Value {
			t.Fatalf("bounds %d and %d, values %d and %d", r.Bound, best.Bound, r.Value, best.Value)
		}
		if r.Status == Proven && r.Value > best.Value {
			t.Fatalf("proven at %d, but %d is possible", r.Value, best.Value)
		}
		if opt.MaxNodes != 0 && r.Work.Branches > max(0, opt.MaxNodes) {
			t.Fatalf("%d choices of %d", r.Work.Branches, opt.MaxNodes)
		}
	})
}

// Whatever was possible before the change is possible after it.
func TestAnEasierTaskIsNeverProvenDearer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawRefined(t)
		before := solved(t, p, Options{})
		q := clone(t, p)
		switch rapid.IntRange(0, 4).Draw(t, "what") {
		case 0:
			q.Prices.Visit /= 2
		case 1:
			q.ContainerUnits = 0
			for g := range q.Groups {
				q.Groups[g].ContainerUnits = 0
			}
		case 2: // any number of old containers fills new ones
			q.ContainerUnits = max(0, q.ContainerUnits)
			for g, size := range p.sizes() {
				q.Groups[g].ContainerUnits = size
				if size%5 == 0 {
					q.Groups[g].ContainerUnits = size / 5
				}
			}
		case 3:
			for b := range q.Bins {
				for w := range q.Bins[b].Weekly {
					q.Bins[b].Weekly[w] += 7
				}
			}
		case 4:
			for s := range q.Sites {
				for w := range q.Sites[s].Bedding {
					q.Sites[s].Bedding[w] += 9
				}
			}
		}
		if after := solved(t, q, Options{}); after.Bound > before.Value {
			t.Fatalf("a plan for %d is possible, but the bound is %d", before.Value, after.Bound)
		}
	})
}

func TestTheSameRefinedProblemGivesTheSameBytes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawRefined(t)
		var first []byte
		for _, q := range []*Problem{p, p, clone(t, p)} {
			data, err := json.Marshal(solved(t, q, Options{Explain: true}))
			if err != nil {
				t.Fatal(err)
			}
			if first == nil {
				first = data
			}
			if !bytes.Equal(first, data) {
				t.Fatal("two results for one problem")
			}
		}
	})
}

func TestNoVisitPriceAndContainersOfOneUnitChangeNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		plain, err := json.Marshal(solved(t, p, Options{Explain: true}))
		if err != nil {
			t.Fatal(err)
		}
		p.ContainerUnits = 1
		one, err := json.Marshal(solved(t, p, Options{Explain: true}))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(plain, one) {
			t.Fatal("containers of one unit are no containers, yet the result differs")
		}
	})
}

func TestOddGardensAreSurvivedWithVisitsAndContainers(t *testing.T) {
	t.Parallel()
	variants := []struct {
		name   string
		change func(p *Problem)
		want   func(t *testing.T, p *Problem, r *Result)
	}{
		{"visits at a price", func(p *Problem) { p.Prices.Visit = 5000 }, nil},
		{"visits nobody would pay for", func(p *Problem) { p.Prices.Visit = 100_000_000 }, func(t *testing.T, _ *Problem, r *Result) {
			if r.Visits != 0 && r.Totals.Supply < 100_000 {
				t.Errorf("%d visits", r.Visits)
			}
		}},
		{"whole pails", func(p *Problem) { p.Prices.Visit, p.ContainerUnits = 5000, 20 }, nil},
		{"containers larger than every lot", func(p *Problem) { p.ContainerUnits = 20_000_000 }, func(t *testing.T, p *Problem, r *Result) {
			if r.Totals.Fed != 0 || len(r.Freezes) != 0 {
				t.Errorf("a part of a container was moved: %+v", r.Totals)
			}
			if r.Status != Proven {
				t.Errorf("status %s by %q", r.Status, r.StoppedBy)
			}
		}},
		{"the largest container allowed", func(p *Problem) { p.ContainerUnits = MaxUnits }, nil},
		{"pails of several sizes", func(p *Problem) {
			p.Prices.Visit, p.ContainerUnits = 300, 20
			for g := range p.Groups {
				p.Groups[g].ContainerUnits = []int64{0, 7, 3, 1}[g%4]
			}
		}, nil},
	}
	for _, v := range variants {
		for _, c := range oddGardens() {
			t.Run(v.name+"/"+c.name, func(t *testing.T) {
				t.Parallel()
				p := bigGarden(5, 8, 40, 14, 2, 6, 7)
				c.change(p)
				v.change(p)
				r, err := Solve(context.Background(), p, Options{MaxNodes: 15, Explain: true})
				var invalid *InvalidError
				if errors.As(err, &invalid) && invalid.Faults[0].Rule == "cost.overflow" {
					return // sums that would not fit are refused
				}
				if err != nil {
					t.Fatal(err)
				}
				if r.Bound > r.Value {
					t.Errorf("bound %d, value %d", r.Bound, r.Value)
				}
				if faults := Check(p, r); len(faults) > 0 {
					t.Error(faults)
				}
				if v.want != nil {
					v.want(t, p, r)
				}
			})
		}
	}
}

func TestACancelledRefinedSearchAdmitsIt(t *testing.T) {
	t.Parallel()
	p := readInstance(t, "small1").problem()
	p.Prices.Visit, p.ContainerUnits = 5000, 20
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r, err := Solve(ctx, p, Options{Explain: true})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != Stopped || r.StoppedBy != StoppedByCancel || r.Work.Pivots != 0 || r.Totals.Fed != 0 {
		t.Errorf("status %s by %q after %d pivots, fed %d", r.Status, r.StoppedBy, r.Work.Pivots, r.Totals.Fed)
	}
	if r.Bound > 2_637_165 || r.Bound <= 0 {
		t.Errorf("bound %d; the best plan is proven to cost 2,637,165", r.Bound)
	}
	if faults := Check(p, r); len(faults) > 0 {
		t.Error(faults)
	}
}

func TestASearchThatRunsOutOfChoicesSaysHowFarItGot(t *testing.T) {
	t.Parallel()
	in := readInstance(t, "slack1")
	p := in.problem()
	p.Prices.Visit = in.VisitCost
	r := solved(t, p, Options{MaxNodes: 5, Explain: true})
	if r.Status != Stopped || r.StoppedBy != StoppedByNodes || r.Gap <= 0 || r.GapPPM == 0 {
		t.Errorf("status %s by %q, gap %d", r.Status, r.StoppedBy, r.Gap)
	}
	best := in.Optimal["visits_milp"]
	if r.Bound > best || r.Value < best || r.Gap*100 > 3*best {
		t.Errorf("bound %d, value %d; the best plan is proven to cost %d", r.Bound, r.Value, best)
	}
}

// Batches of 15 that keep cover three containers of 10 by the second week. Rounded
// down one by one they would cover two.
func TestBeddingIsRoundedDownAsItAddsUp(t *testing.T) {
	t.Parallel()
	p := twoBins()
	p.Sites[0].Bedding = []int64{15, 15}
	p.Bins[0].Room[9] = 10_000
	p.ContainerUnits = 10
	p.Lots[0].Latest = 13
	if r := solved(t, p, Options{}); r.Totals.Fed != 30 || r.Status != Proven {
		t.Errorf("fed %d, status %s", r.Totals.Fed, r.Status)
	}
}

// Without a price the nearer bin and the day with room take a part each; with one,
// a single visit does.
func TestAPriceOnVisitsGathersThem(t *testing.T) {
	t.Parallel()
	p := twoBins()
	p.Lots[0].Mass = 9500
	p.Bins[1].Place = &Place{XM: 200}
	p.Prices.Visit = 1
	two := solved(t, p, Options{})
	p.Prices.Visit = 1_000_000_000 // a kilogram of food eaten is worth this much
	one := solved(t, p, Options{})
	if two.Visits != 2 || one.Visits != 1 || one.Totals.Fed != 9500 {
		t.Errorf("%d and %d visits; fed %d", two.Visits, one.Visits, one.Totals.Fed)
	}
	p.Prices.Visit = 20_000_000_000
	if none := solved(t, p, Options{}); none.Visits != 0 || none.Totals.Fed != 0 || none.Status != Proven {
		t.Errorf("%d visits, fed %d, status %s", none.Visits, none.Totals.Fed, none.Status)
	}
}

func TestARefinedPlanSaysWhyInPlainSentences(t *testing.T) {
	t.Parallel()
	cases := []struct {
		name   string
		change func(p *Problem)
		code   string
		text   string
	}{
		{"less than a container", func(p *Problem) { p.Lots[0].Mass, p.ContainerUnits = 3300, 1000 }, LeftPart,
			"300 g of the crate of greens is left over: it is less than one whole container."},
		{"a container too large", func(p *Problem) { p.Lots[0].Group, p.ContainerUnits = "citrus", 2000 }, LeftContainer,
			"2 kg of the crate of greens is left over: a whole container of citrus is more than any bin within reach has room for from day 1 to day 6."},
		{"a visit too dear", func(p *Problem) { p.Prices.Visit = 20_000_000_000 }, LeftBound,
			"3 kg of the crate of greens is left over: coming just for this is not worth the price of a visit at all 2 visits within reach from day 1 to day 6."},
		{"one visit rather than two", func(p *Problem) {
			p.Lots[0].Mass, p.Prices.Visit, p.Bins[1].Place = 9500, 1_000_000_000, &Place{XM: 200}
		}, PlacedFuller, "9.5 kg of the crate of greens goes to Near Bin rather than Far Bin: a visit more to Far Bin is not worth its price."},
	}
	for _, c := range cases {
		p := twoBins()
		c.change(p)
		r := solved(t, p, Options{Explain: true})
		if !slices.ContainsFunc(r.Reasons, func(s Reason) bool { return s.Code == c.code && s.Text == c.text }) {
			t.Errorf("%s: no %s in %+v", c.name, c.code, r.Reasons)
		}
	}
}

func TestCheckFindsWrongVisitsAndPartContainers(t *testing.T) {
	t.Parallel()
	p := readInstance(t, "small1").problem()
	p.Prices.Visit, p.ContainerUnits = 5000, 20
	cases := []struct {
		rule   string
		change func(r *Result)
	}{
		{"visits", func(r *Result) { r.Visits-- }},
		{"value", func(r *Result) { r.Value -= p.Prices.Visit }},
		{"container.part", func(r *Result) { r.Feedings[0].Mass += 10; r.LeftOver[0].Mass -= 10 }},
		{"container.part", func(r *Result) { r.Freezes[0].Mass -= 5 }},
	}
	for _, c := range cases {
		r := solved(t, p, Options{})
		c.change(r)
		if faults := Check(p, r); !slices.ContainsFunc(faults, func(f Fault) bool { return f.Rule == c.rule }) {
			t.Errorf("no %s in %v", c.rule, faults)
		}
	}
}

// Every choice of visits is tried: without a price and with the other bin-days
// closed, what is left is a mere flow.
func TestNoChoiceOfVisitsIsCheaperThanAProvenPlan(t *testing.T) {
	t.Parallel()
	tried := 0
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 8))
		p := smallGarden(r, 3, 8, 6)
		refineGarden(r, p)
		p.Prices.Visit = max(p.Prices.Visit, 1)
		var open [][2]int
		for b := range p.Bins {
			for d, room := range p.Bins[b].Room {
				if room > 0 {
					open = append(open, [2]int{b, d})
				}
			}
		}
		if len(open) > 7 {
			return
		}
		got := solved(t, p, Options{})
		if faults := Check(p, got); len(faults) > 0 {
			t.Fatal(faults)
		}
		tried++
		for choice := range 1 << len(open) {
			q := clone(t, p)
			q.Prices.Visit = 0
			for k, s := range open {
				if choice>>k&1 == 0 {
					q.Bins[s[0]].Room[s[1]] = 0
				}
			}
			one := solved(t, q, Options{})
			fed := map[[2]any]bool{}
			for _, f := range one.Feedings {
				fed[[2]any{f.Bin, f.Day}] = true
			}
			if value := one.Value + int64(len(fed))*p.Prices.Visit; value < got.Bound || got.Status == Proven && value < got.Value {
				t.Fatalf("bound %d, value %d, %s; visits %b cost %d", got.Bound, got.Value, got.Status, choice, value)
			}
		}
	})
	if tried == 0 {
		t.Error("no garden was small enough")
	}
}
