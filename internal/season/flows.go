package season

import (
	"fmt"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Flow is a way in which food scraps move.
type Flow string

// Flows in and out of the lots on hand. BinToLandfill and BinToElsewhere are
// uneaten food taken out of a bin again: no part of the balance of lots, since
// it was fed before, but landfill still reduces what was diverted.
const (
	Received         Flow = "received"
	Rejected         Flow = "rejected"
	Fed              Flow = "fed"
	Overflow         Flow = "overflow"
	SpoiledLandfill  Flow = "spoiled_landfill"
	SpoiledElsewhere Flow = "spoiled_elsewhere"
	WaterLoss        Flow = "water_loss" // drying, draining, thawing
	WaterGain        Flow = "water_gain"
	BinToLandfill    Flow = "bin_to_landfill"
	BinToElsewhere   Flow = "bin_to_elsewhere"
)

var flows = []Flow{Received, Rejected, Fed, Overflow, SpoiledLandfill, SpoiledElsewhere,
	WaterLoss, WaterGain, BinToLandfill, BinToElsewhere}

var methods = []farm.MassMethod{farm.ByScale, farm.ByContainer, farm.ByEstimate}

// Codes of refusals about what goes into a report.
const (
	CodeReportDay        farm.Code = "report.day"
	CodeReportFlow       farm.Code = "report.flow"
	CodeReportNegative   farm.Code = "report.negative"
	CodeReportUnbalanced farm.Code = "report.unbalanced"
	CodeReportSettings   farm.Code = "report.settings"
	CodeReportAltered    farm.Code = "report.altered"
)

// Movement is a sum of entries that share a day and everything else said here.
// Mass may be negative when reversals outweigh entries on that day.
type Movement struct {
	Day        measure.Day
	Flow       Flow
	Method     farm.MassMethod
	RelSD      PerMille // the records' relative standard deviation; 0 takes the garden's half-width for the method
	Site       string
	Material   string
	DonorClass string
	Bin        string // where fed or taken out
	Mass       measure.Grams
	Records    int
}

// Stock is food on hand in lots at one end of the season.
type Stock struct {
	Material string
	Mass     measure.Grams
}

// DayMass is what was received on a day.
type DayMass struct {
	Day  measure.Day
	Mass measure.Grams
}

// Flows are sums in grams. Accepted is received less rejected; Diverted is
// accepted less what went to a landfill, from lots or out of bins.
type Flows struct {
	Received         measure.Grams `json:"received_g"`
	Rejected         measure.Grams `json:"rejected_g"`
	Accepted         measure.Grams `json:"accepted_g"`
	Fed              measure.Grams `json:"fed_g"`
	Overflow         measure.Grams `json:"overflow_g"`
	SpoiledLandfill  measure.Grams `json:"spoiled_landfill_g"`
	SpoiledElsewhere measure.Grams `json:"spoiled_elsewhere_g"`
	WaterLoss        measure.Grams `json:"water_loss_g"`
	WaterGain        measure.Grams `json:"water_gain_g"`
	BinToLandfill    measure.Grams `json:"bin_to_landfill_g"`
	BinToElsewhere   measure.Grams `json:"bin_to_elsewhere_g"`
	Diverted         measure.Grams `json:"diverted_g"`
}

// sum is the field that a flow adds to; nil for an unknown flow.
func (f *Flows) sum(flow Flow) *measure.Grams {
	switch flow {
	case Received:
		return &f.Received
	case Rejected:
		return &f.Rejected
	case Fed:
		return &f.Fed
	case Overflow:
		return &f.Overflow
	case SpoiledLandfill:
		return &f.SpoiledLandfill
	case SpoiledElsewhere:
		return &f.SpoiledElsewhere
	case WaterLoss:
		return &f.WaterLoss
	case WaterGain:
		return &f.WaterGain
	case BinToLandfill:
		return &f.BinToLandfill
	case BinToElsewhere:
		return &f.BinToElsewhere
	}
	return nil
}

// add counts a mass of a known flow and keeps the derived sums right.
func (f *Flows) add(flow Flow, mass measure.Grams) {
	*f.sum(flow) += mass
	f.Accepted = f.Received - f.Rejected
	f.Diverted = f.Accepted - f.SpoiledLandfill - f.BinToLandfill
}

// plus adds up every field; sums of derived fields are the derived sums.
func (f Flows) plus(o Flows) Flows {
	for _, flow := range flows {
		f.add(flow, *o.sum(flow))
	}
	return f
}

// Balance is what a season must account for, to the gram.
type Balance struct {
	OnHandStart measure.Grams `json:"on_hand_start_g"`
	Flows
	OnHandEnd measure.Grams `json:"on_hand_end_g"`
}

// In is everything that was there to be used.
func (b Balance) In() measure.Grams { return b.OnHandStart + b.Accepted + b.WaterGain }

// Out is everything that became of it, with what is left.
func (b Balance) Out() measure.Grams {
	return b.Fed + b.Overflow + b.SpoiledLandfill + b.SpoiledElsewhere + b.WaterLoss + b.OnHandEnd
}

// Check fails with *Imbalance unless in and out agree to the gram.
func (b Balance) Check(material string) error {
	if d := b.In() - b.Out(); d != 0 {
		return &Imbalance{Material: material, In: b.In(), Out: b.Out()}
	}
	return nil
}

// Imbalance says that grams are unaccounted for. It unwraps to a farm.Error
// with code report.unbalanced.
type Imbalance struct {
	Material string // empty for the garden as a whole
	In, Out  measure.Grams
}

// Difference is in less out: positive when mass went missing.
func (e *Imbalance) Difference() measure.Grams { return e.In - e.Out }

// Error names the difference.
func (e *Imbalance) Error() string { return e.Unwrap().Error() }

// Unwrap gives the refusal that people see.
func (e *Imbalance) Unwrap() error {
	of := ""
	if e.Material != "" {
		of = fmt.Sprintf(" of %s", e.Material)
	}
	return farm.Refuse(CodeReportUnbalanced, "",
		"balance%s: on hand, accepted and water gained come to %d g, but %d g are accounted for: a difference of %d g",
		of, e.In, e.Out, e.Difference())
}
