package vermi

import (
	"fmt"
	"strings"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Meal is a feeding that was just laid, as far as warnings look at it.
type Meal struct {
	Food      []Food
	Frozen    []string // names of food that came straight from the freezer
	CoverMM   *int     // depth of the cover; nil: not noted
	BeddingG  measure.Grams
	Unaged    bool // bedding of a batch that is not ready yet
	Status    farm.BinStatus
	Materials map[string]farm.Material
}

// Concerns are what speaks against a meal, most urgent first. st is the bin as
// it stood before it; nil when nothing is known of the bin. They are advice:
// what happened is recorded all the same.
func Concerns(m Meal, st *State, s Settings) []Need {
	var out []Need
	add := func(holds bool, n Need) {
		if holds {
			out = append(out, n)
		}
	}
	if st != nil {
		out = append(out, stateConcerns(m, *st, s)...)
	}
	add(m.Status == farm.BinResting || m.Status == farm.BinQuarantine, Need{Code: "not_in_use", Urgency: Soon,
		Do: "Hold back food until the bin is in use again.", Why: fmt.Sprintf("The bin is %s.", m.Status), Source: practice})
	add(len(m.Frozen) > 0, Need{Code: "thaw_first", Urgency: Soon,
		Do:  "Thaw frozen scraps and let them drain a day ahead. Look at this spot tomorrow and add dry bedding if it is wet.",
		Why: fmt.Sprintf("%s went in frozen: it chills the bed and lets go of its water there.", strings.Join(m.Frozen, ", ")), Source: practice})
	add(m.CoverMM != nil && float64(*m.CoverMM) < s.CoverMM, Need{Code: "thin_cover", Urgency: Soon,
		Do: fmt.Sprintf("Cover the food with bedding, at least %.0f mm.", s.CoverMM), Why: fmt.Sprintf("The cover is %d mm.", orZero(m.CoverMM)), Source: practice + "; setting"})
	add(m.CoverMM == nil && m.BeddingG == 0, Need{Code: "no_cover", Urgency: Soon,
		Do: fmt.Sprintf("Cover every feeding with bedding, at least %.0f mm.", s.CoverMM), Why: "No bedding and no cover was noted.", Source: practice + "; setting"})
	add(m.Unaged, Need{Code: "bedding_not_ready", Urgency: Routine, Do: "Look under the cover within days: fresh bedding may heat.",
		Why: "The batch had not aged, or its last look did not find it ready.", Source: practice})
	return append(out, shareConcerns(m)...)
}

func orZero(p *int) int {
	if p == nil {
		return 0
	}
	return *p
}

// total is the mass of the meal's food.
func (m Meal) total() (sum measure.Grams) {
	for _, f := range m.Food {
		sum += f.Grams
	}
	return sum
}

// shareConcerns names each go-easy group beyond its share of the feeding.
func shareConcerns(m Meal) []Need {
	by := map[farm.Group]measure.Grams{}
	for _, f := range m.Food {
		by[m.Materials[f.Material].Group] += f.Grams
	}
	var out []Need
	all := float64(m.total())
	for _, c := range GroupCaps() {
		if pct := 100 * float64(by[c.Group]) / all; all > 0 && pct > c.Pct {
			out = append(out, Need{Code: "go_easy_" + string(c.Group), Urgency: Routine,
				Do:  "Go easy on it: spread the rest over other bins and days, in small amounts.",
				Why: fmt.Sprintf("%s is %.0f %% of this feeding; up to %.0f %% is usual.", c.Group, pct, c.Pct), Source: c.Source})
		}
	}
	return out
}

// stateConcerns look at heat, cold and at what still lies there.
func stateConcerns(m Meal, st State, s Settings) []Need {
	var out []Need
	per, days := st.Appetite.PerDayG.Mean, float64(max(1, s.FeedDays))
	switch lies := st.Backlog.Total.Mean + float64(m.total()); {
	case st.Appetite.Bound == BoundHeat:
		out = append(out, Need{Code: "fed_hot", Urgency: Now, Do: "Take the food out again or spread it thin; open the feed layer and add cool bedding.",
			Why: fmt.Sprintf("%.1f °C at the hottest spot: food heats it further.", st.HotC), Source: practice + "; setting"})
	case st.Appetite.Bound != BoundStatus && lies > per*days:
		out = append(out, Need{Code: "overfed", Urgency: Soon, Do: "Give no more until most of this is eaten; watch for heat and sour smell.",
			Why: fmt.Sprintf("About %.1f kg lies there now; the bin eats some %.2f kg a day, %.1f kg in %.0f days.", lies/1000, per/1000, per*days/1000, days), Source: practice})
	}
	if st.TempFrom != TempAssumed && st.TempC < s.LittleC {
		out = append(out, Need{Code: "fed_cold", Urgency: Routine, Do: "Feed little while the bed is cold.",
			Why: fmt.Sprintf("The bed is at %.1f °C, below %.0f °C.", st.TempC, s.LittleC), Source: practice + "; setting"})
	}
	return out
}
