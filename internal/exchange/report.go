package exchange

import (
	"io"
	"time"

	"midden/internal/season"
)

// WriteReportCSV writes a season report as one long table: a row per figure,
// with the section, the item it belongs to, the figure, its value and unit.
// Masses are whole grams, emissions whole grams of CO2 equivalent.
func WriteReportCSV(w io.Writer, r season.Report) error {
	t := reportTable{NewTable(w, "section", "item", "label", "figure", "value", "unit")}
	t.header(r.Header)
	t.balance(r)
	for _, s := range []struct {
		section string
		parts   []season.Part
	}{{"by_month", r.ByMonth}, {"by_site", r.BySite}, {"by_material", r.ByMaterial}, {"by_donor_class", r.ByDonorClass}} {
		for _, p := range s.parts {
			t.flows(s.section, p.Key, p.Label, p.Flows)
		}
	}
	for _, b := range r.ByBin {
		t.mass("by_bin", b.Key, b.Label, "fed", Grams(b.Fed))
		t.mass("by_bin", b.Key, b.Label, "to_landfill", Grams(b.ToLandfill))
		t.mass("by_bin", b.Key, b.Label, "to_elsewhere", Grams(b.ToElsewhere))
	}
	t.watched(r)
	t.emissions(r.Emissions)
	t.activity(r)
	return t.Close()
}

type reportTable struct{ *Table }

func (t reportTable) row(section, item, label, figure string, value Cell, unit string) {
	t.Row(Text(section), Text(item), Text(label), Text(figure), value, Text(unit))
}

func (t reportTable) mass(section, item, label, figure string, value Cell) {
	t.row(section, item, label, figure, value, "g")
}

func (t reportTable) header(h season.Header) {
	text := func(figure, value string) { t.row("header", "", "", figure, Text(value), "") }
	text("garden", h.Garden)
	text("boundary", h.Boundary)
	text("season", h.SeasonLabel)
	text("timeframe", h.Timeframe)
	text("zone", h.Zone)
	text("instants", h.Instants)
	for _, s := range h.InScope {
		text("in_scope", s)
	}
	for _, s := range h.OutOfScope {
		text("out_of_scope", s)
	}
	text("destination", h.Destination)
	text("uncertainty", h.UncertaintyText)
	text("prepared_at", h.PreparedAt.Format(time.RFC3339))
	text("prepared_by", h.PreparedBy)
	t.row("header", "", "", "revision", Int(int64(h.Revision)), "")
	t.row("header", "", "", "records", Int(int64(h.Records)), "")
	t.row("header", "", "", "days_without_records", Int(int64(h.DaysWithoutRecords)), "d")
	t.mass("header", "", "", "rejects_excluded", Grams(h.RejectsExcluded))
	for _, m := range h.Methods.Shares {
		t.mass("methods", string(m.Method), "", "received", Grams(m.Received))
		t.row("methods", string(m.Method), "", "share", Int(int64(m.PerMille)), "per mille")
		t.row("methods", string(m.Method), "", "records", Int(int64(m.Records)), "")
	}
}

func (t reportTable) balance(r season.Report) {
	t.mass("balance", "", "", "on_hand_start", Grams(r.Balance.OnHandStart))
	t.flows("balance", "", "", r.Balance.Flows)
	t.mass("balance", "", "", "on_hand_end", Grams(r.Balance.OnHandEnd))
	for _, s := range []struct {
		item string
		iv   season.Interval
	}{{"received", r.Received}, {"accepted", r.Accepted}, {"diverted", r.Diverted}} {
		t.mass("interval", s.item, "", "value", Grams(s.iv.Value))
		t.mass("interval", s.item, "", "low90", Grams(s.iv.Low))
		t.mass("interval", s.item, "", "high90", Grams(s.iv.High))
	}
}

func (t reportTable) flows(section, item, label string, f season.Flows) {
	t.mass(section, item, label, "received", Grams(f.Received))
	t.mass(section, item, label, "rejected", Grams(f.Rejected))
	t.mass(section, item, label, "accepted", Grams(f.Accepted))
	t.mass(section, item, label, "fed", Grams(f.Fed))
	t.mass(section, item, label, "overflow", Grams(f.Overflow))
	t.mass(section, item, label, "spoiled_landfill", Grams(f.SpoiledLandfill))
	t.mass(section, item, label, "spoiled_elsewhere", Grams(f.SpoiledElsewhere))
	t.mass(section, item, label, "water_loss", Grams(f.WaterLoss))
	t.mass(section, item, label, "water_gain", Grams(f.WaterGain))
	t.mass(section, item, label, "bin_to_landfill", Grams(f.BinToLandfill))
	t.mass(section, item, label, "bin_to_elsewhere", Grams(f.BinToElsewhere))
	t.mass(section, item, label, "diverted", Grams(f.Diverted))
}

func (t reportTable) watched(r season.Report) {
	for _, w := range r.Weeks {
		whole := "whole week"
		if !w.Whole {
			whole = "part of a week"
		}
		t.mass("weeks", w.Key, whole, "received", Grams(w.Received))
	}
	for _, m := range r.Months {
		t.row("month_means", m.Month, "", "received", Grams(m.Mean), "g per week")
	}
	t.row("on_site", "", "", "volume", Int(int64(r.OnSite.Volume)), "mL")
	t.row("on_site", "", "", "area", Int(int64(r.OnSite.Area)), "cm2")
	for _, f := range r.Findings {
		t.row("thresholds", f.What, f.When, "actual", Int(f.Actual), f.Unit)
		t.row("thresholds", f.What, f.When, "limit", Int(f.Limit), f.Unit)
		t.row("thresholds", f.What, f.When, "standing", Text(string(f.Standing)), "")
	}
	if r.Watch.Note != "" {
		t.row("thresholds", "", "", "note", Text(r.Watch.Note), "")
	}
}

func (t reportTable) emissions(e *season.Estimate) {
	if e == nil {
		return
	}
	const section, unit, per = "emissions", "g CO2e", "g CO2e per short ton"
	t.row(section, "", "", "change", Int(e.Change), unit)
	t.row(section, "", "", "change_from", Int(e.ChangeFrom), unit)
	t.row(section, "", "", "change_to", Int(e.ChangeTo), unit)
	t.row(section, "", "", "factors", Text(e.SetID+" "+e.Version), "")
	t.row(section, "", "", "source", Text(e.Source), "")
	t.row(section, "", "", "trust", Text(string(e.Trust)), "")
	t.row(section, "", "", "credit", Text(string(e.Credit)), "")
	t.row(section, "", "", "landfill_share", Int(int64(e.LandfillShare)), "per mille")
	for _, l := range e.Lines {
		t.mass(section, l.Row, "", "diverted", Grams(l.Diverted))
		t.row(section, l.Row, "", "landfilled", Int(l.Landfilled), per)
		if l.Composted != nil {
			t.row(section, l.Row, "", "composted", Int(*l.Composted), per)
		}
		t.row(section, l.Row, "", "change", Int(l.Change), unit)
	}
	for _, c := range e.Caveats {
		t.row(section, "", "", "caveat", Text(c), "")
	}
}

func (t reportTable) activity(r season.Report) {
	t.mass("castings", "", "", "harvested", Grams(r.Castings.Harvested))
	t.mass("castings", "", "", "given", Grams(r.Castings.Given))
	t.mass("castings", "", "", "on_hand_end", Grams(r.Castings.OnHandEnd))
	t.row("castings", "", "", "harvests", Int(int64(r.Castings.Harvests)), "")
	t.row("castings", "", "", "giveaways", Int(int64(r.Castings.Giveaways)), "")
	t.mass("worms", "", "", "from_outside", Grams(r.Worms.FromOutside))
	t.mass("worms", "", "", "within", Grams(r.Worms.Within))
	t.mass("worms", "", "", "to_outside", Grams(r.Worms.ToOutside))
	t.row("worms", "", "", "transfers", Int(int64(r.Worms.Transfers)), "")
	t.row("effort", "", "", "bins", Int(int64(r.Effort.Bins)), "")
	t.row("effort", "", "", "households", Int(int64(r.Effort.Households)), "")
	t.row("effort", "", "", "members", Int(int64(r.Effort.Members)), "")
	t.row("effort", "", "", "work", Int(r.Effort.Minutes), "min")
	t.visit(r.Visit)
}

func (t reportTable) visit(v *season.Visit) {
	if v == nil {
		return
	}
	for _, x := range v.Rejections {
		t.row("rejections", x.Reason, "", "loads", Int(int64(x.Loads)), "")
		t.mass("rejections", x.Reason, "", "mass", Grams(x.Mass))
	}
	t.row("visit", "", "", "bin_checks", Int(int64(v.BinChecks)), "")
	t.row("visit", "", "", "pest_checks", Int(int64(v.PestChecks)), "")
	t.row("visit", "", "", "pests_found", Int(int64(v.PestsFound)), "")
	for _, l := range v.AcceptanceLists {
		t.row("visit", "", "", "acceptance_list", Text(l), "")
	}
	for _, c := range v.Complaints {
		t.row("complaints", c.Day.String(), c.Nature, "action", Text(c.Action), "")
		t.row("complaints", c.Day.String(), c.Nature, "closed", DayCell(c.Closed), "")
	}
}
