package vermi

// Settings are the figures a garden may change.
type Settings struct {
	SurfaceLoadGPerM2Day float64 // most food on the fed surface each day
	MarginMM             float64 // unfed edge
	CoverMM              float64 // bedding over each feeding
	FeedDays             int     // a feeding is for at most so many days
	WatchC               float64 // this warm and rising: no feed
	OpenC                float64 // open the feed layer, add cool bedding
	CallC                float64 // call the keeper
	LittleC              float64 // below this feed little
	FrostC               float64 // below this protect
	CheckEveryDays       int
	TurnEveryDays        int // undrained bins only; 0 for never
	CrowdedKgPerM2       float64
	ThinKgPerM2          float64
	WorkDays             float64 // days at best temperature from last feed to castings
	DryLossShare         float64 // dry solids lost on the way to castings
	CastingsMoisturePct  float64
	ReanchorWeight       float64 // how far a check's look moves the backlog, 0 to 1
}

// DefaultSettings are the published or practised figures.
//
// Common practice, no source: 0.7 kg/m² a day, 5 cm margin, 5 cm cover, a
// week's feed at most (never a double feed), checks every 10 days, turning
// about every other month, heat at 27, 30 and 35 °C, little food below 10 °C,
// protection below 3 °C, a thin stock below 0.3 kg/m². Crowded from 4 kg/m²:
// starting stocks run to 1 lb/ft² = 4.88 kg/m² (Sherman, NC State) and growth
// is best at 1.60 kg/m² (Ndegwa et al. 2000). 75 working days: 75-90 d in a
// vermicompost training guide. Dry loss 50 ± 10 % of solids: estimate stated
// by the authors of a preprint on vermicast production. Castings at 70 %
// moisture and the weight of a look are chosen here (no source).
func DefaultSettings() Settings {
	return Settings{
		SurfaceLoadGPerM2Day: 700, MarginMM: 50, CoverMM: 50, FeedDays: 7,
		WatchC: 27, OpenC: 30, CallC: 35, LittleC: 10, FrostC: 3,
		CheckEveryDays: 10, TurnEveryDays: 60, CrowdedKgPerM2: 4, ThinKgPerM2: 0.3,
		WorkDays: 75, DryLossShare: 0.5, CastingsMoisturePct: 70, ReanchorWeight: 0.7,
	}
}
