package vermi

import (
	"slices"
	"testing"

	"midden/internal/farm"
)

func TestAMealIsWarnedOfByWhatSpeaksAgainstIt(t *testing.T) {
	t.Parallel()
	materials := map[string]farm.Material{}
	for _, m := range Catalogue() {
		materials[m.Key] = m
	}
	mm := func(n int) *int { return &n }
	state := func(change func(*State)) *State {
		st := &State{TempC: 20, TempFrom: TempAssumed, HotC: 20}
		st.Appetite.PerDayG.Mean, st.Appetite.Bound = 400, BoundWorms
		change(st)
		return st
	}
	good := Meal{Food: []Food{{Material: "vegetable_trimmings", Grams: 2500}}, CoverMM: mm(50), BeddingG: 900, Status: farm.BinInUse, Materials: materials}
	citrus := ""
	for _, m := range Catalogue() {
		if m.Group == farm.Citrus {
			citrus = m.Key
		}
	}
	for name, c := range map[string]struct {
		change func(*Meal)
		st     *State
		want   []string
	}{
		"a good meal":            {func(*Meal) {}, nil, nil},
		"a week's meal":          {func(*Meal) {}, state(func(*State) {}), nil},
		"4 kg where 2.8 suffice": {func(m *Meal) { m.Food[0].Grams = 4000 }, state(func(*State) {}), []string{"overfed"}},
		"on top of a backlog":    {func(*Meal) {}, state(func(s *State) { s.Backlog.Total.Mean = 400 }), []string{"overfed"}},
		"into a hot bed":         {func(*Meal) {}, state(func(s *State) { s.Appetite.Bound, s.HotC = BoundHeat, 31 }), []string{"fed_hot"}},
		"into a cold bed":        {func(*Meal) {}, state(func(s *State) { s.TempC, s.TempFrom = 8, "" }), []string{"fed_cold"}},
		"frozen":                 {func(m *Meal) { m.Frozen = []string{"Apples"} }, nil, []string{"thaw_first"}},
		"thinly covered":         {func(m *Meal) { m.CoverMM = mm(20) }, nil, []string{"thin_cover"}},
		"cover not noted":        {func(m *Meal) { m.CoverMM = nil }, nil, nil},
		"not covered at all":     {func(m *Meal) { m.CoverMM, m.BeddingG = nil, 0 }, nil, []string{"no_cover"}},
		"under fresh bedding":    {func(m *Meal) { m.Unaged = true }, nil, []string{"bedding_not_ready"}},
		"into a resting bin":     {func(m *Meal) { m.Status = farm.BinResting }, nil, []string{"not_in_use"}},
		"much citrus": {func(m *Meal) { m.Food = append(m.Food, Food{Material: citrus, Grams: 500}) }, nil,
			[]string{"go_easy_citrus"}},
		"a little citrus": {func(m *Meal) { m.Food = append(m.Food, Food{Material: citrus, Grams: 250}) }, nil, nil},
	} {
		m := good
		m.Food = slices.Clone(good.Food)
		c.change(&m)
		if got := codes(Concerns(m, c.st, DefaultSettings())); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", name, got, c.want)
		}
	}
}
