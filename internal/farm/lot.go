package farm

import (
	"errors"
	"math/big"
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// LotStatus is what the garden said to a lot.
type LotStatus string

// States of a lot.
const (
	LotReceived LotStatus = "received"
	LotAccepted LotStatus = "accepted"
	LotSorted   LotStatus = "accepted_after_sorting"
	LotRejected LotStatus = "rejected"
)

// LotStatuses lists the states of a lot.
var LotStatuses = []LotStatus{LotReceived, LotAccepted, LotSorted, LotRejected}

// StoragePlace is where a lot is kept at its site.
type StoragePlace string

// Storage places.
const (
	Shelf       StoragePlace = "shelf"
	ColdRoom    StoragePlace = "cold_room"
	Fridge      StoragePlace = "fridge"
	Freezer     StoragePlace = "freezer"
	LotOutdoors StoragePlace = "outdoors"
)

// StoragePlaces lists the storage places.
var StoragePlaces = []StoragePlace{Shelf, ColdRoom, Fridge, Freezer, LotOutdoors}

// SpoiledTo is where scraps that went bad ended up. Landfill alone reduces
// what a garden diverted.
type SpoiledTo string

// Ends of spoiled scraps.
const (
	ToLandfill  SpoiledTo = "landfill"
	ToElsewhere SpoiledTo = "elsewhere"
)

// MassMethod is how a lot's mass was got.
type MassMethod string

// Methods of getting a mass.
const (
	ByScale     MassMethod = "weighed"
	ByContainer MassMethod = "container"
	ByEstimate  MassMethod = "estimate"
)

// Bounds of a lot: 1 g to 2,000 kg.
const (
	MinLot measure.Grams = 1
	MaxLot measure.Grams = 2_000_000
)

// ReweighCause is why what is left of a lot weighs something else now.
type ReweighCause string

// Causes of another weight.
const (
	Drained ReweighCause = "drained"
	Thawed  ReweighCause = "thawed"
	Dried   ReweighCause = "dried"
)

// ReweighCauses lists them all.
var ReweighCauses = []ReweighCause{Drained, Thawed, Dried}

// Entered is a mass as a person gave it; it is kept beside the grams.
//
// Weighed: Gross, and Tare of the vessel if it was on the scale. Container:
// Count vessels of Each filled to FillPct, with DensityGPerL of the material.
// Estimate: Gross alone. ContainerID names one of the garden's containers,
// whose volume or tare it takes: see In. RelSDPermille states the spread when
// the person knows better than the garden's default; 0 leaves it to the default.
type Entered struct {
	Method        MassMethod
	Gross         measure.Quantity
	Tare          measure.Quantity // empty value: no tare
	ContainerID   uuid.UUID        // zero: none of the garden's
	Container     string           // what kind of vessel
	Each          measure.Quantity // volume of one vessel
	Count         int
	FillPct       int
	DensityGPerL  float64 // 0: the catalogue's, else the garden's own weighing
	RelSDPermille int
}

// Weight is a mass worked out once from what was entered.
type Weight struct {
	Gross         measure.Grams // 0 unless it stood on a scale
	Tare          measure.Grams
	Net           measure.Grams
	ContainerML   measure.Millilitres
	DensityGPerL  float64
	RelSDPermille int
}

// Work turns what was entered into grams. density is the material's bulk
// density, used for containers when the person stated none. It refuses with
// mass.invalid, naming each field at fault under at ("/amount"). A container
// of the garden's must have been looked up before, by In.
func (e Entered) Work(at string, density Figure, s Settings) (Weight, error) {
	var f Faults
	w := Weight{RelSDPermille: e.RelSDPermille}
	if e.RelSDPermille < 0 || e.RelSDPermille > 2000 {
		f.Add("mass.invalid", at+"/rel_sd_permille", "rel_sd_permille: must be between 0 and 2000; got %d", e.RelSDPermille)
	}
	grams := func(field string, q measure.Quantity) measure.Grams {
		g, err := q.Grams()
		if err != nil {
			f.Add("mass.invalid", at+field, "%s: must be a mass such as 2.5 kg; got %q %q: %s", field[1:], q.Value, q.Unit, plain(err))
		}
		return g
	}
	e.checkStrays(at, &f)
	switch e.Method {
	case ByScale:
		w.Gross = grams("/mass", e.Gross)
		if e.Tare.Value != "" {
			w.Tare = grams("/tare", e.Tare)
		}
		if f.Err() == nil && w.Tare >= w.Gross && w.Gross > 0 {
			f.Add("mass.invalid", at+"/tare", "tare: must be less than the %d g on the scale; got %d g", w.Gross, w.Tare)
		}
		w.Net = w.Gross - w.Tare
		w.defaultSD(s.ScaleSDPermille)
	case ByEstimate:
		w.Net = grams("/mass", e.Gross)
		w.defaultSD(s.EstimateSDPct * 10)
	case ByContainer:
		ml, err := e.Each.Millilitres()
		if err != nil {
			f.Add("mass.invalid", at+"/container", "container: must be a volume such as 20 L; got %q %q: %s", e.Each.Value, e.Each.Unit, plain(err))
		}
		if e.Count < 1 || e.Count > 1000 {
			f.Add("mass.invalid", at+"/count", "count: must be between 1 and 1000; got %d", e.Count)
		}
		if e.FillPct < 1 || e.FillPct > 100 {
			f.Add("mass.invalid", at+"/fill_percent", "fill_percent: must be between 1 and 100; got %d", e.FillPct)
		}
		w.ContainerML, w.DensityGPerL = ml, e.DensityGPerL
		if w.DensityGPerL == 0 {
			w.DensityGPerL = density.Value
		}
		if !(w.DensityGPerL >= 10 && w.DensityGPerL <= 2000) {
			f.Add("mass.invalid", at+"/density_g_per_l", "density_g_per_l: must be between 10 and 2000 g/L; got %g", w.DensityGPerL)
		}
		if f.Err() == nil {
			w.Net = massOf(ml, e.Count, e.FillPct, w.DensityGPerL)
		}
		w.defaultSD(containerSD(e, density, s))
	default:
		f.Add("mass.invalid", at+"/method", "method: must be weighed, container or estimate; got %q", e.Method)
	}
	if f.Err() == nil && (w.Net < MinLot || w.Net > MaxLot) {
		field := at + "/mass"
		if e.Method == ByContainer {
			field = at
		}
		f.Add("mass.invalid", field, "mass: must be between 1 g and 2,000 kg; got %d g", w.Net)
	}
	return w, f.Err()
}

// checkStrays refuses what another method would have asked for: left unheeded
// it would hide a slip.
func (e Entered) checkStrays(at string, f *Faults) {
	counted := e.Method == ByContainer
	for _, stray := range []struct {
		field string
		there bool
		of    string
	}{
		{"mass", e.Gross.Value != "" && counted, "weighed or estimate"},
		{"tare", e.Tare.Value != "" && e.Method != ByScale, "weighed"},
		{"container", e.Each.Value != "" && !counted, "container"},
		{"count", e.Count != 0 && !counted, "container"},
		{"fill_percent", e.FillPct != 0 && !counted, "container"},
		{"density_g_per_l", e.DensityGPerL != 0 && !counted, "container"},
	} {
		if stray.there {
			f.Add("mass.invalid", at+"/"+stray.field, "%s: belongs to the method %s; got method %q", stray.field, stray.of, e.Method)
		}
	}
}

func (w *Weight) defaultSD(permille int) {
	if w.RelSDPermille == 0 {
		w.RelSDPermille = permille
	}
}

// massOf is vessels × volume × fill × density, rounded once at the end.
func massOf(ml measure.Millilitres, count, fillPct int, density float64) measure.Grams {
	r := new(big.Rat).SetFloat64(density)
	if r == nil {
		return 0
	}
	r.Mul(r, big.NewRat(int64(ml)*int64(count)*int64(fillPct), 100*1000))
	n, err := measure.RoundHalfEven(r)
	if err != nil {
		return MaxLot + 1
	}
	return measure.Grams(n)
}

// containerSD reads the spread from the published range of the density, taken
// as ± two standard deviations; the garden's default stands in for no range.
func containerSD(e Entered, density Figure, s Settings) int {
	if e.DensityGPerL == 0 && density.Value > 0 && density.High > density.Low {
		return min(2000, int((density.High-density.Low)/4/density.Value*1000+0.5))
	}
	return s.ContainerSDPct * 10
}

func plain(err error) string {
	switch {
	case errors.Is(err, measure.ErrUnit):
		return "unknown unit"
	case errors.Is(err, measure.ErrKind):
		return "the unit measures something else"
	case errors.Is(err, measure.ErrRange):
		return "too large"
	}
	return "not a decimal number"
}

// Lot is scraps that arrived together: one material, one giver, one vessel or
// heap. What is left of it is the ledger's to say.
type Lot struct {
	ID              uuid.UUID
	ParentID        uuid.UUID // zero: not split off another
	Material        string
	FromHousehold   uuid.UUID // at most one giver; both zero: unknown
	FromMember      uuid.UUID
	SiteID          uuid.UUID
	WindowID        uuid.UUID // drop-off window; zero: none
	PledgeID        uuid.UUID // the promise it keeps; zero: none
	EntryID         uuid.UUID // the ledger entry that brought it
	Entered         Entered
	Weight          Weight
	Place           StoragePlace
	UseBy           measure.Day // zero: not set
	Status          LotStatus
	RejectionReason string
	Notice          string // what the giver was told
	Note            string
	ReceivedAt      time.Time
	ReceivedOn      measure.Day
	RecordedAt      time.Time
	RecordedBy      uuid.UUID
	Version         int
}

// Validate refuses with lot.invalid; the mass is checked by Entered.Work.
func (l Lot) Validate() error {
	var f Faults
	if l.Material == "" {
		f.Add("lot.invalid", "/material", "material: must name one of the catalogue")
	}
	if l.FromHousehold != uuid.Nil && l.FromMember != uuid.Nil {
		f.Add("lot.invalid", "/household_id", "household_id: a lot has one giver, a household or a member")
	}
	if l.SiteID == uuid.Nil {
		f.Add("lot.invalid", "/site_id", "site_id: must be set")
	}
	if !oneOf(l.Place, StoragePlaces) {
		f.Add("lot.invalid", "/storage", "storage: must be one of %v; got %q", StoragePlaces, l.Place)
	}
	if !oneOf(l.Status, []LotStatus{LotReceived, LotAccepted}) {
		f.Add("lot.invalid", "/verdict", "verdict: a lot is taken in as received or accepted; got %q", l.Status)
	}
	if !l.UseBy.IsZero() && l.UseBy.Before(l.ReceivedOn) {
		f.Add("lot.invalid", "/use_by", "use_by: must not be before %s, the day it came; got %s", l.ReceivedOn, l.UseBy)
	}
	f.Keep(CheckText("lot.invalid", "/note", l.Note, 1000))
	f.Keep(CheckText("lot.invalid", "/amount/container", l.Entered.Container, 60))
	return f.Err()
}

// Usable refuses with lot.rejected a lot that was turned away: nothing can be
// done with it any more.
func (l Lot) Usable() error {
	if l.Status == LotRejected {
		return Refuse("lot.rejected", "", "lot %s was rejected: %s", l.ID, l.RejectionReason)
	}
	return nil
}

// FrozenDays is how long frozen scraps keep (common practice, no source).
const FrozenDays = 180

// UseByFor is the use-by day of a material kept in a place from a day on; the
// zero day when its shelf life is not known.
func UseByFor(m Material, p StoragePlace, from measure.Day) measure.Day {
	switch {
	case p == Freezer && m.Freezable:
		return from.Add(FrozenDays)
	case m.ShelfLifeDays > 0:
		return from.Add(m.ShelfLifeDays)
	}
	return measure.Day{}
}

// Judge gives the lot after a verdict. It refuses with lot.judged a lot that
// has had one, and with lot.invalid a verdict that lacks its reason.
func (l Lot) Judge(v LotStatus, reason, notice string) (Lot, error) {
	if l.Status != LotReceived {
		return l, Refuse("lot.judged", "", "lot %s is already %s", l.ID, l.Status)
	}
	var f Faults
	switch v {
	case LotAccepted, LotSorted:
		if reason != "" {
			f.Add("lot.invalid", "/reason", "reason: only a rejection has one")
		}
	case LotRejected:
		f.Keep(CheckName("lot.invalid", "/reason", reason, 500))
	default:
		f.Add("lot.invalid", "/verdict", "verdict: must be accepted, accepted_after_sorting or rejected; got %q", v)
	}
	f.Keep(CheckText("lot.invalid", "/notice", notice, 1000))
	l.Status, l.RejectionReason, l.Notice = v, reason, notice
	return l, f.Err()
}
