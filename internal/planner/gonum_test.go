package planner

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize/convex/lp"
)

// standardForm makes equalities of the rows and bounds by adding slacks.
func (m *linear) standardForm() (c []float64, a *mat.Dense, b []float64) {
	rows := append([]linearRow(nil), m.rows...)
	for v, u := range m.upper {
		if u >= 0 {
			rows = append(rows, linearRow{map[int]int64{v: 1}, false, u})
		}
	}
	used := make([]int, len(m.cost)) // column of each variable that occurs
	for v := range used {
		used[v] = -1
	}
	for _, r := range rows {
		for v := range r.terms {
			used[v] = 0
		}
	}
	for v := range used {
		if used[v] == 0 {
			used[v] = len(c)
			c = append(c, float64(m.cost[v]))
		}
	}
	for _, r := range rows {
		if !r.equal {
			c = append(c, 0)
		}
	}
	a = mat.NewDense(len(rows), len(c), nil)
	slack := len(c)
	for i := len(rows) - 1; i >= 0; i-- {
		for v, k := range rows[i].terms {
			a.Set(i, used[v], float64(k))
		}
		if !rows[i].equal {
			slack--
			a.Set(i, slack, 1)
		}
	}
	for _, r := range rows {
		b = append(b, float64(r.rhs))
	}
	return c, a, b
}

// The reference is gonum's own simplex (gonum.org/v1/gonum v0.17.0,
// optimize/convex/lp) on the inequalities, to one part in a million.
func TestSmallGardensCostWhatGonumFinds(t *testing.T) {
	t.Parallel()
	compared, refused := 0, 0
	for seed := uint64(1); compared < 220; seed++ {
		p := smallGarden(rand.New(rand.NewPCG(seed, 7)), 2, 4, 8)
		got, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if len(p.Lots) == 0 {
			if got.Value != 0 {
				t.Errorf("seed %d: no lots cost %d", seed, got.Value)
			}
			continue
		}
		c, a, b := formulate(p).standardForm()
		if rows, cols := a.Dims(); rows >= cols {
			continue // gonum wants more columns than rows
		}
		want, _, err := lp.Simplex(c, a, b, 0, nil)
		if err != nil { // it may give up on degenerate problems; never on more than a few
			if refused++; refused > 40 {
				t.Fatalf("seed %d: gonum refused %d problems, now: %v", seed, refused, err)
			}
			continue
		}
		compared++
		if math.Abs(want-float64(got.Value)) > 1e-6*math.Max(1, want) {
			t.Errorf("seed %d: value %d, gonum %.6f", seed, got.Value, want)
		}
	}
	t.Logf("%d problems equal, %d refused by the reference", compared, refused)
}
