package vermi

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

func TestTheMethodPageTellsWhatTheCodeDoes(t *testing.T) {
	t.Parallel()
	raw, err := os.ReadFile("../../docs/method.md")
	if err != nil {
		t.Fatal(err)
	}
	page := strings.Join(strings.Fields(string(raw)), " ")
	want := []string{"`leave_alone`"}
	for _, r := range Rules() {
		want = append(want, "`"+r.Code+"`")
	}
	s := DefaultSettings()
	want = append(want,
		fmt.Sprintf("%g kg/m² a day", s.SurfaceLoadGPerM2Day/1000),
		fmt.Sprintf("margin of %g cm", s.MarginMM/10),
		fmt.Sprintf("| `heat_watch` | %g °C", s.WatchC),
		fmt.Sprintf("| `heat_open` | %g °C", s.OpenC),
		fmt.Sprintf("| `heat_call` | %g °C", s.CallC),
		fmt.Sprintf("| `cold` | bed below %g °C", s.LittleC),
		fmt.Sprintf("| `near_freezing` | bed below %g °C", s.FrostC),
		fmt.Sprintf("no check for %d days", s.CheckEveryDays),
		fmt.Sprintf("not turned for %d days", s.TurnEveryDays),
		fmt.Sprintf("| `crowded` | %g kg/m²", s.CrowdedKgPerM2),
		fmt.Sprintf("| `thin_stock` | below %g kg/m²", s.ThinKgPerM2),
		fmt.Sprintf("ready after %g working days", s.WorkDays),
		fmt.Sprintf("moved %g %% of the way", 100*s.ReanchorWeight),
		fmt.Sprintf("half its say in %d days", fadeDays),
		fmt.Sprintf("doubling in %d days", DoublingDays),
		fmt.Sprintf("%d g/L", foodGPerL))
	for _, species := range []struct {
		name string
		c    Cardinal
	}{{"reckon with", FeedingTemperatures("eisenia")}, {"*Dendrobaena*:", FeedingTemperatures("dendrobaena")}, {"*Perionyx*:", FeedingTemperatures("perionyx")}} {
		want = append(want, fmt.Sprintf("%s %g, %g", species.name, species.c.Min, species.c.Opt))
	}
	for _, drained := range []bool{true, false} {
		b := DefaultTargets(drained)
		want = append(want, fmt.Sprintf("%g–%g %%", b.MoisturePct.Low, b.MoisturePct.High), fmt.Sprintf("C:N %g–%g", b.CarbonToN.Low, b.CarbonToN.High))
	}
	for _, w := range want {
		if !strings.Contains(page, w) {
			t.Errorf("docs/method.md does not say %q", w)
		}
	}
}
