package vermi

// row is one constraint a·x ≤ b of a small linear programme with x ≥ 0.
type row struct {
	a []float64
	b float64
}

const lpEps = 1e-9

// minimise finds x ≥ 0 with every row kept and cost·x least, by the two-phase
// simplex method with Bland's rule (which can't cycle). ok is false when no x
// keeps every row. The cost must be bounded below, as every cost here is: no
// cost is negative. Rows are scaled to a largest coefficient of one.
func minimise(cost []float64, rows []row) (x []float64, ok bool) {
	n, m := len(cost), len(rows)
	width := n + 2*m + 1 // variables, slacks, artificials, right-hand side
	rhs := width - 1
	t := make([][]float64, m)
	basis := make([]int, m)
	phase1 := make([]float64, width)
	for i, r := range rows {
		t[i] = make([]float64, width)
		scale := 0.0
		for _, v := range r.a {
			scale = max(scale, abs(v))
		}
		if scale == 0 {
			scale = 1
		}
		sign := 1.0
		if r.b < 0 {
			sign = -1
		}
		for j, v := range r.a {
			t[i][j] = sign * v / scale
		}
		t[i][n+i] = sign
		t[i][rhs] = sign * r.b / scale
		basis[i] = n + i
		if sign < 0 {
			t[i][n+m+i] = 1
			basis[i] = n + m + i
			phase1[n+m+i] = 1
		}
	}
	if left := pivotAll(t, basis, phase1, n+m); left > lpEps {
		return nil, false
	}
	// An artificial left in the basis at zero would be free to grow again:
	// swap it out, or drop its row when the row says nothing more.
	for i := 0; i < len(t); i++ {
		if basis[i] < n+m {
			continue
		}
		swapped := false
		for j := 0; j < n+m; j++ {
			if abs(t[i][j]) > lpEps {
				pivot(t, basis, i, j)
				swapped = true
				break
			}
		}
		if !swapped {
			t = append(t[:i], t[i+1:]...)
			basis = append(basis[:i], basis[i+1:]...)
			i--
		}
	}
	phase2 := make([]float64, width)
	copy(phase2, cost)
	pivotAll(t, basis, phase2, n+m)
	x = make([]float64, n)
	for i, b := range basis {
		if b < n {
			x[b] = max(0, t[i][rhs])
		}
	}
	return x, true
}

// pivotAll pivots until no column below limit lowers the cost, and returns the
// cost reached.
func pivotAll(t [][]float64, basis []int, cost []float64, limit int) float64 {
	for {
		enter := -1
		for j := 0; j < limit && enter < 0; j++ {
			reduced := cost[j]
			for i, b := range basis {
				reduced -= cost[b] * t[i][j]
			}
			if reduced < -lpEps {
				enter = j
			}
		}
		leave := -1
		if enter >= 0 {
			leave = leavingRow(t, basis, enter)
		}
		if leave < 0 {
			break
		}
		pivot(t, basis, leave, enter)
	}
	var z float64
	for i, b := range basis {
		z += cost[b] * t[i][len(t[i])-1]
	}
	return z
}

func leavingRow(t [][]float64, basis []int, enter int) int {
	leave, best := -1, 0.0
	for i := range t {
		if t[i][enter] <= lpEps {
			continue
		}
		ratio := t[i][len(t[i])-1] / t[i][enter]
		if leave < 0 || ratio < best || (ratio == best && basis[i] < basis[leave]) {
			leave, best = i, ratio
		}
	}
	return leave
}

func pivot(t [][]float64, basis []int, r, c int) {
	p := t[r][c]
	for j := range t[r] {
		t[r][j] /= p
	}
	for i := range t {
		f := t[i][c]
		if i == r || f == 0 {
			continue
		}
		for j := range t[i] {
			t[i][j] -= f * t[r][j]
		}
		t[i][c] = 0
	}
	basis[r] = c
}
