package planner

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"testing"
)

// storedInstance is a problem as testdata/planner keeps it; PROVENANCE.md there
// has its rules.
type storedInstance struct {
	Name                 string
	Days, Sites, Nearest int
	P                    int64
	VisitCost, Quantum   int64
	SegPct               []int64
	SegCost              []int64
	HoldCost, ThawCost   int64
	Lots                 []struct {
		Site, Cat, Arrive, Latest int
		Mass                      int64
		Freezable                 bool
		X, Y                      float64
	}
	Bins []struct {
		Site       int
		X, Y       float64
		Slot, Week []int64
		CatPct     []int64
	}
	Bedding [][]int64
	Drawer  [][]int64
	Optimal map[string]int64
}

func readInstance(t testing.TB, name string) *storedInstance {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "planner", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	in := new(storedInstance)
	if err := json.Unmarshal(data, in); err != nil {
		t.Fatal(err)
	}
	return in
}

func (in *storedInstance) problem() *Problem {
	id := func(kind string, i int) string { return fmt.Sprintf("%s-%d", kind, i) }
	p := &Problem{Days: in.Days, UnitG: 100, FirstThaw: 1}
	p.Prices = Prices{Overflow: in.P, Decline: in.P, StillFrozen: in.P, Freeze: 2, Hold: in.HoldCost, Thaw: in.ThawCost}
	for i, pct := range in.SegPct {
		p.Load = append(p.Load, Step{UpToPct: pct, Cost: in.SegCost[i]})
	}
	for c := range in.Drawer[0] {
		p.Groups = append(p.Groups, Group{ID: id("group", c), MaxPct: 100})
	}
	for s := range in.Bedding {
		site := Site{ID: id("site", s), Bedding: in.Bedding[s]}
		for c, most := range in.Drawer[s] {
			site.Drawers = append(site.Drawers, Drawer{Group: id("group", c), Capacity: most})
		}
		p.Sites = append(p.Sites, site)
	}
	for b, bin := range in.Bins {
		out := Bin{ID: id("bin", b), Site: id("site", bin.Site), Room: bin.Slot, Weekly: bin.Week}
		for c := range bin.CatPct {
			out.Limits = append(out.Limits, GroupMax{Group: id("group", c), Pct: &bin.CatPct[c]})
		}
		p.Bins = append(p.Bins, out)
	}
	for i, lot := range in.Lots {
		out := Lot{ID: id("lot", i), Site: id("site", lot.Site), Group: id("group", lot.Cat), Kind: OnHand,
			Mass: lot.Mass, Arrive: lot.Arrive, Latest: lot.Latest, Freezable: lot.Freezable}
		far := func(b int) float64 { return math.Hypot(lot.X-in.Bins[b].X, lot.Y-in.Bins[b].Y) }
		near := make([]int, len(in.Bins))
		for b := range near {
			near[b] = b
		}
		sort.SliceStable(near, func(a, b int) bool { return far(near[a]) < far(near[b]) })
		for _, b := range near[:min(in.Nearest, len(near))] {
			out.Carry = append(out.Carry, BinCost{Bin: id("bin", b), Cost: int64(far(b) / 50)})
		}
		p.Lots = append(p.Lots, out)
	}
	return p
}

// The stored values were proven by GLPK 5.0, CBC 2.10.8 and HiGHS.
func TestThePlanCostsWhatOutsideSolversProved(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "planner", "*.json"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no instances: %v", err)
	}
	checked := 0
	for _, f := range files {
		name := filepath.Base(f[:len(f)-len(".json")])
		in := readInstance(t, name)
		p := in.problem()
		r, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if r.Status != Proven || r.Bound != r.Value || r.GapPPM != 0 {
			t.Errorf("%s: status %s, value %d, bound %d", name, r.Status, r.Value, r.Bound)
		}
		if faults := Check(p, r); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
		want, ok := in.Optimal["flow_lp"]
		if !ok {
			// Free visits can only make the plan cheaper.
			if most := in.Optimal["visits_milp"]; r.Value > most {
				t.Errorf("%s: value %d above the proven %d with visits priced", name, r.Value, most)
			}
			continue
		}
		checked++
		if r.Value != want {
			t.Errorf("%s: value %d, proven %d", name, r.Value, want)
		}
	}
	if checked < 3 {
		t.Errorf("only %d instances have a proven value", checked)
	}
}
