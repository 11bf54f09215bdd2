package service

import (
	"testing"

	"pgregory.net/rapid"

	"midden/internal/measure"
)

func TestSharesAddUpToTheGramAndTakeNoMoreThanIsThere(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		masses := rapid.SliceOfN(rapid.Map(rapid.Int64Range(0, 100_000_000), func(n int64) measure.Grams { return measure.Grams(n) }), 1, 20).Draw(rt, "masses")
		var total measure.Grams
		for _, m := range masses {
			total += m
		}
		if total == 0 { // something must be there to share
			masses[0], total = 1, 1
		}
		g := measure.Grams(rapid.Int64Range(0, 2*int64(total)).Draw(rt, "grams"))
		var sum measure.Grams
		for i, share := range spread(g, masses) {
			sum += share
			if share < 0 || g <= total && share > masses[i] || masses[i] == 0 && share != 0 {
				rt.Fatalf("share %d of %d g from %v is %d", i, g, masses, share)
			}
		}
		if sum != g {
			rt.Fatalf("shares of %d g from %v add up to %d", g, masses, sum)
		}
	})
}
