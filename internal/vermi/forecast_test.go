package vermi

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestAForecastIsTheSameTwice(t *testing.T) {
	t.Parallel()
	a, b := Forecast(steady(), 28), Forecast(steady(), 28)
	if len(a) != 28 || a[0].Day != day(101) || a[27].Day != day(128) {
		t.Fatalf("%d days from %s", len(a), a[0].Day)
	}
	if !reflect.DeepEqual(a, b) {
		t.Error("the same record gave two forecasts")
	}
	if Forecast(steady(), 0) != nil {
		t.Error("no days, no forecast")
	}
}

func TestAnUnfedBinClearsItsFoodAndDoubtGrows(t *testing.T) {
	t.Parallel()
	f := Forecast(steady(), 28)
	for i := 1; i < len(f); i++ {
		if f[i].BacklogG.Mean > f[i-1].BacklogG.Mean {
			t.Errorf("%s: backlog grew to %g g with nothing fed", f[i].Day, f[i].BacklogG.Mean)
		}
	}
	width := func(e Estimated) float64 { return (e.P95 - e.P05) / e.Mean }
	if width(f[27].WormsG) <= width(f[0].WormsG) {
		t.Error("the stock in four weeks is as sure as tomorrow's")
	}
}

func TestPlannedFeedingsShowInTheForecast(t *testing.T) {
	t.Parallel()
	r := steady()
	r.Feedings = append(r.Feedings, Feeding{day(105), "bed", []Food{{"vegetable_trimmings", 2000}}})
	with, without := Forecast(r, 10), Forecast(steady(), 10)
	for i := range with {
		more := with[i].BacklogG.Mean > without[i].BacklogG.Mean+1
		if planned := with[i].Day > day(105); more != planned {
			t.Errorf("%s: backlog %g g against %g g", with[i].Day, with[i].BacklogG.Mean, without[i].BacklogG.Mean)
		}
	}
}

func TestAColdForecastEatsLess(t *testing.T) {
	t.Parallel()
	at := func(c float64) ForecastDay {
		r := steady()
		r.Expected = []float64{c}
		return Forecast(r, 14)[13]
	}
	cold, mild, hot := at(8), at(20), at(31)
	if !(cold.AppetiteG.Mean < mild.AppetiteG.Mean && cold.Bound == BoundTemperature) {
		t.Errorf("cold %+v", cold)
	}
	if hot.RoomG.Mean != 0 || hot.Bound != BoundHeat {
		t.Errorf("no feed in the heat: %+v", hot)
	}
}

// The simulation is the outside witness: a bin simulated with k and weather
// the estimator is not told of must end where the estimate says.
func TestEstimatesFollowASimulatedBin(t *testing.T) {
	t.Parallel()
	inside, total := 0, 0
	for _, k := range []float64{0.25, 0.35, 0.45} {
		for _, worms := range []float64{600, 1200} {
			r, sim := simulatedRecord(k, worms, 12, measure.Grams(worms*k*6))
			st := Estimate(r)
			total++
			if sim.WormG >= st.Worms.P05*0.9 && sim.WormG <= st.Worms.P95*1.1 {
				inside++
			}
			// The week after, unfed.
			f := Forecast(r, 7)
			for range 7 {
				sim = Step(sim, Weather{21}, Fed{})
			}
			near(t, "uneaten after a week", f[6].BacklogG.Mean, sim.UneatenG(), 0.3*worms*k*6)
		}
	}
	if inside < total-1 {
		t.Errorf("stock inside its 90 %% in %d of %d", inside, total)
	}
}

func TestCapacityCoversTheDaysToTheNextVisit(t *testing.T) {
	t.Parallel()
	r := steady()
	slots := Capacity(r, 14, []int{12, 2, 5})
	if len(slots) != 3 || slots[0].Offset != 2 || slots[2].Day != day(112) {
		t.Fatalf("slots %+v", slots)
	}
	perDay := Forecast(r, 6)[5].AppetiteG.Mean
	// By day 5 the backlog of today is gone and the first slot eaten up.
	near(t, "a week's feed", float64(slots[1].Grams), 7*perDay, 0.25*7*perDay)
	if slots[1].Cautious >= slots[1].Grams || slots[1].Cautious <= 0 {
		t.Errorf("cautious %d of %d", slots[1].Cautious, slots[1].Grams)
	}
	// A long gap is never answered with a double feed (common practice).
	long := Capacity(r, 28, []int{5})
	if float64(long[0].Grams) > 7.5*perDay {
		t.Errorf("%d g for three weeks", long[0].Grams)
	}
	if Capacity(r, 14, nil) != nil {
		t.Error("no visits, no slots")
	}
}

func TestNothingIsFedToABinThatRests(t *testing.T) {
	t.Parallel()
	for _, s := range []farm.BinStatus{farm.BinResting, farm.BinQuarantine, farm.BinClosed} {
		r := steady()
		r.Bin.Status = s
		for _, slot := range Capacity(r, 14, []int{0, 7}) {
			if slot.Grams != 0 || slot.Bound != BoundStatus {
				t.Errorf("%s: %+v", s, slot)
			}
		}
	}
	hot := 31.0
	r := steady()
	r.Checks = append(slices.Clone(r.Checks), Check{On: day(100), HotC: &hot})
	if s := Capacity(r, 14, []int{0, 7}); s[0].Grams != 0 || s[0].Bound != BoundHeat || s[1].Grams == 0 {
		t.Errorf("a hot spot stops today's feed, not next week's: %+v", s)
	}
	full := steady()
	full.Checks = append(slices.Clone(full.Checks), Check{On: day(100), Sections: []SectionLook{{"bed", 370, ""}}})
	if s := Capacity(full, 14, []int{0}); s[0].Grams != 0 || s[0].Bound != BoundDepth {
		t.Errorf("no depth, no feed: %+v", s)
	}
}

func TestABinFullOfFoodHasNoRoom(t *testing.T) {
	t.Parallel()
	r := steady()
	r.Feedings = append(r.Feedings, Feeding{day(100), "bed", []Food{{"citrus_peel", 20000}}})
	s := Capacity(r, 7, []int{0})
	if s[0].Grams != 0 {
		t.Errorf("20 kg lie there: %+v", s[0])
	}
	for _, c := range s[0].Caps {
		if c.Group == farm.Citrus && c.Pct != 0 {
			t.Errorf("citrus lies uneaten, yet %g %% more may come", c.Pct)
		}
	}
	for i, c := range GroupCaps() {
		if c.Group != farm.Groups[i] || c.Pct <= 0 || c.Pct > 100 || c.Source == "" {
			t.Errorf("cap %+v", c)
		}
		// Gonzalez-Moreno et al. 2020: coffee grounds at most about 25 % of the mix.
		if c.Group == farm.Coffee && c.Pct != 25 {
			t.Errorf("coffee %g %%", c.Pct)
		}
	}
}

func TestANewBinIsFedAQuarterAtFirst(t *testing.T) {
	t.Parallel()
	r := Record{AsOf: day(6), Bin: plainBin(), Transfers: []Transfer{{day(0), 1000, weighed}}}
	r.Bin.SetUpOn = day(0)
	fresh := Estimate(r).Appetite.PerDayG.Mean
	r.Bin.SetUpOn = day(-200)
	near(t, "share", fresh/Estimate(r).Appetite.PerDayG.Mean, 0.25, 0.03)
	r.Bin.SetUpOn = day(5)
	near(t, "first days", Estimate(r).Appetite.PerDayG.Mean, 0, 0)
}

func TestASplitLeavesThePublishedDensity(t *testing.T) {
	t.Parallel()
	r := steady()
	r.Weighings = []WormWeighing{{day(100), 3600, weighed}}
	st := Estimate(r)
	split, ok := SplitAdvice(st, DefaultSettings())
	if !ok {
		t.Fatal("3.6 kg on 0.66 m² is crowded")
	}
	// Ndegwa et al. 2000: 1.60 kg/m².
	left := split.LeaveG / 1000 / st.SurfaceM2
	if left < 1.59 {
		t.Errorf("leaves %g kg/m²", left)
	}
	near(t, "all worms", split.MoveG+split.LeaveG, st.Worms.Mean, 1e-6)
	if math.IsNaN(split.MoveG) || split.MoveG > st.Worms.Mean*2/3+1e-6 {
		t.Errorf("moves %g g", split.MoveG)
	}
}
