package season

import (
	"time"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Report is a season's account. Masses are whole grams. Once issued it is kept
// as its canonical bytes and digest (see Canonical); a later change of
// factors or settings does not touch it, because it holds what it used.
// It names no giver: donors appear by class only.
type Report struct {
	Format   int      `json:"format"` // 1
	Header   Header   `json:"header"`
	Balance  Balance  `json:"balance"`
	Received Interval `json:"received"`
	Accepted Interval `json:"accepted"`
	Diverted Interval `json:"diverted"`

	ByMonth      []Part    `json:"by_month"`
	BySite       []Part    `json:"by_site"`
	ByMaterial   []Part    `json:"by_material"`
	ByDonorClass []Part    `json:"by_donor_class"`
	ByBin        []BinPart `json:"by_bin"`

	Weeks    []Week       `json:"weeks"`
	Months   []MonthWeeks `json:"month_means"`
	OnSite   OnSite       `json:"on_site"`
	Watch    Watch        `json:"watch"`
	Findings []Finding    `json:"findings"`

	Emissions *Estimate `json:"emissions"` // null when the garden claims none
	Castings  Castings  `json:"castings"`
	Worms     Worms     `json:"worms"`
	Effort    Effort    `json:"effort"`
	Visit     *Visit    `json:"visit"` // null when it was not looked up
}

// Header says what the numbers cover and how they were got, as the Food Loss
// and Waste Accounting and Reporting Standard (2016) asks: scope, weight
// without packaging, method, uncertainty (its wording from memory).
type Header struct {
	Garden             string        `json:"garden"`
	Boundary           string        `json:"boundary"`
	SeasonKey          string        `json:"season_key"`
	SeasonLabel        string        `json:"season_label"`
	Timeframe          string        `json:"timeframe"` // ISO 8601 days, end not in
	Zone               string        `json:"zone"`
	Instants           string        `json:"instants"` // ISO 8601 instants in UTC, end not in
	Closed             bool          `json:"closed"`   // the last day was over when prepared
	InScope            []string      `json:"in_scope"`
	OutOfScope         []string      `json:"out_of_scope"`
	Destination        string        `json:"destination"`
	Methods            MethodMix     `json:"methods"`
	Records            int           `json:"records"`
	DaysWithoutRecords int           `json:"days_without_records"`
	Uncertainty        Uncertainty   `json:"uncertainty"`
	UncertaintyText    string        `json:"uncertainty_statement"`
	RejectsExcluded    measure.Grams `json:"rejects_excluded_g"`
	PreparedAt         time.Time     `json:"prepared_at"`
	PreparedBy         string        `json:"prepared_by"`
	Revision           int           `json:"revision"`
}

// Part is the share of one month, site, material or donor class. The key
// NotStated gathers what was not said.
type Part struct {
	Key   string `json:"key"`
	Label string `json:"label"`
	Flows
}

// BinPart is what one bin took in, and what had to be taken out uneaten.
type BinPart struct {
	Key         string        `json:"key"`
	Label       string        `json:"label"`
	Fed         measure.Grams `json:"fed_g"`
	ToLandfill  measure.Grams `json:"to_landfill_g"`
	ToElsewhere measure.Grams `json:"to_elsewhere_g"`
}

// Estimate is emissions avoided by a published table, with the whole of what
// was used. Changes are alternative less baseline, so negative is avoided, in
// grams of CO2 equivalent at two significant figures. The range reflects the
// uncertainty of the masses alone.
type Estimate struct {
	SetID         string         `json:"set_id"`
	Version       string         `json:"version"`
	Title         string         `json:"title"`
	Source        string         `json:"source"`
	Trust         farm.Trust     `json:"trust"`
	Unit          string         `json:"unit"`
	Credit        Credit         `json:"credit"`
	LandfillShare PerMille       `json:"landfill_share_per_mille"`
	Lines         []EstimateLine `json:"lines"`
	Change        int64          `json:"change_g_co2e"`
	ChangeFrom    int64          `json:"change_from_g_co2e"`
	ChangeTo      int64          `json:"change_to_g_co2e"`
	Caveats       []string       `json:"caveats"`
}

// EstimateLine is one row of the table as used. Factors are grams of CO2
// equivalent per short ton; Composted is null when no credit was taken.
type EstimateLine struct {
	Row        string        `json:"row"`
	Diverted   measure.Grams `json:"diverted_g"`
	Landfilled int64         `json:"landfilled_g_per_short_ton"`
	Composted  *int64        `json:"composted_g_per_short_ton"`
	Change     int64         `json:"change_g_co2e"`
}

// Castings made and given away in the season.
type Castings struct {
	Harvested measure.Grams `json:"harvested_g"`
	Given     measure.Grams `json:"given_g"`
	OnHandEnd measure.Grams `json:"on_hand_end_g"`
	Harvests  int           `json:"harvests"`
	Giveaways int           `json:"giveaways"`
}

// Worms moved in the season, live mass. Within counts moves from one section
// to another, of the same bin or not.
type Worms struct {
	FromOutside measure.Grams `json:"from_outside_g"`
	Within      measure.Grams `json:"within_g"`
	ToOutside   measure.Grams `json:"to_outside_g"`
	Transfers   int           `json:"transfers"`
}

// Moved is all of them together.
func (w Worms) Moved() measure.Grams { return w.FromOutside + w.Within + w.ToOutside }

// Effort counts bins with any movement, households that brought scraps,
// members who brought scraps or worked, and minutes of work.
type Effort struct {
	Bins       int   `json:"bins"`
	Households int   `json:"households"`
	Members    int   `json:"members"`
	Minutes    int64 `json:"minutes"`
}

// Visit is what an official asks to see besides masses. It names nobody.
type Visit struct {
	Rejections      []Rejection `json:"rejections"`
	PestChecks      int         `json:"pest_checks"`
	PestsFound      int         `json:"pests_found"`
	Complaints      []Concern   `json:"complaints"`
	BinChecks       int         `json:"bin_checks"`
	AcceptanceLists []string    `json:"acceptance_lists"` // dates of the lists in force
}

// Rejection gathers refused loads by reason.
type Rejection struct {
	Reason string        `json:"reason"`
	Loads  int           `json:"loads"`
	Mass   measure.Grams `json:"mass_g"`
}

// Concern is a complaint or incident and what was done, without names. Closed
// is the zero Day while open.
type Concern struct {
	Day    measure.Day `json:"day"`
	Nature string      `json:"nature"`
	Action string      `json:"action"`
	Closed measure.Day `json:"closed"`
}
