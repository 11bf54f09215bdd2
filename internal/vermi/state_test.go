package vermi

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
	"pgregory.net/rapid"
)

// steady is a bin in good order: fed weekly, covered, checked yesterday.
func steady() Record {
	bed := 20.0
	r := Record{AsOf: day(100), Bin: plainBin(), Transfers: []Transfer{{day(-1), 1500, weighed}},
		Sections: []Section{{ID: "bed", Stage: farm.Feeding, StartedOn: day(0)}}}
	for n := 0; n <= 98; n += 7 {
		r.Feedings = append(r.Feedings, Feeding{day(n), "bed", []Food{{"vegetable_trimmings", 1100}, {"apples", 400}}})
		r.Bedding = append(r.Bedding, BeddingLaid{day(n), "bed", "leaves", 3000, 65})
		r.Checks = append(r.Checks, Check{On: day(n + 1), Smell: farm.SmellEarth, SqueezeTop: 3, SqueezeBottom: 3, BedC: &bed,
			Sections: []SectionLook{{"bed", 220, WormsSome}}})
	}
	return r
}

func codes(ns []Need) []string {
	var out []string
	for _, n := range ns {
		out = append(out, n.Code)
	}
	return out
}

func TestABinInGoodOrderIsLeftAlone(t *testing.T) {
	t.Parallel()
	st := Estimate(steady())
	if got := codes(st.Shown()); len(got) == 0 || got[0] != "leave_alone" {
		t.Errorf("needs %v", got)
	}
	near(t, "fill", st.FillMM, 220, 15)
	near(t, "moisture", st.MoisturePct, 74, 2)
	if st.TempFrom != TempMeasured || st.TempC != 20 || !st.FillMeasured || st.MoistureAssumed || !st.WormsRecorded {
		t.Errorf("state %+v", st)
	}
}

func TestEachSignCallsForItsAdvice(t *testing.T) {
	t.Parallel()
	last := func(f func(*Record, *Check)) func(*Record) {
		return func(r *Record) {
			r.Checks = slices.Clone(r.Checks)
			f(r, &r.Checks[len(r.Checks)-1])
		}
	}
	deg := func(c float64) *float64 { return &c }
	for want, change := range map[string]func(*Record){
		"rats_mice":     last(func(_ *Record, c *Check) { c.Pests = []Pest{PestRodents} }),
		"jumping_worms": last(func(_ *Record, c *Check) { c.Pests = []Pest{PestJumping} }),
		"fruit_flies":   last(func(_ *Record, c *Check) { c.Pests = []Pest{PestFruitFlies} }),
		"mites":         last(func(_ *Record, c *Check) { c.Pests = []Pest{PestMites} }),
		"ants":          last(func(_ *Record, c *Check) { c.Pests = []Pest{PestAnts} }),
		"heat_call":     last(func(_ *Record, c *Check) { c.HotC = deg(36) }),
		"heat_open":     last(func(_ *Record, c *Check) { c.HotC = deg(31) }),
		"heat_watch":    last(func(r *Record, c *Check) { c.HotC = deg(28); r.Expected = []float64{24} }),
		"near_freezing": last(func(_ *Record, c *Check) { c.BedC = deg(1) }),
		"cold":          last(func(_ *Record, c *Check) { c.BedC = deg(8) }),
		"ammonia":       last(func(_ *Record, c *Check) { c.Smell = farm.SmellAmmonia }),
		"sour":          last(func(_ *Record, c *Check) { c.Smell = farm.SmellSour }),
		"too_wet":       last(func(_ *Record, c *Check) { c.SqueezeTop = 4 }),
		"too_dry":       last(func(_ *Record, c *Check) { c.SqueezeTop = 2 }),
		"wet_bottom":    last(func(r *Record, c *Check) { r.Bin.Drained = false; c.SqueezeBottom = 5 }),
		"leaving":       last(func(_ *Record, c *Check) { c.Leaving = true }),
		"full":          last(func(_ *Record, c *Check) { c.Sections = []SectionLook{{"bed", 380, ""}} }),
		"uneaten": last(func(r *Record, c *Check) {
			r.Feedings = append(slices.Clone(r.Feedings), Feeding{day(99), "bed", []Food{{"bread", 25000}}})
		}),
		"needs_bedding": func(r *Record) { r.Bedding = nil },
		"check_overdue": func(r *Record) { r.Checks = r.Checks[:8] },
		"turn_overdue":  func(r *Record) { r.Bin.Drained = false },
		"quarantine":    func(r *Record) { r.Bin.Status = farm.BinQuarantine },
		"hungry":        func(r *Record) { r.AsOf = day(112) },
		"thin_stock":    func(r *Record) { r.Weighings = []WormWeighing{{day(99), 60, weighed}} },
		"crowded":       func(r *Record) { r.Weighings = []WormWeighing{{day(99), 3600, weighed}} },
		"harvest_ready": func(r *Record) {
			r.Sections = append(slices.Clone(r.Sections), Section{"old", farm.Maturing, day(-150)})
			r.Feedings = append(slices.Clone(r.Feedings), Feeding{day(-100), "old", []Food{{"apples", 4000}}})
		},
	} {
		r := steady()
		change(&r)
		st := Estimate(r)
		if !slices.Contains(codes(st.Needs), want) {
			t.Errorf("%s: needs are %v", want, codes(st.Needs))
		}
		if slices.Contains(codes(Estimate(steady()).Needs), want) {
			t.Errorf("%s is also said of a bin in good order", want)
		}
		if len(st.Shown()) > 3 {
			t.Errorf("%s: %d shown", want, len(st.Shown()))
		}
		for i := 1; i < len(st.Needs); i++ {
			if st.Needs[i].Urgency > st.Needs[i-1].Urgency {
				t.Errorf("%s: %v not in order of urgency", want, codes(st.Needs))
			}
		}
	}
}

func TestEveryRuleIsWhole(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	var hushes []string
	for _, r := range Rules() {
		if r.Code == "" || r.Do == "" || r.Source == "" || r.When == nil || r.Urgency < Calm || r.Urgency > Now || seen[r.Code] {
			t.Errorf("rule %+v", r.Code)
		}
		seen[r.Code] = true
		hushes = append(hushes, r.Hushes...)
	}
	for _, h := range hushes {
		if !seen[h] {
			t.Errorf("hushes %s, which is no rule", h)
		}
	}
	if Now.String() != "now" || Calm.String() != "calm" {
		t.Error("urgency codes")
	}
}

func TestTheOrderOfEntriesDoesNotMatter(t *testing.T) {
	t.Parallel()
	want := Estimate(steady())
	if again := Estimate(steady()); !reflect.DeepEqual(want, again) {
		t.Error("the same record gave two states")
	}
	r := steady()
	slices.Reverse(r.Feedings)
	slices.Reverse(r.Checks)
	slices.Reverse(r.Bedding)
	if got := Estimate(r); !reflect.DeepEqual(want, got) {
		t.Errorf("reversed entries gave %+v, want %+v", got, want)
	}
	if r.Feedings[0].On != day(98) {
		t.Error("Estimate reordered the caller's entries")
	}
}

func TestWhatComesLaterIsNotKnownYet(t *testing.T) {
	t.Parallel()
	r := steady()
	want := Estimate(r)
	r.Checks = append(slices.Clone(r.Checks), Check{On: day(101), Smell: farm.SmellAmmonia})
	r.Weighings = []WormWeighing{{day(101), 10, weighed}}
	r.Feedings = append(slices.Clone(r.Feedings), Feeding{day(101), "bed", []Food{{"apples", 90000}}})
	if got := Estimate(r); !reflect.DeepEqual(want, got) {
		t.Error("entries after the day changed the state of the day")
	}
}

func TestAnEmptyRecordStillGivesAnAnswer(t *testing.T) {
	t.Parallel()
	st := Estimate(Record{AsOf: day(0), Bin: Bin{Shape: box(), Status: farm.BinInUse}})
	if st.WormsRecorded || st.Worms.Mean <= 0 || st.TempFrom != TempAssumed || !st.MoistureAssumed || st.FillMeasured {
		t.Errorf("guesses must be marked as guesses: %+v", st)
	}
	if !slices.Contains(codes(st.Needs), "check_overdue") {
		t.Errorf("needs %v", codes(st.Needs))
	}
	if closed := Estimate(Record{AsOf: day(0), Bin: Bin{Shape: box(), Status: farm.BinClosed}}); len(closed.Needs) != 0 || closed.Appetite.PerDayG.Mean != 0 {
		t.Error("a closed bin needs and eats nothing")
	}
}

func TestTheBedRisesWithWhatIsLaidAndSinksAgain(t *testing.T) {
	t.Parallel()
	r := steady()
	base := Estimate(r)
	r.Bedding = append(slices.Clone(r.Bedding), BeddingLaid{day(100), "bed", "leaves", 8000, 65})
	laid := Estimate(r).FillMM
	if laid <= base.FillMM+10 {
		t.Errorf("8 kg of leaves moved the bed from %g to %g mm", base.FillMM, laid)
	}
	r.AsOf = day(160)
	if sunk := Estimate(r).FillMM; sunk >= laid {
		t.Errorf("two months later the bed stands at %g mm, after %g", sunk, laid)
	}
	r.Harvests = []Harvest{{On: day(150), Section: "bed", Grams: 20000}}
	if taken := Estimate(r).FillMM; taken >= Estimate(Record{AsOf: day(160), Bin: r.Bin, Sections: r.Sections, Feedings: r.Feedings, Checks: r.Checks, Bedding: r.Bedding}).FillMM {
		t.Errorf("a harvest of 20 kg left the bed at %g mm", taken)
	}
	// Nobody measured for a year: the bin is not taken for full.
	never := steady()
	never.Checks = nil
	for n := -365; n < 0; n += 3 {
		never.Bedding = append(never.Bedding, BeddingLaid{day(n), "bed", "leaves", 6000, 65})
	}
	if st := Estimate(never); st.FillMeasured || st.FreeMM < 100-1e-9 {
		t.Errorf("free depth %g mm", st.FreeMM)
	}
}

func TestSlipsOfThePenAreNotTemperatures(t *testing.T) {
	t.Parallel()
	want := Estimate(steady())
	r := steady()
	r.Temps = []Temp{{day(100), 200, false}, {day(99), math.NaN(), false}, {day(99), math.Inf(1), true}}
	r.Expected = []float64{math.NaN()}
	if got := Estimate(r); !reflect.DeepEqual(want, got) {
		t.Errorf("%+v", got)
	}
	for _, d := range Forecast(r, 3) {
		near(t, "tomorrow", d.TempC, 20, 0)
	}
}

func TestARecipeForABinCoversItsFedSurface(t *testing.T) {
	t.Parallel()
	st := Estimate(steady())
	got := TargetsFor(plainBin(), st, DefaultSettings())
	// 1.0 m by 0.5 m inside the 5 cm margin, 5 cm deep (common practice): 25 L.
	near(t, "cover", got.CoverL, 25, 1e-9)
	if got.MoisturePct != (Band{70, 80}) {
		t.Errorf("drained bin: %+v", got.MoisturePct)
	}
}

func drawRecord(t *rapid.T) Record {
	b := plainBin()
	b.Shape = drawShape(t)
	b.Drained = rapid.Bool().Draw(t, "drained")
	b.SetUpOn = day(rapid.IntRange(-60, 40).Draw(t, "set up"))
	r := Record{AsOf: day(60), Bin: b, Sections: []Section{{ID: "a", Stage: farm.Feeding, StartedOn: day(-60)}}}
	when := rapid.IntRange(-60, 70)
	all := Catalogue()
	for range rapid.IntRange(0, 12).Draw(t, "feedings") {
		r.Feedings = append(r.Feedings, Feeding{day(when.Draw(t, "day")), "a",
			[]Food{{rapid.SampledFrom(all).Draw(t, "food").Key, measure.Grams(rapid.IntRange(0, 9000).Draw(t, "g"))}}})
	}
	for range rapid.IntRange(0, 6).Draw(t, "checks") {
		c := Check{On: day(when.Draw(t, "day")), SqueezeTop: farm.Squeeze(rapid.IntRange(0, 5).Draw(t, "top")),
			SqueezeBottom: farm.Squeeze(rapid.IntRange(0, 5).Draw(t, "bottom")),
			Left:          rapid.SampledFrom([]farm.FoodLeft{"", farm.LeftNone, farm.LeftLittle, farm.LeftHalf, farm.LeftMost}).Draw(t, "left"),
			Smell:         rapid.SampledFrom([]farm.Smell{"", farm.SmellEarth, farm.SmellSour, farm.SmellAmmonia}).Draw(t, "smell")}
		if rapid.Bool().Draw(t, "measured") {
			v := rapid.Float64Range(-5, 40).Draw(t, "°C")
			c.BedC = &v
		}
		r.Checks = append(r.Checks, c)
	}
	for range rapid.IntRange(0, 3).Draw(t, "transfers") {
		r.Transfers = append(r.Transfers, Transfer{day(when.Draw(t, "day")), measure.Grams(rapid.IntRange(-3000, 3000).Draw(t, "g")), sampled})
	}
	return r
}

func ordered(e Estimated) bool {
	return e.P05 >= 0 && e.P05 <= e.P25+1e-9 && e.P25 <= e.P75+1e-9 && e.P75 <= e.P95+1e-9 && e.Mean >= 0
}

func TestAnyRecordGivesASaneState(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecord(t)
		st := Estimate(r)
		for what, e := range map[string]Estimated{"worms": st.Worms, "appetite": st.Appetite.PerDayG, "k": st.Appetite.Rate.K, "castings": st.Castings[0].WetG} {
			if !ordered(e) {
				t.Fatalf("%s out of order: %+v", what, e)
			}
		}
		if st.Backlog.TotalG < 0 || st.FreeMM < 0 || st.MoisturePct < 0 || st.MoisturePct > 100 || st.Appetite.Why == "" {
			t.Fatalf("state %+v", st)
		}
		var fed float64
		for _, f := range r.Feedings {
			if f.On <= r.AsOf {
				fed += float64(f.Food[0].Grams)
			}
		}
		if st.Backlog.TotalG > fed+1e-6 {
			t.Fatalf("%g g lie uneaten of %g g ever fed", st.Backlog.TotalG, fed)
		}
		for _, d := range Forecast(r, 10) {
			for what, e := range map[string]Estimated{"worms": d.WormsG, "appetite": d.AppetiteG, "backlog": d.BacklogG, "room": d.RoomG} {
				if !ordered(e) {
					t.Fatalf("%s of %s out of order: %+v", what, d.Day, e)
				}
			}
		}
		for _, s := range Capacity(r, 14, []int{0, 3, 3, 9, 20, -1}) {
			if s.Grams < 0 || s.Cautious < 0 || s.Cautious > s.Grams || s.Bound == "" {
				t.Fatalf("slot %+v", s)
			}
		}
	})
}
