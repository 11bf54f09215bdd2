package vermi

import (
	"math"
	"testing"
)

// near fails the test when got is further from want than tol.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s: got %g, want %g ± %g", what, got, want, tol)
	}
}
