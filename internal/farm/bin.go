package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// Ventilation is how air gets into a bin.
type Ventilation string

// Kinds of ventilation.
const (
	AirNone  Ventilation = "none"
	AirHoles Ventilation = "holes"
	AirMesh  Ventilation = "mesh"
	AirOpen  Ventilation = "open"
)

// Ventilations lists the kinds of ventilation.
var Ventilations = []Ventilation{AirNone, AirHoles, AirMesh, AirOpen}

// Methods lists the methods of keeping.
var Methods = []Method{Wedge, Windrow, FlowThrough, Trays, Batch}

// BinStatuses lists the states of a bin.
var BinStatuses = []BinStatus{BinSetUp, BinInUse, BinResting, BinQuarantine, BinClosed}

// Stages lists the stages of a section.
var Stages = []Stage{Feeding, Working, Maturing, Finished}

// SpeciesGroups lists the species groups.
var SpeciesGroups = []Species{Eisenia, Dendrobaena, Perionyx, MixedSpecies}

// SetUp is the checklist of a new bin: 15 to 20 cm of aged damp bedding, a few
// days at room temperature, grit, worms laid on top under light, a first small
// feed after 3 to 7 days (common practice, no source).
type SetUp struct {
	BeddingLaidOn  measure.Day // zero: not done yet
	BeddingDepthMM int         // 0: not measured
	GritAdded      bool
	WormsLaidOn    measure.Day
	FirstFeedOn    measure.Day
}

// Bin is a worm bin. What is in it is the ledger's to say.
type Bin struct {
	ID          uuid.UUID
	Name        string
	SiteID      uuid.UUID
	Method      Method
	Shape       Shape
	Drained     bool // has a way for liquid to run off
	Lidded      bool
	Ventilation Ventilation
	Species     Species
	Status      BinStatus
	SetUp       SetUp
	Note        string
	Keepers     []uuid.UUID // members who care for it, in order of id
	CreatedAt   time.Time
	Version     int
}

// Validate refuses with bin.invalid.
func (b Bin) Validate() error {
	var f Faults
	f.Keep(CheckName("bin.invalid", "/name", b.Name, 120))
	f.Keep(CheckText("bin.invalid", "/note", b.Note, 2000))
	choice(&f, "/method", b.Method, Methods)
	choice(&f, "/ventilation", b.Ventilation, Ventilations)
	choice(&f, "/species", b.Species, SpeciesGroups)
	choice(&f, "/status", b.Status, BinStatuses)
	b.Shape.check(&f)
	if (b.Method == Trays) != (b.Shape.Kind == Stack) {
		f.Add("bin.invalid", "/shape/kind", "shape: stacked trays have the shape stack, and only they; got %s with %s", b.Method, b.Shape.Kind)
	}
	s := b.SetUp
	if !s.WormsLaidOn.IsZero() && s.WormsLaidOn.Before(s.BeddingLaidOn) {
		f.Add("bin.invalid", "/set_up/worms_laid_on", "worms_laid_on: must not be before the bedding, %s; got %s", s.BeddingLaidOn, s.WormsLaidOn)
	}
	if !s.FirstFeedOn.IsZero() && s.FirstFeedOn.Before(s.WormsLaidOn) {
		f.Add("bin.invalid", "/set_up/first_feed_on", "first_feed_on: must not be before the worms, %s; got %s", s.WormsLaidOn, s.FirstFeedOn)
	}
	return f.Err()
}

func choice[T ~string](f *Faults, field string, v T, list []T) {
	if !oneOf(v, list) {
		f.Add("bin.invalid", field, "%s: must be one of %v; got %q", field[1:], list, string(v))
	}
}

func (s Shape) check(f *Faults) {
	need := func(field string, mm, low, high int) {
		if mm < low || mm > high {
			f.Add("bin.invalid", "/shape/"+field, "%s: must be between %d and %d mm for a %s; got %d", field, low, high, s.Kind, mm)
		}
	}
	none := func(field string, v int) {
		if v != 0 {
			f.Add("bin.invalid", "/shape/"+field, "%s: a %s has none; leave it out", field, s.Kind)
		}
	}
	switch s.Kind {
	case Box, Stack:
		need("length_mm", s.LengthMM, 50, 50_000)
		need("width_mm", s.WidthMM, 50, 20_000)
		need("depth_mm", s.DepthMM, 50, 5_000)
		none("radius_mm", s.RadiusMM)
	case Trough:
		need("length_mm", s.LengthMM, 50, 50_000)
		need("radius_mm", s.RadiusMM, 50, 5_000)
		none("width_mm", s.WidthMM)
		none("depth_mm", s.DepthMM)
	case Cylinder:
		need("radius_mm", s.RadiusMM, 50, 5_000)
		need("depth_mm", s.DepthMM, 50, 5_000)
		none("length_mm", s.LengthMM)
		none("width_mm", s.WidthMM)
	default:
		f.Add("bin.invalid", "/shape/kind", "kind: must be box, trough, cylinder or stack; got %q", string(s.Kind))
		return
	}
	if s.Kind != Stack {
		none("count", s.Count)
	} else if s.Count < 1 || s.Count > 20 {
		f.Add("bin.invalid", "/shape/count", "count: a stack has 1 to 20 boxes; got %d", s.Count)
	}
}

// Section is a stretch of a bin.
type Section struct {
	ID        uuid.UUID
	BinID     uuid.UUID
	Name      string
	Position  int // along a wedge, 0 the finished end; up a stack, 0 the lowest; flow-through, 0 the bottom
	Stage     Stage
	StartedOn measure.Day // feeding began; zero: not noted
	EmptiedOn measure.Day // zero: never
	CreatedAt time.Time
	Version   int
}

// Validate refuses with section.invalid.
func (s Section) Validate() error {
	var f Faults
	f.Keep(CheckName("section.invalid", "/name", s.Name, 80))
	if s.Position < 0 || s.Position > 1000 {
		f.Add("section.invalid", "/position", "position: must be between 0 and 1000; got %d", s.Position)
	}
	if !oneOf(s.Stage, Stages) {
		f.Add("section.invalid", "/stage", "stage: must be one of %v; got %q", Stages, string(s.Stage))
	}
	return f.Err()
}

// FirstSections names the sections that a bin of this method begins with, from
// position 0 on, and their stages. A wedge begins with one feeding section at
// its end; a flow-through is fed at the top and harvested at the bottom.
func (b Bin) FirstSections() []Section {
	one := func(name string, position int, stage Stage) Section {
		return Section{BinID: b.ID, Name: name, Position: position, Stage: stage, CreatedAt: b.CreatedAt}
	}
	switch b.Method {
	case FlowThrough:
		return []Section{one("bottom", 0, Maturing), one("top", 1, Feeding)}
	case Trays:
		return []Section{one("tray 1", 0, Feeding)}
	case Wedge:
		return []Section{one("feeding face", 0, Feeding)}
	case Windrow:
		return []Section{one("row", 0, Feeding)}
	}
	return []Section{one("bed", 0, Feeding)}
}

// CheckHarvest refuses with harvest.stage a harvest from where food is still
// being worked: the feeding section of a wedge, a windrow or a tray stack, and
// the top of a flow-through. A batch bin has one section and may be harvested
// when it is emptied.
func (b Bin) CheckHarvest(s Section) error {
	switch b.Method {
	case Batch:
		return nil
	case FlowThrough:
		if s.Stage == Feeding {
			return Refuse("harvest.stage", "/section_id", "section_id: a flow-through is harvested at the bottom; %s is fed", s.Name)
		}
		return nil
	}
	if s.Stage == Feeding {
		return Refuse("harvest.stage", "/section_id", "section_id: %s is the feeding section; harvest a maturing or finished one", s.Name)
	}
	return nil
}

// CheckFeed refuses with bin.state a bin that takes no food and with
// section.stage a section that is not fed: food goes on the feeding section
// alone, and in a batch bin also while it is worked.
func (b Bin) CheckFeed(s Section) error {
	if b.Status == BinClosed {
		return Refuse("bin.state", "/bin_id", "bin_id: %s is closed", b.Name)
	}
	if s.Stage != Feeding && (b.Method != Batch || s.Stage != Working) {
		return Refuse("section.stage", "/section_id", "section_id: %s is %s; feed a feeding section", s.Name, s.Stage)
	}
	return nil
}

// Keeps tells whether the member is one of the bin's keepers.
func (b Bin) Keeps(member uuid.UUID) bool {
	for _, k := range b.Keepers {
		if k == member {
			return true
		}
	}
	return false
}

// CheckChange refuses with bin.state what the worms in a bin forbid: another
// species once worms were recorded, and closing it while the books hold some.
func (b Bin) CheckChange(next Bin, wormsRecorded bool, worms measure.Grams) error {
	var f Faults
	if next.Species != b.Species && wormsRecorded {
		f.Add("bin.state", "/species", "species: worms are recorded in %s as %s; move them to a bin of their own", b.Name, b.Species)
	}
	if next.Status == BinClosed && b.Status != BinClosed && worms > 0 {
		f.Add("bin.state", "/status", "status: the books hold %d g of worms in %s; move them before it is closed", worms, b.Name)
	}
	return f.Err()
}
