package farm_test

import (
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestFoodGoesOnTheFeedingSection(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		method farm.Method
		status farm.BinStatus
		stage  farm.Stage
		want   farm.Code
	}{
		"a wedge's face":              {farm.Wedge, farm.BinInUse, farm.Feeding, ""},
		"a wedge behind its face":     {farm.Wedge, farm.BinInUse, farm.Working, "section.stage"},
		"the top of a flow-through":   {farm.FlowThrough, farm.BinInUse, farm.Feeding, ""},
		"its bottom":                  {farm.FlowThrough, farm.BinInUse, farm.Maturing, "section.stage"},
		"a tray that is worked":       {farm.Trays, farm.BinInUse, farm.Working, "section.stage"},
		"a batch bin while worked":    {farm.Batch, farm.BinInUse, farm.Working, ""},
		"a batch bin that is done":    {farm.Batch, farm.BinInUse, farm.Finished, "section.stage"},
		"a new bin's first feed":      {farm.Wedge, farm.BinSetUp, farm.Feeding, ""},
		"a resting bin, with warning": {farm.Wedge, farm.BinResting, farm.Feeding, ""},
		"a closed bin":                {farm.Wedge, farm.BinClosed, farm.Feeding, "bin.state"},
	} {
		b := farm.Bin{Name: "North", Method: c.method, Status: c.status}
		if got := farm.CodeOf(b.CheckFeed(farm.Section{Name: "face", Stage: c.stage})); got != c.want {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
}

func TestOnlyAcceptedLotsThatHaveComeAreFed(t *testing.T) {
	t.Parallel()
	day := measure.MustDay("2026-10-05")
	for status, want := range map[farm.LotStatus]farm.Code{farm.LotAccepted: "", farm.LotSorted: "", farm.LotReceived: "lot.state", farm.LotRejected: "lot.rejected"} {
		if got := farm.CodeOf(farm.Lot{Status: status, ReceivedOn: day}.MayFeed("/lots/0/lot_id", day)); got != want {
			t.Errorf("%s: got %q, want %q", status, got, want)
		}
	}
	if got := farm.CodeOf(farm.Lot{Status: farm.LotAccepted, ReceivedOn: day}.MayFeed("/lots/0/lot_id", day.Add(-1))); got != "lot.not_yet" {
		t.Errorf("fed before it came: got %q", got)
	}
}
