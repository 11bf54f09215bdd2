package farm

// Method is how a bin works its food.
type Method string

// Methods of keeping.
const (
	Wedge       Method = "wedge"
	Windrow     Method = "windrow"
	FlowThrough Method = "flow_through"
	Trays       Method = "stacked_trays"
	Batch       Method = "batch"
)

// Valid tells whether m is a known method.
func (m Method) Valid() bool {
	switch m {
	case Wedge, Windrow, FlowThrough, Trays, Batch:
		return true
	}
	return false
}

// ShapeKind is the form of a bin's inside.
type ShapeKind string

// The four shapes.
const (
	Box      ShapeKind = "box"
	Trough   ShapeKind = "trough"   // half-cylinder lying on its side
	Cylinder ShapeKind = "cylinder" // upright
	Stack    ShapeKind = "stack"    // boxes one on another
)

// Shape is a bin's inner form. Lengths in millimetres. Box: LengthMM,
// WidthMM, DepthMM. Trough: LengthMM, RadiusMM (depth is the radius).
// Cylinder: RadiusMM, DepthMM. Stack: LengthMM, WidthMM, DepthMM of one box,
// and Count boxes.
type Shape struct {
	Kind     ShapeKind
	LengthMM int
	WidthMM  int
	DepthMM  int
	RadiusMM int
	Count    int
}

// BinStatus is where a bin stands in its life.
type BinStatus string

// States of a bin.
const (
	BinSetUp      BinStatus = "being_set_up"
	BinInUse      BinStatus = "in_use"
	BinResting    BinStatus = "resting"
	BinQuarantine BinStatus = "quarantine"
	BinClosed     BinStatus = "closed"
)

// Stage is how far the food of a section has come.
type Stage string

// Stages of a section.
const (
	Feeding  Stage = "feeding"
	Working  Stage = "working"
	Maturing Stage = "maturing"
	Finished Stage = "finished"
)

// Species is a species group of worms; a ledger substance of its own.
type Species string

// Species groups kept in bins. Eisenia covers fetida and andrei, which keepers
// can't tell apart by eye.
const (
	Eisenia      Species = "eisenia"
	Dendrobaena  Species = "dendrobaena"
	Perionyx     Species = "perionyx"
	MixedSpecies Species = "mixed"
)

// Group is a go-easy group: food of which a bin takes only a part.
type Group string

// Go-easy groups of the catalogue; Plain food has no cap.
const (
	Plain       Group = "plain"
	Fruit       Group = "fruit"
	Coffee      Group = "coffee"
	Citrus      Group = "citrus"
	OnionFamily Group = "onion_family"
	BreadGrain  Group = "bread_grain"
	SaltyOily   Group = "salty_oily"
	VeryWet     Group = "very_wet"
)

// Groups lists the go-easy groups in a fixed order.
var Groups = []Group{Plain, Fruit, Coffee, Citrus, OnionFamily, BreadGrain, SaltyOily, VeryWet}

// MaterialUse tells what a material is for.
type MaterialUse string

// Uses of a material.
const (
	ScrapUse   MaterialUse = "scrap"
	BeddingUse MaterialUse = "bedding"
)

// Trust says how far a published figure can be relied on.
type Trust string

// Trust marks.
const (
	TrustRead     Trust = "read"            // read in the named source
	TrustMemory   Trust = "memory"          // believed from the named source, not seen
	TrustPractice Trust = "common_practice" // a habit of the trade, no source
	TrustGarden   Trust = "garden"          // set or measured by this garden
)

// Figure is a published or measured number with its range and how far to trust it.
type Figure struct {
	Value  float64
	Low    float64 // equal to Value when no range is known
	High   float64
	Source string
	Trust  Trust
}

// Material is one kind of scrap or bedding. Percent figures: NitrogenPct on
// dry mass, MoisturePct on wet mass. Bulk density in grams per litre.
type Material struct {
	Key           string // stable code, for example "vegetable_trimmings"
	Name          string
	Use           MaterialUse
	Group         Group
	NitrogenPct   Figure
	CarbonToN     Figure
	MoisturePct   Figure
	DensityGPerL  Figure
	ShelfLifeDays int
	Freezable     bool
	Caution       string
}

// Smell is what a keeper's nose says at a check.
type Smell string

// Smells, best first.
const (
	SmellEarth   Smell = "earth"
	SmellNothing Smell = "nothing"
	SmellSour    Smell = "sour"
	SmellAmmonia Smell = "ammonia"
	SmellRotten  Smell = "rotten"
)

// FoodLeft is how much of the last feed a keeper still finds.
type FoodLeft string

// Grades of food left.
const (
	LeftNone   FoodLeft = "none"
	LeftLittle FoodLeft = "a_little"
	LeftHalf   FoodLeft = "half"
	LeftMost   FoodLeft = "most"
)

// Fraction is the mid share that a grade stands for (common practice, no
// source: eye estimates in quarters).
func (f FoodLeft) Fraction() float64 {
	switch f {
	case LeftLittle:
		return 0.15
	case LeftHalf:
		return 0.5
	case LeftMost:
		return 0.85
	}
	return 0
}

// Squeeze is the grade of a squeezed handful: 1 dust-dry, 2 crumbly, 3 wrung
// sponge, 4 drips, 5 runs.
type Squeeze int

// Valid tells whether s is 1 to 5.
func (s Squeeze) Valid() bool { return s >= 1 && s <= 5 }
