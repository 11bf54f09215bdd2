package farm_test

import (
	"testing"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

func q(value string, unit measure.Unit) measure.Quantity {
	return measure.Quantity{Value: value, Unit: unit}
}

// faults are the fields that a refusal names.
func faults(err error) map[string]bool {
	out := map[string]bool{}
	if e := farm.AsError(err); e != nil {
		out[e.Field] = true
		for _, m := range e.More {
			out[m.Field] = true
		}
	}
	return out
}

func TestAFiveGallonBucketHoldsNearlyNineteenLitres(t *testing.T) {
	t.Parallel()
	c, err := farm.Container{Name: "blue bucket", Volume: q("5", measure.GallonUS), Tare: q("2", measure.Pound)}.Work()
	if err != nil {
		t.Fatal(err)
	}
	// NIST Handbook 44, Appendix C: 1 gallon is 3.785 411 784 L, 1 lb is 453.592 37 g.
	if c.VolumeML != 18927 || c.TareG != 907 {
		t.Errorf("got %d mL and %d g, want 18927 mL and 907 g", c.VolumeML, c.TareG)
	}
}

func TestAContainerThatMakesNoSenseIsRefused(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		field string
		c     farm.Container
	}{
		{"/name", farm.Container{Name: "", Volume: q("5", measure.Litre)}},
		{"/volume", farm.Container{Name: "tub", Volume: q("5", measure.Kilogram)}},
		{"/volume", farm.Container{Name: "tub", Volume: q("0", measure.Litre)}},
		{"/volume", farm.Container{Name: "tub", Volume: q("11", measure.CubicMetre)}},
		{"/tare", farm.Container{Name: "tub", Volume: q("5", measure.Litre), Tare: q("1", measure.Litre)}},
		{"/tare", farm.Container{Name: "tub", Volume: q("5", measure.Litre), Tare: q("2", measure.ShortTon)}},
	} {
		_, err := x.c.Work()
		if farm.CodeOf(err) != "container.invalid" || !faults(err)[x.field] {
			t.Errorf("%+v: got %v, want container.invalid at %s", x.c, err, x.field)
		}
	}
}

func TestAnAmountTakesWhatItsContainerSays(t *testing.T) {
	t.Parallel()
	bucket, err := farm.Container{ID: uuid.New(), Name: "blue bucket", Volume: q("20", measure.Litre), Tare: q("0.9", measure.Kilogram)}.Work()
	if err != nil {
		t.Fatal(err)
	}
	noTare := bucket
	noTare.Tare = measure.Quantity{}
	density := farm.Figure{Value: 450}
	named := func(e farm.Entered) farm.Entered { e.ContainerID = bucket.ID; return e }
	for name, x := range map[string]struct {
		e     farm.Entered
		in    farm.Container
		net   measure.Grams
		field string
	}{
		"two buckets half full":        {named(farm.Entered{Method: farm.ByContainer, Count: 2, FillPct: 50}), bucket, 9000, ""},
		"weighed in the bucket":        {named(farm.Entered{Method: farm.ByScale, Gross: q("9.4", measure.Kilogram)}), bucket, 8500, ""},
		"weighed with a stated tare":   {named(farm.Entered{Method: farm.ByScale, Gross: q("9.4", measure.Kilogram), Tare: q("1.4", measure.Kilogram)}), noTare, 8000, ""},
		"weighed, tare never noted":    {named(farm.Entered{Method: farm.ByScale, Gross: q("9.4", measure.Kilogram)}), noTare, 0, "/amount/container_id"},
		"two volumes at once":          {named(farm.Entered{Method: farm.ByContainer, Count: 1, FillPct: 100, Each: q("5", measure.Litre)}), bucket, 0, "/amount/container"},
		"an estimate has no container": {named(farm.Entered{Method: farm.ByEstimate, Gross: q("3", measure.Kilogram)}), bucket, 0, "/amount/container_id"},
	} {
		e, err := x.e.In("/amount", x.in)
		var w farm.Weight
		if err == nil {
			w, err = e.Work("/amount", density, farm.DefaultSettings())
		}
		if x.field != "" {
			if farm.CodeOf(err) != "mass.invalid" || !faults(err)[x.field] {
				t.Errorf("%s: got %v, want mass.invalid at %s", name, err, x.field)
			}
			continue
		}
		if err != nil || w.Net != x.net {
			t.Errorf("%s: got %d g, %v; want %d g", name, w.Net, err, x.net)
		}
	}
}

func TestAFaultyAmountNamesItsFieldOnTheWire(t *testing.T) {
	t.Parallel()
	kg, litre := q("3", measure.Kilogram), q("5", measure.Litre)
	tub := farm.Entered{Method: farm.ByContainer, Each: litre, Count: 1, FillPct: 100}
	with := func(e farm.Entered, change func(*farm.Entered)) farm.Entered { change(&e); return e }
	for field, e := range map[string]farm.Entered{
		"/amount/mass":            {Method: farm.ByScale, Gross: litre},
		"/amount/tare":            {Method: farm.ByScale, Gross: kg, Tare: litre},
		"/amount/container":       with(tub, func(e *farm.Entered) { e.Each = kg }),
		"/amount/count":           with(tub, func(e *farm.Entered) { e.Count = 1001 }),
		"/amount/fill_percent":    with(tub, func(e *farm.Entered) { e.FillPct = 101 }),
		"/amount/density_g_per_l": with(tub, func(e *farm.Entered) { e.DensityGPerL = 3000 }),
		"/amount/rel_sd_permille": {Method: farm.ByScale, Gross: kg, RelSDPermille: 2001},
		"/amount/method":          {Method: "guessed", Gross: kg},
		"/amount":                 with(tub, func(e *farm.Entered) { e.Each, e.Count = q("10", measure.CubicMetre), 1000 }),
	} {
		_, err := e.Work("/amount", farm.Figure{Value: 450}, farm.DefaultSettings())
		if farm.CodeOf(err) != "mass.invalid" || !faults(err)[field] {
			t.Errorf("%s: got %v", field, err)
		}
	}
}

func TestAnAmountThatMixesMethodsIsRefused(t *testing.T) {
	t.Parallel()
	kg, litre := q("3", measure.Kilogram), q("5", measure.Litre)
	for field, e := range map[string]farm.Entered{
		"/amount/mass":            {Method: farm.ByContainer, Each: litre, Count: 1, FillPct: 100, Gross: kg},
		"/amount/tare":            {Method: farm.ByEstimate, Gross: kg, Tare: kg},
		"/amount/container":       {Method: farm.ByScale, Gross: kg, Each: litre},
		"/amount/count":           {Method: farm.ByScale, Gross: kg, Count: 2},
		"/amount/fill_percent":    {Method: farm.ByScale, Gross: kg, FillPct: 50},
		"/amount/density_g_per_l": {Method: farm.ByEstimate, Gross: kg, DensityGPerL: 450},
	} {
		_, err := e.Work("/amount", farm.Figure{Value: 450}, farm.DefaultSettings())
		if farm.CodeOf(err) != "mass.invalid" || len(faults(err)) != 1 || !faults(err)[field] {
			t.Errorf("%s: got %v", field, err)
		}
	}
}
