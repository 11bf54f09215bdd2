package service

import (
	"math"
	"reflect"
	"sync"
	"testing"

	"midden/internal/farm"
	"midden/internal/vermi"
)

func anyRecord(asOf vermi.Day) vermi.Record {
	return vermi.Record{AsOf: asOf, Bin: vermi.Bin{Shape: farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 450},
		Method: farm.Batch, Status: farm.BinInUse, SetUpOn: asOf - 100},
		Transfers: []vermi.Transfer{{On: asOf - 100, Grams: 1200, RelSDPermille: farm.WormsWeighed.RelSDPermille()}},
		Feedings:  []vermi.Feeding{{On: asOf - 2, Food: []vermi.Food{{Material: "apples", Grams: 900}}}}}
}

func TestAStateRecalledIsTheStateWorkedOut(t *testing.T) {
	t.Parallel()
	c := &recall{}
	day := vermi.DayOf(2026, 10, 5)
	first := c.state(anyRecord(day))
	if again := c.state(anyRecord(day)); !reflect.DeepEqual(first, again) || len(c.states) != 1 {
		t.Errorf("asked twice, kept %d states", len(c.states))
	}
	fed := anyRecord(day)
	fed.Feedings[0].Food[0].Grams += 500
	if got := c.state(fed); got.Backlog.TotalG <= first.Backlog.TotalG || !reflect.DeepEqual(got, vermi.Estimate(fed)) {
		t.Errorf("another feeding gave the old state")
	}
	nan := math.NaN()
	odd := anyRecord(day)
	odd.Checks = []vermi.Check{{On: day, BedC: &nan}}
	c.state(odd)
	if len(c.states) != 2 {
		t.Errorf("a record that can't be told apart was kept")
	}
}

func TestStatesRecalledAreBounded(t *testing.T) {
	t.Parallel()
	c := &recall{}
	var wg sync.WaitGroup
	for w := range 4 {
		wg.Go(func() {
			for i := range mostRecalled/3 + 10 {
				c.state(vermi.Record{AsOf: vermi.DayOf(2026, 1, 1) + vermi.Day(w*mostRecalled+i),
					Bin: vermi.Bin{Shape: farm.Shape{Kind: farm.Box, LengthMM: 500, WidthMM: 500, DepthMM: 300}}})
			}
		})
	}
	wg.Wait()
	if len(c.states) != mostRecalled || len(c.oldest) != mostRecalled {
		t.Errorf("keeps %d states in an order of %d", len(c.states), len(c.oldest))
	}
}
