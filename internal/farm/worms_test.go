package farm_test

import (
	"testing"

	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func grams(v string) measure.Quantity { return measure.Quantity{Value: v, Unit: measure.Gram} }

func TestWormsAreWorkedOutFromWhatWasGiven(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name  string
		a     farm.WormAmount
		books measure.Grams
		want  measure.Grams
	}{
		{"weighed", farm.WormAmount{Method: farm.WormsWeighed, LiveMass: grams("600")}, 0, 600},
		{"8 % of 2.5 kg of worm-rich bedding", farm.WormAmount{Method: farm.WormsSampled, Material: grams("2500"), FractionPct: 8}, 0, 200},
		{"half the bed", farm.WormAmount{Method: farm.WormsShare, SharePct: 50}, 901, 450}, // half to even
		// Common guidance: about 1000 worms of a mixed lot to the pound of 453.59237 g.
		{"a pound of a mixed lot", farm.WormAmount{Method: farm.WormsCounted, Count: 1000}, 0, 454},
		// A mean mature E. fetida of 0.55 g (a table believed to follow Edwards
		// 1988) gives about 825 to the pound.
		{"a pound of mature worms", farm.WormAmount{Method: farm.WormsCounted, Count: 825, MeanMG: farm.MatureWormMG}, 0, 454},
	} {
		got, err := c.a.Work("/worms", c.books)
		if err != nil || got.Net != c.want {
			t.Errorf("%s: got %d g, %v; want %d g", c.name, got.Net, err, c.want)
		}
	}
}

func TestASurerWayToGetAWormMassHasTheSmallerSpread(t *testing.T) {
	t.Parallel()
	ways := []farm.WormMethod{farm.WormsWeighed, farm.WormsCounted, farm.WormsSampled, farm.WormsShare}
	for i := 1; i < len(ways); i++ {
		if ways[i-1].RelSDPermille() >= ways[i].RelSDPermille() {
			t.Errorf("%s is not surer than %s", ways[i-1], ways[i])
		}
	}
}

// What is taken is what the books can give plus what was found, whatever the
// books hold; only measured worms are found.
func TestFoundWormsMakeUpTheShortfall(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		least := measure.Grams(rapid.Int64Range(0, 5000).Draw(t, "least"))
		books := farm.WormBooks{Known: true, Least: least, Closing: least + measure.Grams(rapid.Int64Range(0, 5000).Draw(t, "later"))}
		a := rapid.SampledFrom([]farm.WormAmount{
			{Method: farm.WormsWeighed, LiveMass: grams("2500")}, {Method: farm.WormsCounted, Count: 4000},
			{Method: farm.WormsSampled, Material: grams("5000"), FractionPct: 40}, {Method: farm.WormsShare, SharePct: 60},
		}).Draw(t, "worms")
		w, found, err := farm.TakeWorms(a, "/worms", books)
		if err != nil {
			if farm.CodeOf(err) == "worms.none" && !a.Method.Measured() {
				return
			}
			if books.Closing < 2 && farm.CodeOf(err) == "worms.invalid" { // a share that rounds to nothing
				return
			}
			t.Fatal(err)
		}
		if found < 0 || w.Net-found > least || found > 0 && (w.Net-found != least || !a.Method.Measured()) {
			t.Fatalf("took %d g with %d g found from books of %+v", w.Net, found, books)
		}
	})
}
