package farm_test

import (
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func TestABinIsCaredForByItsKeepersTheirStandInsAndCoordinators(t *testing.T) {
	t.Parallel()
	day := measure.MustDay("2026-10-20")
	keeper := farm.Member{ID: uuid.New(), Role: farm.Keeper, Active: true}
	other := farm.Member{ID: uuid.New(), Role: farm.Keeper, Active: true}
	bin := farm.Bin{Name: "North wedge", Keepers: []uuid.UUID{keeper.ID}}
	cover := farm.Cover{KeeperID: keeper.ID, StandInID: other.ID, Days: measure.DayRange{Start: day, End: day.Add(3)}}
	of := func(role farm.Role, m farm.Member) farm.Member { m.Role = role; return m }
	for name, c := range map[string]struct {
		who    farm.Member
		covers []farm.Cover
		on     measure.Day
		want   farm.Code
	}{
		"its keeper":                      {keeper, nil, day, ""},
		"a coordinator":                   {farm.Member{ID: uuid.New(), Role: farm.Coordinator}, nil, day, ""},
		"another keeper":                  {other, nil, day, "bin.not_yours"},
		"a stand-in on the first day":     {other, []farm.Cover{cover}, day, ""},
		"a stand-in on the last day":      {other, []farm.Cover{cover}, day.Add(2), ""},
		"a stand-in the day after":        {other, []farm.Cover{cover}, day.Add(3), "bin.not_yours"},
		"a stand-in the day before":       {other, []farm.Cover{cover}, day.Add(-1), "bin.not_yours"},
		"the keeper while covered":        {keeper, []farm.Cover{cover}, day, ""},
		"somebody else's stand-in":        {farm.Member{ID: uuid.New(), Role: farm.Keeper}, []farm.Cover{cover}, day, "bin.not_yours"},
		"a stand-in for another keeper":   {other, []farm.Cover{{KeeperID: uuid.New(), StandInID: other.ID, Days: cover.Days}}, day, "bin.not_yours"},
		"a keeper who became a donor":     {of(farm.Donor, keeper), nil, day, "bin.not_yours"},
		"a stand-in who became a donor":   {of(farm.Donor, other), []farm.Cover{cover}, day, "bin.not_yours"},
		"an observer named among keepers": {of(farm.Observer, keeper), nil, day, "bin.not_yours"},
	} {
		if got := farm.CodeOf(farm.MayCareFor(c.who, bin, c.covers, c.on)); got != c.want {
			t.Errorf("%s: got %q, want %q", name, got, c.want)
		}
	}
}

func TestACoverNamesTwoPeopleWhoCareForBins(t *testing.T) {
	t.Parallel()
	keeper := farm.Member{ID: uuid.New(), Role: farm.Keeper, Active: true}
	standIn := farm.Member{ID: uuid.New(), Role: farm.Coordinator, Active: true}
	day := measure.MustDay("2026-10-20")
	good := farm.Cover{KeeperID: keeper.ID, StandInID: standIn.ID, Days: measure.DayRange{Start: day, End: day.Add(14)}}
	if err := good.Validate(keeper, standIn); err != nil {
		t.Fatal(err)
	}
	gone, donor := standIn, standIn
	gone.Active, donor.Role = false, farm.Donor
	for field, try := range map[string]func() error{
		"/stand_in_member_id": func() error { return good.Validate(keeper, donor) },
		"/keeper_member_id":   func() error { return good.Validate(donor, standIn) },
		"/to": func() error {
			c := good
			c.Days.End = c.Days.Start
			return c.Validate(keeper, standIn)
		},
	} {
		e := farm.AsError(try())
		if e == nil || e.Code != "cover.invalid" || e.Field != field {
			t.Errorf("%s: got %v", field, e)
		}
	}
	if good.Validate(keeper, gone) == nil {
		t.Error("a stand-in who left must be refused")
	}
	self := good
	self.StandInID = keeper.ID
	if self.Validate(keeper, keeper) == nil {
		t.Error("a keeper can't stand in for themselves")
	}
}
