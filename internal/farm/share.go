package farm

import (
	"math/big"
	"slices"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Contributor is a household, or a member without one, with what they gave to
// a garden in a period and the castings they received.
type Contributor struct {
	HouseholdID uuid.UUID
	MemberID    uuid.UUID // zero when it is a household
	Name        string
	Scraps      measure.Grams
	Minutes     int64
	Received    measure.Grams
}

// Share is what a contributor is due. Basis is grams of scraps, hours, or 1,
// as the rule says.
type Share struct {
	Contributor
	Basis float64
	Due   measure.Grams
}

// Apply shares castings out: the reserve for the garden's beds first, the rest
// by the rule. The shares and the reserve sum to the castings exactly, unless
// nobody contributed. Only who contributed or received is listed, in the order
// given.
func (r SharingRule) Apply(castings measure.Grams, from []Contributor) (reserved measure.Grams, shares []Share) {
	castings = max(castings, 0)
	pct := new(big.Rat)
	if pct.SetFloat64(r.ReservePct) != nil {
		pct.Mul(pct, big.NewRat(int64(castings), 100))
	}
	if g, err := measure.RoundHalfEven(pct); err == nil {
		reserved = min(measure.Grams(g), castings)
	}
	var weights []int64
	for _, c := range from {
		weight, basis := r.weigh(c)
		if weight == 0 && c.Received == 0 {
			continue
		}
		weights = append(weights, weight)
		shares = append(shares, Share{Contributor: c, Basis: basis})
	}
	for i, g := range Apportion(castings-reserved, weights) {
		shares[i].Due = g
	}
	return reserved, shares
}

// weigh is a contributor's weight under the rule, and the same as people read it.
func (r SharingRule) weigh(c Contributor) (int64, float64) {
	switch r.Kind {
	case ShareByScraps:
		g := max(int64(c.Scraps), 0)
		return g, float64(g)
	case ShareByHours:
		m := max(c.Minutes, 0)
		return m, float64(m) / 60
	}
	if c.Scraps > 0 || c.Minutes > 0 {
		return 1, 1
	}
	return 0, 0
}

// Apportion splits grams by weights so that the parts are whole and sum to the
// total: each gets the whole part of its quota, and what is over goes, gram by
// gram, to the largest remainders (the method of Hamilton, or Hare–Niemeyer);
// the earlier one where remainders tie. Without any weight nobody gets any.
func Apportion(total measure.Grams, weights []int64) []measure.Grams {
	out := make([]measure.Grams, len(weights))
	sum := new(big.Int)
	for _, w := range weights {
		sum.Add(sum, big.NewInt(w))
	}
	if sum.Sign() <= 0 || total <= 0 {
		return out
	}
	left := total
	rest := make([]*big.Int, len(weights))
	order := make([]int, len(weights))
	for i, w := range weights {
		quota := new(big.Int).Mul(big.NewInt(w), big.NewInt(int64(total)))
		whole, r := quota.QuoRem(quota, sum, new(big.Int))
		out[i], rest[i], order[i] = measure.Grams(whole.Int64()), r, i
		left -= out[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return rest[b].Cmp(rest[a]) })
	for _, i := range order[:left] {
		out[i]++
	}
	return out
}
