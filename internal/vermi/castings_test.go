package vermi

import (
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestCastingsFollowTheDryMassBalance(t *testing.T) {
	t.Parallel()
	// Dry-mass balance with the stated loss of 50 ± 10 % of feed solids: 10 kg
	// at 75 % make 4.1667 kg at 70 %.
	near(t, "mid", CastingsG(10000, 75, 0.5, 70), 4166.7, 0.1)
	near(t, "low", CastingsG(10000, 75, DryLossHigh, 70), 3333.3, 0.1)
	near(t, "high", CastingsG(10000, 75, DryLossLow, 70), 5000, 0.1)
	near(t, "all water", CastingsG(10000, 75, 0.5, 100), 0, 0)
	near(t, "loss setting", DefaultSettings().DryLossShare, (DryLossLow+DryLossHigh)/2, 1e-12)
}

func worked(days int, tempC float64) Record {
	r := Record{AsOf: day(days), Bin: plainBin(), Transfers: []Transfer{{day(-1), 1500, weighed}},
		Sections: []Section{{ID: "a", Stage: farm.Maturing, StartedOn: day(0)}, {ID: "b", Stage: farm.Feeding, StartedOn: day(0)}},
		Feedings: []Feeding{{day(0), "a", []Food{{"mixed_kitchen_scraps", 10000}}}}}
	for n := 0; n <= days; n += 10 {
		r.Temps = append(r.Temps, Temp{day(n), tempC, false})
	}
	return r
}

func TestASectionIsReadyAfterItsWorkingDays(t *testing.T) {
	t.Parallel()
	// A vermicompost training guide: 75-90 days; at best temperature the
	// likely day is the 75th.
	ready := Estimate(worked(100, 23)).Ready[0]
	if !ready.Known || !ready.Ready || ready.Likely != day(75) {
		t.Errorf("at 23 °C: %s", ready)
	}
	if !(ready.Early < ready.Likely && ready.Likely < ready.Late) {
		t.Errorf("days out of order: %s", ready)
	}
	cold := Estimate(worked(100, 10)).Ready[0]
	if cold.Ready || (cold.Known && cold.Likely <= ready.Likely) {
		t.Errorf("at 10 °C: %s", cold)
	}
	if other := Estimate(worked(100, 23)).Ready[1]; other.Known {
		t.Errorf("a section never fed: %s", other)
	}
}

func TestHarvestedCastingsAreNotCountedTwice(t *testing.T) {
	t.Parallel()
	r := worked(90, 23)
	full := Estimate(r).Castings[0].WetG
	// Eaten in full, 10 kg at 74 % give 10·0.26·0.5/0.3 = 4.33 kg.
	near(t, "before", full.Mean, 4333, 50)
	if !(full.P05 < full.P25 && full.P25 < full.Mean && full.Mean < full.P75 && full.P75 < full.P95) {
		t.Errorf("interval out of order: %+v", full)
	}
	r.Harvests = []Harvest{{On: day(88), Section: "a", Grams: 2000}}
	near(t, "after", Estimate(r).Castings[0].WetG.Mean, full.Mean-2000, 1)
	r.Harvests = []Harvest{{On: day(88), Section: "a", Grams: measure.Grams(4000), Emptied: true}}
	near(t, "emptied", Estimate(r).Castings[0].WetG.Mean, 0, 0)
}
