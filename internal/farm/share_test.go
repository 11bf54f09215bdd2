package farm_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestLargestRemaindersGetWhatIsOver(t *testing.T) {
	t.Parallel()
	// The usual worked example of the Hare quota with largest remainders:
	// 100,000 votes, 10 seats (electoral handbooks; from memory).
	got := farm.Apportion(10, []int64{47000, 16000, 15800, 12000, 6100, 3100})
	if want := []measure.Grams{5, 2, 1, 1, 1, 0}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestSharesSumToTheGramAndStayWithinAGramOfTheQuota(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		total := measure.Grams(rapid.Int64Range(0, 5_000_000).Draw(t, "total"))
		weights := rapid.SliceOfN(rapid.Int64Range(0, 1_000_000_000), 1, 40).Draw(t, "weights")
		var sum int64
		for _, w := range weights {
			sum += w
		}
		var given measure.Grams
		for i, g := range farm.Apportion(total, weights) {
			given += g
			if sum == 0 {
				continue
			}
			if quota := float64(weights[i]) * float64(total) / float64(sum); float64(g) < quota-1.001 || float64(g) > quota+1.001 {
				t.Fatalf("%d g for a quota of %g", g, quota)
			}
		}
		if want := total; sum > 0 && given != want || sum == 0 && given != 0 {
			t.Fatalf("gave %d g of %d", given, total)
		}
	})
}

func TestCastingsAreSharedAsTheGardenSays(t *testing.T) {
	t.Parallel()
	from := []farm.Contributor{
		{Name: "Alder", Scraps: 30_000, Minutes: 0},
		{Name: "Birch", Scraps: 10_000, Minutes: 90},
		{Name: "Cedar", Minutes: 30, Received: 500},
		{Name: "Dogwood"}, // neither gave nor received
		{Name: "Elder", Received: 200},
	}
	for _, c := range []struct {
		kind farm.SharingKind
		due  []measure.Grams
	}{
		{farm.ShareEqually, []measure.Grams{2667, 2667, 2666, 0}},
		{farm.ShareByScraps, []measure.Grams{6000, 2000, 0, 0}},
		{farm.ShareByHours, []measure.Grams{6000, 2000, 0}},
	} {
		reserved, shares := farm.SharingRule{Kind: c.kind, ReservePct: 20}.Apply(10_000, from)
		var due []measure.Grams
		for _, s := range shares {
			due = append(due, s.Due)
			if s.Name == "Dogwood" {
				t.Errorf("%s lists who neither gave nor received", c.kind)
			}
		}
		if reserved != 2000 || !slices.Equal(due, c.due) {
			t.Errorf("%s: %d g kept, shares %v; want 2000 and %v", c.kind, reserved, due, c.due)
		}
	}
}
