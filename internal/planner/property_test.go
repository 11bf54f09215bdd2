package planner

import (
	"bytes"
	"context"
	"encoding/json"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func drawGarden(t *rapid.T) *Problem {
	seed := rapid.Uint64().Draw(t, "seed")
	bins := rapid.IntRange(0, 6).Draw(t, "bins")
	lots := rapid.IntRange(0, 18).Draw(t, "lots")
	days := rapid.IntRange(1, 20).Draw(t, "days")
	return smallGarden(rand.New(rand.NewPCG(seed, 3)), bins, lots, days)
}

func solved(t rapid.TB, p *Problem, opt Options) *Result {
	t.Helper()
	r, err := Solve(context.Background(), p, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func clone(t rapid.TB, p *Problem) *Problem {
	t.Helper()
	data, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	q, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestEveryPlanIsProvenAndCanBeCarriedOut(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		r := solved(t, p, Options{Explain: true})
		if r.Status != Proven || r.Gap != 0 || r.GapPPM != 0 || r.ControllablePPM != 0 {
			t.Fatalf("status %s, gap %d, %d ppm, %d ppm", r.Status, r.Gap, r.GapPPM, r.ControllablePPM)
		}
		if r.Unavoidable > r.Value {
			t.Fatalf("unavoidable %d above the value %d", r.Unavoidable, r.Value)
		}
		if faults := Check(p, r); len(faults) > 0 {
			t.Fatal(faults)
		}
	})
}

func TestAPlanStoppedEarlyIsStillAPlanWithABound(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		best := solved(t, p, Options{})
		limit := rapid.Int64Range(-1, 60).Draw(t, "pivots")
		r := solved(t, p, Options{MaxPivots: limit, Explain: true})
		if faults := Check(p, r); len(faults) > 0 {
			t.Fatal(faults)
		}
		if r.Bound > best.Value || r.Value < best.Value {
			t.Fatalf("bound %d, value %d; the best plan costs %d", r.Bound, r.Value, best.Value)
		}
		if limit > 0 && r.Work.Pivots > limit {
			t.Fatalf("%d pivots of %d", r.Work.Pivots, limit)
		}
		if r.Status == Stopped && r.StoppedBy != StoppedByPivots {
			t.Fatalf("stopped by %q", r.StoppedBy)
		}
		if r.Status == Proven && r.Value != best.Value {
			t.Fatalf("proven at %d, but %d is possible", r.Value, best.Value)
		}
	})
}

func TestMoreRoomNeverMakesAPlanWorse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		before := solved(t, p, Options{})
		q := clone(t, p)
		extra := rapid.Int64Range(1, 40).Draw(t, "extra")
		switch rapid.IntRange(0, 4).Draw(t, "what") {
		case 0:
			for b := range q.Bins {
				for w := range q.Bins[b].Weekly {
					q.Bins[b].Weekly[w] += extra
				}
			}
		case 1:
			for s := range q.Sites {
				for w := range q.Sites[s].Bedding {
					q.Sites[s].Bedding[w] += extra
				}
			}
		case 2:
			for s := range q.Sites {
				for d := range q.Sites[s].Drawers {
					q.Sites[s].Drawers[d].Capacity += extra
				}
			}
		case 3:
			for g := range q.Groups {
				q.Groups[g].MaxPct = min(100, q.Groups[g].MaxPct+extra)
			}
			for b := range q.Bins {
				for l := range q.Bins[b].Limits {
					if u := q.Bins[b].Limits[l].Units; u != nil {
						*u += extra
					}
				}
			}
		case 4:
			for i := range q.Lots {
				q.Lots[i].Latest++
			}
		}
		if after := solved(t, q, Options{}); after.Value > before.Value {
			t.Fatalf("value rose from %d to %d", before.Value, after.Value)
		}
	})
}

// One more unit of a binding limit saves no more than the plan says it is worth.
func TestAWorthIsNeverTooLow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		before := solved(t, p, Options{})
		worth := map[string]int64{}
		for _, w := range before.Worth {
			switch w.Cause {
			case CauseWeek:
				worth[w.Bin] = w.CostPerUnit + worth[w.Bin]
			case CauseFreezer:
				worth[w.Site+"/"+w.Group] = w.CostPerUnit
			}
		}
		for b := range p.Bins {
			q := clone(t, p)
			opens := false
			for w := range q.Bins[b].Weekly {
				opens = opens || q.Bins[b].Weekly[w] == 0
				q.Bins[b].Weekly[w]++
			}
			if saved := before.Value - solved(t, q, Options{}).Value; !opens && saved > worth[q.Bins[b].ID] {
				t.Fatalf("one more unit a week in %s saves %d; said %d", q.Bins[b].ID, saved, worth[q.Bins[b].ID])
			}
		}
		for s := range p.Sites {
			for d := range p.Sites[s].Drawers {
				q := clone(t, p)
				q.Sites[s].Drawers[d].Capacity++
				at := q.Sites[s].ID + "/" + q.Sites[s].Drawers[d].Group
				if saved := before.Value - solved(t, q, Options{}).Value; p.Sites[s].Drawers[d].Capacity > 0 && saved > worth[at] {
					t.Fatalf("one more unit of drawer %s saves %d; said %d", at, saved, worth[at])
				}
			}
		}
	})
}

func TestTheOrderAndNamesOfThingsDoNotChangeTheValue(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		want := solved(t, p, Options{}).Value
		q := clone(t, p)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 5))
		r.Shuffle(len(q.Lots), func(i, j int) { q.Lots[i], q.Lots[j] = q.Lots[j], q.Lots[i] })
		r.Shuffle(len(q.Bins), func(i, j int) { q.Bins[i], q.Bins[j] = q.Bins[j], q.Bins[i] })
		r.Shuffle(len(q.Sites), func(i, j int) { q.Sites[i], q.Sites[j] = q.Sites[j], q.Sites[i] })
		r.Shuffle(len(q.Groups), func(i, j int) { q.Groups[i], q.Groups[j] = q.Groups[j], q.Groups[i] })
		name := func(id string) string { return "renamed " + id }
		for i := range q.Groups {
			q.Groups[i].ID = name(q.Groups[i].ID)
		}
		for i := range q.Sites {
			q.Sites[i].ID = name(q.Sites[i].ID)
			for d := range q.Sites[i].Drawers {
				q.Sites[i].Drawers[d].Group = name(q.Sites[i].Drawers[d].Group)
			}
		}
		for i := range q.Bins {
			b := &q.Bins[i]
			b.ID, b.Site = name(b.ID), name(b.Site)
			for l := range b.Limits {
				b.Limits[l].Group = name(b.Limits[l].Group)
			}
		}
		for i := range q.Lots {
			l := &q.Lots[i]
			l.ID, l.Site, l.Group = name(l.ID), name(l.Site), name(l.Group)
			for c := range l.Carry {
				l.Carry[c].Bin = name(l.Carry[c].Bin)
			}
		}
		if got := solved(t, q, Options{}).Value; got != want {
			t.Fatalf("value %d became %d", want, got)
		}
	})
}

func TestTheSameProblemGivesTheSameBytes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p := drawGarden(t)
		print := func(p *Problem) []byte {
			data, err := json.Marshal(solved(t, p, Options{Explain: true}))
			if err != nil {
				t.Fatal(err)
			}
			return data
		}
		first := print(p)
		if again := print(p); !bytes.Equal(first, again) {
			t.Fatal("solving twice gave two results")
		}
		if stored := print(clone(t, p)); !bytes.Equal(first, stored) {
			t.Fatal("the stored problem gave another result")
		}
	})
}

// A bigger problem, so that the search has real choices between equals.
func TestATownGivesTheSameBytesEachTime(t *testing.T) {
	t.Parallel()
	var first []byte
	for range 3 {
		data, err := json.Marshal(solved(t, bigGarden(8, 40, 500, 30, 6, 8, 5), Options{Explain: true}))
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
}
