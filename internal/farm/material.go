package farm

import (
	"regexp"
	"time"
)

// MaterialOverride is what a garden says about a material: its own figures for
// one of the catalogue, or a material of its own. nil leaves the published
// value; what was published stays visible beside it.
type MaterialOverride struct {
	Key           string       `json:"-"`
	Name          *string      `json:"name,omitempty"`
	Use           *MaterialUse `json:"use,omitempty"`
	Group         *Group       `json:"group,omitempty"`
	NitrogenPct   *float64     `json:"nitrogen_pct,omitempty"`
	CarbonToN     *float64     `json:"carbon_to_n,omitempty"`
	MoisturePct   *float64     `json:"moisture_pct,omitempty"`
	DensityGPerL  *float64     `json:"density_g_per_l,omitempty"`
	ShelfLifeDays *int         `json:"shelf_life_days,omitempty"`
	Freezable     *bool        `json:"freezable,omitempty"`
	Caution       *string      `json:"caution,omitempty"`
	Note          string       `json:"note,omitempty"` // where the garden's figures come from
	UpdatedAt     time.Time    `json:"-"`
	Version       int          `json:"-"`
}

// KnownMaterial is a material as a garden works with it. Published is nil for
// a material of the garden's own; Override is nil when the garden says nothing.
type KnownMaterial struct {
	Material
	Published *Material
	Override  *MaterialOverride
}

var materialKey = regexp.MustCompile(`^[a-z][a-z0-9_]{0,39}$`)

// Validate refuses with material.invalid. A material of the garden's own must
// have a name, a use, nitrogen, C:N, moisture and bulk density.
func (o MaterialOverride) Validate(published bool) error {
	var f Faults
	if !materialKey.MatchString(o.Key) {
		f.Add("material.invalid", "/key", "key: must be a lower-case word such as apple_pulp; got %s", quoteShort(o.Key))
	}
	if !published {
		for _, need := range []struct {
			field string
			there bool
		}{{"name", o.Name != nil}, {"use", o.Use != nil}, {"nitrogen_percent", o.NitrogenPct != nil},
			{"carbon_to_nitrogen", o.CarbonToN != nil}, {"moisture_percent", o.MoisturePct != nil}, {"density_g_per_l", o.DensityGPerL != nil}} {
			if !need.there {
				f.Add("material.invalid", "/"+need.field, "%s: a material of the garden's own needs one", need.field)
			}
		}
	}
	if o.Name != nil {
		f.Keep(CheckName("material.invalid", "/name", *o.Name, 120))
	}
	if o.Use != nil && *o.Use != ScrapUse && *o.Use != BeddingUse {
		f.Add("material.invalid", "/use", "use: must be scrap or bedding; got %q", *o.Use)
	}
	if o.Group != nil && !oneOf(*o.Group, Groups) {
		f.Add("material.invalid", "/group", "group: must be one of %v; got %q", Groups, *o.Group)
	}
	within := func(field string, v *float64, low, high float64, unit string) {
		if v != nil && !(*v >= low && *v <= high) {
			f.Add("material.invalid", "/"+field, "%s: must be between %g and %g%s; got %g", field, low, high, unit, *v)
		}
	}
	within("nitrogen_percent", o.NitrogenPct, 0.01, 20, " %")
	within("carbon_to_nitrogen", o.CarbonToN, 1, 1000, "")
	within("moisture_percent", o.MoisturePct, 0, 99, " %")
	within("density_g_per_l", o.DensityGPerL, 10, 2000, " g/L")
	if o.ShelfLifeDays != nil && (*o.ShelfLifeDays < 0 || *o.ShelfLifeDays > 3650) {
		f.Add("material.invalid", "/shelf_life_days", "shelf_life_days: must be between 0 and 3650; got %d", *o.ShelfLifeDays)
	}
	if o.Caution != nil {
		f.Keep(CheckText("material.invalid", "/caution", *o.Caution, 1000))
	}
	f.Keep(CheckText("material.invalid", "/note", o.Note, 1000))
	return f.Err()
}

// Apply gives the material with the garden's figures in place of the published.
func (o MaterialOverride) Apply(m Material) Material {
	m.Key = o.Key
	put(&m.Name, o.Name)
	put(&m.Use, o.Use)
	put(&m.Group, o.Group)
	put(&m.ShelfLifeDays, o.ShelfLifeDays)
	put(&m.Freezable, o.Freezable)
	put(&m.Caution, o.Caution)
	source := o.Note
	if source == "" {
		source = "set by this garden"
	}
	figure := func(to *Figure, v *float64) {
		if v != nil {
			*to = Figure{Value: *v, Low: *v, High: *v, Source: source, Trust: TrustGarden}
		}
	}
	figure(&m.NitrogenPct, o.NitrogenPct)
	figure(&m.CarbonToN, o.CarbonToN)
	figure(&m.MoisturePct, o.MoisturePct)
	figure(&m.DensityGPerL, o.DensityGPerL)
	if m.Group == "" {
		m.Group = Plain
	}
	return m
}

// Empty tells whether the garden says nothing: every figure is the published one.
func (o MaterialOverride) Empty() bool {
	return o.Name == nil && o.Use == nil && o.Group == nil && o.NitrogenPct == nil && o.CarbonToN == nil && o.MoisturePct == nil &&
		o.DensityGPerL == nil && o.ShelfLifeDays == nil && o.Freezable == nil && o.Caution == nil
}

func put[T any](to *T, v *T) {
	if v != nil {
		*to = *v
	}
}
