package demo

import "midden/internal/farm"

// Name of the invented garden, and the zone its days are counted in.
const (
	Name = "Lowfield Terrace Garden"
	zone = "Europe/Lisbon"
)

// siteFact is a place of the garden. shelter, 0 to 1, is how little of the
// weather gets in; warmC is what the place is warmer by.
type siteFact struct {
	name     string
	kind     farm.SiteKind
	lat, lon float64
	freezerL int
	areaM2   float64
	shelter  float64
	warmC    float64
	note     string
}

// Sites by their place in the list. The coordinates lie in the open sea: the
// garden is nowhere.
const (
	shed = iota
	cellar
	plot
)

var siteFacts = []siteFact{
	{name: "Tool shed", kind: farm.Shed, lat: 38.0000, lon: -20.0000, areaM2: 24, shelter: 0.35, warmC: 1, note: "Scale on the bench; key under the third pot."},
	{name: "Cellar", kind: farm.Basement, lat: 38.0006, lon: -20.0009, freezerL: 210, areaM2: 30, shelter: 0.75, warmC: 1.5, note: "Chest freezer along the back wall. Mind the step."},
	{name: "Lower plot", kind: farm.Outdoors, lat: 37.9991, lon: -19.9988, areaM2: 60, note: "Bins under the fig, shaded from noon."},
}

// personFact is one of the forty members.
type personFact struct {
	name string
	role farm.Role
	days string // of a keeper: weekdays, Sunday 0, such as "26"
	sign bool   // has an account
}

var personFacts = []personFact{
	{"Isaura Penhale", farm.Coordinator, "136", true},
	{"Tobias Wrenfield", farm.Coordinator, "0246", true},
	{"Marta Quill", farm.Keeper, "146", true},
	{"Jonas Ferro", farm.Keeper, "035", true},
	{"Priya Alder", farm.Keeper, "25", true},
	{"Anselm Brook", farm.Keeper, "146", true},
	{"Noor Tamsin", farm.Keeper, "036", true},
	{"Celso Marram", farm.Keeper, "24", true},
	{"Wilhelmina Oat", farm.Keeper, "135", true},
	{"Ravi Thistle", farm.Keeper, "046", true},
	{"Edite Sorrel", farm.Keeper, "26", true},
	{"Kofi Larch", farm.Keeper, "135", true},
	{"Hanne Rowan", farm.Keeper, "024", true},
	{"Dario Pennant", farm.Keeper, "136", true},
	{"Lena Harrow", farm.Donor, "", true},
	{"Amadeu Finch", farm.Donor, "", true},
	{"Yuki Bracken", farm.Donor, "", true},
	{"Bruna Cole", farm.Donor, "", false}, {"Oskar Reed", farm.Donor, "", false}, {"Fatima Heath", farm.Donor, "", false},
	{"Gil Sparrow", farm.Donor, "", false}, {"Ines Clover", farm.Donor, "", false}, {"Malik Yarrow", farm.Donor, "", false},
	{"Petra Dove", farm.Donor, "", false}, {"Simao Teasel", farm.Donor, "", false}, {"Ursula Fern", farm.Donor, "", false},
	{"Viggo Plover", farm.Donor, "", false}, {"Zelia Moss", farm.Donor, "", false}, {"Aled Carder", farm.Donor, "", false},
	{"Beatriz Hollin", farm.Donor, "", false}, {"Colm Vetch", farm.Donor, "", false}, {"Dina Tansy", farm.Donor, "", false},
	{"Emeka Rush", farm.Donor, "", false}, {"Flora Medlar", farm.Donor, "", false}, {"Goran Sedge", farm.Donor, "", false},
	{"Hilda Quince", farm.Donor, "", false}, {"Ivo Lovage", farm.Donor, "", false}, {"Joana Pipit", farm.Donor, "", false},
	{"Karim Borage", farm.Donor, "", false},
	{"Silvana Marsh", farm.Observer, "", true},
}

// householdNames are families without a member; their plots are numbered.
var householdNames = []string{"Adderley", "Bramble", "Calloway", "Dunmore", "Espinal", "Fallow", "Gorse", "Hartnell", "Iveson", "Juniper",
	"Kestrel", "Lindgrove", "Mallow", "Nettleton", "Orchard row", "Pascoal", "Quarrier", "Redfern", "Saltmarsh", "Tarn", "Underhill",
	"Vale", "Whinfell", "Yewdale", "Zephyrin"}

var baselines = []farm.Baseline{farm.BaselineLandfill, farm.BaselineLandfill, farm.BaselineKerbside, farm.BaselineHomeHeap, farm.BaselineUnknown}

// binFact is one of the bins, with what is true of it and nobody knows: how
// much its worms eat and how many it can carry.
type binFact struct {
	name    string
	site    int
	method  farm.Method
	shape   farm.Shape
	drained bool
	species farm.Species
	keepers [2]int // places among the people
	week    int    // set up in this week; later ones are split off a crowded bin
	wormsG  int    // from outside, in the first week
	eats    float64
	carries float64 // kg/m²
	parts   int     // sections in rotation
	weeks   int     // a section is fed so long
	sours   bool    // will be overfed
	apart   bool    // set up for worms from outside, in quarantine
}

func box(l, w, d int) farm.Shape {
	return farm.Shape{Kind: farm.Box, LengthMM: l, WidthMM: w, DepthMM: d}
}

func trough(l, r int) farm.Shape {
	return farm.Shape{Kind: farm.Trough, LengthMM: l, RadiusMM: r}
}

func drum(r, d int) farm.Shape {
	return farm.Shape{Kind: farm.Cylinder, RadiusMM: r, DepthMM: d}
}

func stack(l, w, d, n int) farm.Shape {
	return farm.Shape{Kind: farm.Stack, LengthMM: l, WidthMM: w, DepthMM: d, Count: n}
}

var binFacts = []binFact{
	{name: "Long wedge", site: shed, method: farm.Wedge, shape: box(2400, 700, 450), drained: true, keepers: [2]int{2, 5}, wormsG: 2200, eats: 0.42, carries: 2.9, parts: 4, weeks: 9},
	{name: "Bench wedge", site: shed, method: farm.Wedge, shape: box(1500, 600, 400), drained: true, keepers: [2]int{3, 6}, wormsG: 1200, eats: 0.36, carries: 2.6, parts: 4, weeks: 9},
	{name: "Blue stack", site: shed, method: farm.Trays, shape: stack(600, 400, 180, 4), drained: true, keepers: [2]int{4, 4}, wormsG: 420, eats: 0.38, carries: 2.8, parts: 4, weeks: 9},
	{name: "Red stack", site: shed, method: farm.Trays, shape: stack(600, 400, 180, 4), drained: true, keepers: [2]int{5, 2}, week: 16, eats: 0.33, carries: 2.4, parts: 4, weeks: 9},
	{name: "Big mouth", site: shed, method: farm.FlowThrough, shape: box(1800, 900, 600), drained: true, keepers: [2]int{2, 3}, wormsG: 2600, eats: 0.45, carries: 3.2},
	{name: "Little mouth", site: shed, method: farm.FlowThrough, shape: drum(300, 800), drained: true, keepers: [2]int{6, 4}, week: 30, eats: 0.35, carries: 2.5},
	{name: "School tub", site: shed, method: farm.Batch, shape: box(800, 500, 400), drained: true, keepers: [2]int{6, 3}, wormsG: 450, eats: 0.32, carries: 2.2, weeks: 20},
	{name: "Stone trough", site: cellar, method: farm.Wedge, shape: trough(2000, 380), keepers: [2]int{7, 8}, wormsG: 1300, eats: 0.37, carries: 2.6, parts: 4, weeks: 9},
	{name: "Cellar wedge", site: cellar, method: farm.Wedge, shape: box(1800, 600, 400), drained: true, keepers: [2]int{8, 12}, wormsG: 1400, eats: 0.40, carries: 2.7, parts: 4, weeks: 9},
	{name: "Cellar stack", site: cellar, method: farm.Trays, shape: stack(500, 400, 160, 4), drained: true, keepers: [2]int{7, 7}, week: 22, eats: 0.35, carries: 2.4, parts: 4, weeks: 9},
	{name: "Steps drum", site: cellar, method: farm.Batch, shape: drum(350, 600), keepers: [2]int{9, 7}, wormsG: 500, eats: 0.34, carries: 2.3, weeks: 20, sours: true},
	{name: "Coal hole", site: cellar, method: farm.FlowThrough, shape: box(1200, 700, 600), drained: true, keepers: [2]int{12, 8}, week: 38, eats: 0.41, carries: 2.9},
	{name: "Waiting box", site: cellar, method: farm.Batch, shape: box(600, 400, 350), drained: true, keepers: [2]int{8, 9}, week: 58, wormsG: 500, eats: 0.36, carries: 2.5, weeks: 22, apart: true},
	{name: "Fig windrow", site: plot, method: farm.Windrow, shape: box(3000, 900, 400), drained: true, keepers: [2]int{10, 13}, wormsG: 2800, eats: 0.39, carries: 2.4, parts: 3, weeks: 10},
	{name: "Hedge windrow", site: plot, method: farm.Windrow, shape: box(2400, 800, 400), drained: true, keepers: [2]int{11, 13}, week: 26, eats: 0.37, carries: 2.3, parts: 3, weeks: 10},
	{name: "Half barrel", site: plot, method: farm.Batch, shape: trough(900, 350), drained: true, keepers: [2]int{11, 10}, wormsG: 500, eats: 0.33, carries: 2.1, weeks: 20},
	{name: "Twin tub", site: plot, method: farm.Batch, shape: trough(900, 350), drained: true, keepers: [2]int{13, 9}, week: 46, eats: 0.34, carries: 2.1, weeks: 20},
	{name: "Ring bin", site: plot, method: farm.FlowThrough, shape: drum(450, 900), drained: true, keepers: [2]int{9, 11}, wormsG: 800, eats: 0.38, carries: 2.5},
	{name: "South wedge", site: plot, method: farm.Wedge, shape: box(1600, 700, 400), drained: true, species: farm.Dendrobaena, keepers: [2]int{10, 13}, wormsG: 1200, eats: 0.35, carries: 2.4, parts: 4, weeks: 9},
	{name: "Gate box", site: plot, method: farm.Batch, shape: box(900, 600, 400), drained: true, keepers: [2]int{13, 11}, week: 54, eats: 0.36, carries: 2.2, weeks: 20},
}

// places where what the bins can't take goes.
var overflowFacts = []farm.OverflowPlace{
	{Name: "Hot heap by the wall", Kind: farm.HotHeap, WeeklyG: 120_000, BrownsRatio: 1, Note: "Turn on Sundays; needs as much dry leaf as scraps."},
	{Name: "Upper Terrace heap", Kind: farm.OtherGarden, WeeklyG: 40_000, Note: "They take fruit by agreement, not more than two sacks a week."},
}

var refused = []string{"meat and fish", "dairy and oil", "cooked leftovers with salt or sauce", "pet waste", "plastic, also if marked compostable", "treated wood"}
