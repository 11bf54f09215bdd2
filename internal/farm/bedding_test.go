package farm_test

import (
	"testing"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Common practice, no source: aged 2 to 3 weeks, cooled to the room, like a
// wrung sponge, no sour smell.
func TestBeddingIsReadyWhenCooledDampAndSweet(t *testing.T) {
	t.Parallel()
	good := farm.BeddingLook{TempC: 17, RoomC: 16, Squeeze: 3, Smell: farm.SmellEarth}
	for name, c := range map[string]struct {
		change func(*farm.BeddingLook)
		ready  bool
	}{
		"one degree over the room":   {func(*farm.BeddingLook) {}, true},
		"without a smell":            {func(l *farm.BeddingLook) { l.Smell = farm.SmellNothing }, true},
		"more than a degree over":    {func(l *farm.BeddingLook) { l.TempC = 17.1 }, false},
		"crumbly":                    {func(l *farm.BeddingLook) { l.Squeeze = 2 }, false},
		"dripping":                   {func(l *farm.BeddingLook) { l.Squeeze = 4 }, false},
		"sour":                       {func(l *farm.BeddingLook) { l.Smell = farm.SmellSour }, false},
		"smelling of ammonia":        {func(l *farm.BeddingLook) { l.Smell = farm.SmellAmmonia }, false},
		"colder than the room, damp": {func(l *farm.BeddingLook) { l.TempC = 5 }, true},
	} {
		l := good
		c.change(&l)
		if l.Ready() != c.ready {
			t.Errorf("%s: ready %t, want %t", name, l.Ready(), c.ready)
		}
	}
}

func TestABatchIsReadyWhenAgedAndLookedAt(t *testing.T) {
	t.Parallel()
	s := farm.DefaultSettings()
	started := measure.MustDay("2026-10-05")
	b := farm.BeddingBatch{ReadyOn: s.BeddingReadyOn(started, false)}
	if b.ReadyOn != measure.MustDay("2026-10-19") {
		t.Fatalf("ready on %s, want 14 days on", b.ReadyOn)
	}
	good := farm.BeddingLook{TempC: 16, RoomC: 16, Squeeze: 3, Smell: farm.SmellEarth}
	sour := good
	sour.Smell = farm.SmellSour
	for name, c := range map[string]struct {
		looks []farm.BeddingLook
		on    measure.Day
		ready bool
		from  measure.Day
	}{
		"aged and looked at":    {[]farm.BeddingLook{sour, good}, b.ReadyOn.Add(3), true, b.ReadyOn.Add(3)},
		"looked at too early":   {[]farm.BeddingLook{good}, b.ReadyOn.Add(-2), false, b.ReadyOn},
		"ageing still":          {nil, b.ReadyOn.Add(-7), false, b.ReadyOn},
		"aged, never looked at": {nil, b.ReadyOn.Add(7), false, b.ReadyOn.Add(8)},
		"turned sour since":     {[]farm.BeddingLook{good, sour}, b.ReadyOn, false, b.ReadyOn.Add(1)},
	} {
		b.Looks = c.looks
		if b.Ready(c.on) != c.ready || b.ReadyFrom(c.on) != c.from {
			t.Errorf("%s: ready %t, from %s; want %t, %s", name, b.Ready(c.on), b.ReadyFrom(c.on), c.ready, c.from)
		}
	}
	wrung := farm.BeddingBatch{StandIn: true, ReadyOn: s.BeddingReadyOn(started, true)}
	if !wrung.Ready(started) || wrung.ReadyOn != started {
		t.Error("soaked and wrung-out bedding is usable at once")
	}
}

func TestALitreOfWaterIsAKilogram(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		q    measure.Quantity
		want measure.Grams
		code farm.Code
	}{
		{measure.Quantity{Value: "12.5", Unit: measure.Litre}, 12500, ""},
		{measure.Quantity{Value: "12.5", Unit: measure.Kilogram}, 12500, ""},
		{measure.Quantity{}, 0, ""},
		{measure.Quantity{Value: "x", Unit: measure.Litre}, 0, "bedding.invalid"},
		{measure.Quantity{Value: "3", Unit: measure.CubicMetre}, 0, "bedding.invalid"},
	} {
		got, err := farm.WaterMass(c.q)
		if farm.CodeOf(err) != c.code || c.code == "" && got != c.want {
			t.Errorf("%+v: got %d g, %v", c.q, got, err)
		}
	}
}
