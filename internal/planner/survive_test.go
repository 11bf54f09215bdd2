package planner

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func each(xs []int64, v int64) {
	for i := range xs {
		xs[i] = v
	}
}

type oddGarden struct {
	name   string
	change func(p *Problem)
	want   func(t *testing.T, r *Result)
}

func oddGardens() []oddGarden {
	allLeft := func(t *testing.T, r *Result) {
		if r.Totals.Fed != 0 || r.Totals.Overflow != r.Totals.Supply {
			t.Errorf("nothing can be fed, yet %+v", r.Totals)
		}
	}
	nothing := func(t *testing.T, r *Result) {
		if r.Value != 0 || r.GapPPM != 0 || r.ControllablePPM != 0 {
			t.Errorf("value %d, gap %d ppm, %d ppm; all must be 0", r.Value, r.GapPPM, r.ControllablePPM)
		}
	}
	return []oddGarden{
		{"no lots", func(p *Problem) { p.Lots = nil }, nothing},
		{"no bins", func(p *Problem) {
			p.Bins = nil
			for i := range p.Lots {
				p.Lots[i].Freezable = false
			}
		}, allLeft},
		{"no bins and no lots", func(p *Problem) { p.Bins, p.Lots = nil, nil }, nothing},
		{"no bins but freezers", func(p *Problem) { p.Bins = nil; p.Prices.StillFrozen = 10 }, func(t *testing.T, r *Result) {
			if r.Totals.StillFrozen == 0 || r.Totals.Fed != 0 {
				t.Errorf("freezing is cheap, yet %+v", r.Totals)
			}
		}},
		{"every group banned", func(p *Problem) {
			for i := range p.Groups {
				p.Groups[i].MaxPct = 0
			}
		}, allLeft},
		{"no keeper ever there", func(p *Problem) {
			for i := range p.Bins {
				each(p.Bins[i].Room, 0)
			}
		}, allLeft},
		{"room of one unit", func(p *Problem) {
			for i := range p.Bins {
				each(p.Bins[i].Room, 1)
			}
		}, nil},
		{"weekly caps 0", func(p *Problem) {
			for i := range p.Bins {
				each(p.Bins[i].Weekly, 0)
			}
		}, allLeft},
		{"no bedding", func(p *Problem) {
			for i := range p.Sites {
				each(p.Sites[i].Bedding, 0)
			}
		}, allLeft},
		{"stand-in bedding only", func(p *Problem) {
			for i := range p.Sites {
				each(p.Sites[i].Bedding, 0)
				p.Sites[i].StandIn = slices.Repeat([]int64{50}, p.Weeks())
			}
		}, func(t *testing.T, r *Result) {
			if r.Totals.StandIn == 0 || r.Totals.StandIn != r.Totals.Fed {
				t.Errorf("all food needs stand-in bedding, yet %+v", r.Totals)
			}
		}},
		{"drawers of 0", func(p *Problem) {
			for i := range p.Sites {
				for d := range p.Sites[i].Drawers {
					p.Sites[i].Drawers[d].Capacity = 0
				}
			}
		}, func(t *testing.T, r *Result) {
			if len(r.Freezes) != 0 {
				t.Error("frozen without a freezer")
			}
		}},
		{"sites with no freezer", func(p *Problem) {
			for i := range p.Sites {
				p.Sites[i].Drawers = nil
			}
		}, nil},
		{"one lot of 1,000 t", func(p *Problem) { p.Lots[0].Mass = 10_000_000 }, nil},
		{"the largest lot allowed", func(p *Problem) { p.Lots[0].Mass = MaxUnits }, nil},
		{"every lot past use", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Latest = p.Lots[i].Arrive - 1
			}
		}, allLeft},
		{"last days far in the past", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Latest = math.MinInt
			}
		}, allLeft},
		{"masses 0", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Mass = 0
			}
		}, nothing},
		{"all on the first day", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Arrive = 0
			}
		}, nil},
		{"all alike at one place", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Place, p.Lots[i].Mass = &Place{}, 100
			}
			for i := range p.Bins {
				p.Bins[i].Place, p.Bins[i].Room, p.Bins[i].Weekly = &Place{}, p.Bins[0].Room, p.Bins[0].Weekly
			}
		}, nil},
		{"room to spare", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Mass = 1
			}
		}, nil},
		{"last days beyond the plan", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Latest = math.MaxInt
			}
		}, func(t *testing.T, r *Result) {
			if len(r.Notes) == 0 || r.Notes[0].Rule != "day.clamped" {
				t.Error("no note that the last day was moved into the plan")
			}
		}},
		{"one day", func(p *Problem) { shorten(p, 1) }, nil},
		{"ten days", func(p *Problem) { shorten(p, 10) }, nil},
		{"all pledges that may be declined", func(p *Problem) {
			for i := range p.Lots {
				p.Lots[i].Kind = Pledge
			}
			p.Prices.Decline = 1
		}, func(t *testing.T, r *Result) {
			if r.Totals.Overflow != 0 || r.Totals.Declined == 0 {
				t.Errorf("declining is nearly free, yet %+v", r.Totals)
			}
		}},
		{"costs all alike", func(p *Problem) { p.Prices = Prices{Overflow: 1, Decline: 1}; p.Load = []Step{{100, 0}} }, nil},
	}
}

// Odd gardens must neither crash the planner nor make it claim what is not so.
func TestOddGardensAreSurvived(t *testing.T) {
	t.Parallel()
	for _, c := range oddGardens() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := bigGarden(5, 8, 40, 14, 2, 6, 7)
			c.change(p)
			r := solved(t, p, Options{Explain: true})
			if r.Status != Proven || r.Bound > r.Value {
				t.Errorf("status %s, bound %d, value %d", r.Status, r.Bound, r.Value)
			}
			if faults := Check(p, r); len(faults) > 0 {
				t.Error(faults)
			}
			if c.want != nil {
				c.want(t, r)
			}
		})
	}
}

// shorten cuts the plan to fewer days.
func shorten(p *Problem, days int) {
	p.Days = days
	for i := range p.Bins {
		p.Bins[i].Room = p.Bins[i].Room[:days]
		p.Bins[i].Weekly = p.Bins[i].Weekly[:p.Weeks()]
	}
	for i := range p.Sites {
		p.Sites[i].Bedding = p.Sites[i].Bedding[:p.Weeks()]
	}
	p.Lots = slices.DeleteFunc(p.Lots, func(l Lot) bool { return l.Arrive >= days })
}

func TestAProblemThatMakesNoSenseIsRefused(t *testing.T) {
	t.Parallel()
	pct := int64(10)
	cases := []struct {
		name, path, rule string
		change           func(p *Problem)
	}{
		{"negative mass", "lots[3].mass_units", "number.range", func(p *Problem) { p.Lots[3].Mass = -1 }},
		{"negative room", "bins[1].room_units[2]", "number.range", func(p *Problem) { p.Bins[1].Room[2] = -5 }},
		{"negative price", "prices.hold_cost_per_unit_night", "number.range", func(p *Problem) { p.Prices.Hold = -1 }},
		{"free overflow", "prices.overflow_cost_per_unit", "number.range", func(p *Problem) { p.Prices.Overflow = 0 }},
		{"two lots with one id", "lots[1].id", "id.duplicate", func(p *Problem) { p.Lots[1].ID = p.Lots[0].ID }},
		{"a bin without id", "bins[0].id", "id.missing", func(p *Problem) { p.Bins[0].ID = "" }},
		{"unknown site", "bins[0].site", "id.unknown", func(p *Problem) { p.Bins[0].Site = "nowhere" }},
		{"unknown group", "lots[0].group", "id.unknown", func(p *Problem) { p.Lots[0].Group = "stones" }},
		{"unknown bin to carry to", "lots[0].carry[0].bin", "id.unknown", func(p *Problem) { p.Lots[0].Carry = []BinCost{{"nowhere", 1}} }},
		{"a carrying cost below zero", "lots[0].carry[1].cost_per_unit", "number.range", func(p *Problem) {
			p.Lots[0].Carry = []BinCost{{p.Bins[0].ID, 1}, {p.Bins[1].ID, -1}}
		}},
		{"two ways to one bin", "lots[0].carry", "id.duplicate", func(p *Problem) {
			p.Lots[0].Carry = []BinCost{{p.Bins[0].ID, 1}, {p.Bins[0].ID, 2}}
		}},
		{"unknown kind", "lots[0].kind", "kind.unknown", func(p *Problem) { p.Lots[0].Kind = "rumour" }},
		{"arrival after the plan", "lots[0].arrive_day", "day.outside", func(p *Problem) { p.Lots[0].Arrive = p.Days }},
		{"no days", "days", "number.range", func(p *Problem) { p.Days = 0 }},
		{"too many days", "days", "number.range", func(p *Problem) { p.Days = 367 }},
		{"a day missing", "bins[2].room_units", "series.length", func(p *Problem) { p.Bins[2].Room = p.Bins[2].Room[1:] }},
		{"a week missing", "sites[0].bedding_ready_units", "series.length", func(p *Problem) { p.Sites[0].Bedding = nil }},
		{"crowding gets cheaper", "load_steps[2].cost_per_unit", "load.falling", func(p *Problem) { p.Load[2].Cost = 1 }},
		{"crowding steps out of order", "load_steps[1].up_to_pct", "load.order", func(p *Problem) { p.Load[1].UpToPct = 60 }},
		{"crowding stops short", "load_steps", "load.end", func(p *Problem) { p.Load = p.Load[:2] }},
		{"a limit in two forms", "bins[0].limits[0]", "limit.form", func(p *Problem) {
			p.Bins[0].Limits = []GroupMax{{Group: p.Groups[0].ID, Pct: &pct, Units: &pct}}
		}},
		{"frozen before it arrives", "lots[0].frozen", "lot.frozen_later", func(p *Problem) { p.Lots[0].Frozen, p.Lots[0].Arrive = true, 3 }},
		{"no place to carry from", "lots[0].place", "place.missing", func(p *Problem) { p.Lots[0].Place, p.Lots[0].Site, p.Sites[0].Place = nil, p.Sites[0].ID, nil }},
		{"prices too large for the masses", "prices", "cost.overflow", func(p *Problem) { p.Prices.Overflow, p.Lots[0].Mass = MaxCost, MaxUnits }},
		{"carrying too dear for the distances", "prices.carry_cost_per_unit_km", "cost.overflow", func(p *Problem) {
			p.Prices.Carry = MaxCost
		}},
		{"day names for some days", "day_labels", "series.length", func(p *Problem) { p.DayLabels = []string{"Monday"} }},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := bigGarden(5, 8, 40, 14, 2, 6, 7)
			c.change(p)
			_, err := Solve(context.Background(), p, Options{})
			var invalid *InvalidError
			if !errors.As(err, &invalid) {
				t.Fatalf("accepted, or failed otherwise: %v", err)
			}
			if !slices.ContainsFunc(invalid.Faults, func(f Fault) bool { return f.Path == c.path && f.Rule == c.rule }) {
				t.Errorf("no %s at %s in %v", c.rule, c.path, invalid.Faults)
			}
		})
	}
}

func TestNotANumberIsRefusedWhenRead(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`{"days": NaN}`, `{"days": 1.5}`, `{"days": 1e99}`, `{"dayz": 1}`, `{} {}`, ``} {
		if _, err := Parse([]byte(text)); err == nil {
			t.Errorf("%q was accepted", text)
		}
	}
}

func TestACancelledSearchAdmitsIt(t *testing.T) {
	t.Parallel()
	p := bigGarden(5, 8, 40, 14, 2, 6, 7)
	best := solved(t, p, Options{})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	r, err := Solve(ctx, p, Options{Explain: true})
	if err != nil {
		t.Fatal(err)
	}
	if r.Status != Stopped || r.StoppedBy != StoppedByCancel || r.Work.Pivots != 0 {
		t.Errorf("status %s by %q after %d pivots", r.Status, r.StoppedBy, r.Work.Pivots)
	}
	if r.Totals.Fed != 0 || r.Bound > best.Value || r.Bound == 0 || r.GapPPM == 0 {
		t.Errorf("fed %d, bound %d for %d, gap %d ppm", r.Totals.Fed, r.Bound, best.Value, r.GapPPM)
	}
	if faults := Check(p, r); len(faults) > 0 {
		t.Error(faults)
	}
}

func TestALotTooManyChoicesIsRefusedBeforeMemoryIs(t *testing.T) {
	t.Parallel()
	p := bigGarden(5, 8, 40, 14, 2, 6, 7)
	var carry []BinCost
	for b := range 2000 {
		bin := p.Bins[0]
		bin.ID = fmt.Sprint("more", b)
		p.Bins = append(p.Bins, bin)
		carry = append(carry, BinCost{Bin: bin.ID})
	}
	lot := p.Lots[0]
	lot.Arrive, lot.Latest, lot.Carry = 0, 13, carry
	for i := range 1800 {
		lot.ID = fmt.Sprint("more", i)
		p.Lots = append(p.Lots, lot)
	}
	bad, _ := refusals(p.Validate())
	if len(bad) != 1 || bad[0].Rule != "problem.too_large" {
		t.Errorf("faults %v", bad)
	}
}

// plannedOrRefused fails unless the problem is refused with reasons or gets a
// plan that can be carried out.
func plannedOrRefused(t interface {
	Helper()
	Fatal(...any)
}, data []byte) {
	t.Helper()
	p, err := Parse(data)
	if err != nil {
		return
	}
	r, err := Solve(context.Background(), p, Options{MaxPivots: 20_000, Explain: true})
	var invalid *InvalidError
	if errors.As(err, &invalid) {
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if faults := Check(p, r); len(faults) > 0 {
		t.Fatal(faults)
	}
}

func FuzzAnyProblemIsPlannedOrRefused(f *testing.F) {
	for seed := range uint64(4) {
		r := rand.New(rand.NewPCG(seed, 9))
		p := smallGarden(r, 2, 3, 3)
		if seed%2 == 1 {
			refineGarden(r, p)
		}
		data, err := json.Marshal(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`{"days":1,"unit_g":1,"prices":{"overflow_cost_per_unit":1,"decline_cost_per_unit":1},"load_steps":[{"up_to_pct":100,"cost_per_unit":0}]}`))
	f.Fuzz(func(t *testing.T, data []byte) { plannedOrRefused(t, data) })
}

// Extreme numbers in a sound problem reach deeper than random bytes.
func TestAnyNumberMayBeExtreme(t *testing.T) {
	t.Parallel()
	number := regexp.MustCompile(`[:,\[](-?[0-9]+)`) // not the digits of an id
	extreme := []int64{-1, 0, 1, 2, 99, 100, 101, 366, 1 << 20, 1 << 29, 1 << 31, MaxUnits - 1, MaxUnits, MaxUnits + 1, 1 << 62, math.MaxInt64, math.MinInt64}
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		if rapid.Bool().Draw(t, "refined") {
			p = drawRefined(t)
		}
		data, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			at := number.FindAllSubmatchIndex(data, -1)
			here := at[rapid.IntRange(0, len(at)-1).Draw(t, "where")]
			now := strconv.FormatInt(rapid.SampledFrom(extreme).Draw(t, "number"), 10)
			data = slices.Concat(data[:here[2]], []byte(now), data[here[3]:])
		}
		plannedOrRefused(t, data)
	})
}
