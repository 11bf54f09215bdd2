package farm_test

import (
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func day(t testing.TB, s string) measure.Day {
	t.Helper()
	d, err := measure.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestAStageMovesForwardOnlyUnlessTheSectionWasEmptied(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		from := rapid.IntRange(0, 3).Draw(rt, "from")
		to := rapid.IntRange(0, 3).Draw(rt, "to")
		emptied := rapid.Bool().Draw(rt, "emptied")
		s := farm.Section{Name: "s", Stage: farm.Stages[from], StartedOn: day(t, "2026-01-10")}
		if emptied {
			s.EmptiedOn = day(t, "2026-04-01")
		}
		got, err := s.MoveTo(farm.Stages[to], day(t, "2026-04-01"))
		switch {
		case to >= from:
			if err != nil || got.Stage != farm.Stages[to] {
				rt.Fatalf("%v to %v: %v", s.Stage, farm.Stages[to], err)
			}
		case to == 0 && emptied:
			if err != nil || got.StartedOn != s.EmptiedOn || got.Empty() {
				rt.Fatalf("the turn-round gave %+v, %v", got, err)
			}
			if _, err := (farm.Section{Stage: farm.Finished, StartedOn: got.StartedOn, EmptiedOn: got.EmptiedOn}).MoveTo(farm.Feeding, got.StartedOn); farm.CodeOf(err) != "section.stage" {
				rt.Fatalf("begun twice after one emptying: %v", err)
			}
		default:
			if farm.CodeOf(err) != "section.stage" {
				rt.Fatalf("%v back to %v: %v", s.Stage, farm.Stages[to], err)
			}
		}
	})
}

func TestRecordedWormsHoldTheirBinsSpeciesAndKeepItOpen(t *testing.T) {
	t.Parallel()
	b := farm.Bin{Name: "One", Species: farm.Eisenia, Status: farm.BinInUse}
	other, closed := b, b
	other.Species, closed.Status = farm.Perionyx, farm.BinClosed
	for _, c := range []struct {
		next     farm.Bin
		recorded bool
		grams    measure.Grams
		code     farm.Code
	}{
		{other, false, 0, ""}, {other, true, 0, "bin.state"}, {closed, true, 0, ""}, {closed, true, 1, "bin.state"}, {b, true, 500, ""},
	} {
		if got := farm.CodeOf(b.CheckChange(c.next, c.recorded, c.grams)); got != c.code {
			t.Errorf("%+v: %q, want %q", c, got, c.code)
		}
	}
}

func TestAClosedBinGetsNoSections(t *testing.T) {
	t.Parallel()
	b := farm.Bin{Name: "One", Method: farm.Wedge, Status: farm.BinClosed}
	if got := farm.CodeOf(b.AddSection(farm.Section{ID: uuid.New(), Stage: farm.Working}, nil)); got != "bin.state" {
		t.Errorf("got %q", got)
	}
}
