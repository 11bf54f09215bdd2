package httpapi

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/exchange"
	"midden/internal/measure"
	"midden/internal/season"
	"midden/internal/service"
)

func spanOut(s season.Season, current bool) api.SeasonSpan {
	return api.SeasonSpan{Key: s.Key, Label: s.Label, Start: dayOut(s.Start), End: dayOut(s.End), Current: current}
}

// ListSeasons lists the seasons since the garden opened.
func (s *Server) ListSeasons(c echo.Context, g api.GardenId) error {
	list, err := s.svc.Seasons(c.Request().Context(), actor(c), g)
	if err != nil {
		return err
	}
	return sendList(c, map[string]any{"items": mapped(list, func(x service.Span) api.SeasonSpan { return spanOut(x.Season, x.Current) })}, "")
}

// ListSeasonReports lists kept reports.
func (s *Server) ListSeasonReports(c echo.Context, g api.GardenId, p api.ListSeasonReportsParams) error {
	list, err := s.svc.Reports(c.Request().Context(), actor(c), g, value(p.Season), pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, func(r service.SeasonReport) any {
		return api.SeasonReportSummary{Id: r.Kept.ID, Revision: int32(r.Kept.Revision), Season: spanOut(r.Kept.Season, r.Current),
			PreparedAt: r.Kept.PreparedAt, DivertedG: int64(r.Kept.Diverted), Sha256: r.Kept.SHA256}
	})
}

// CreateSeasonReport prepares a season's report.
func (s *Server) CreateSeasonReport(c echo.Context, g api.GardenId, p api.CreateSeasonReportParams) error {
	in, err := body[api.SeasonReportNew](c)
	if err != nil {
		return err
	}
	r := reply[service.SeasonReport]{Status: http.StatusCreated, Wire: reportOut,
		Location: func(x service.SeasonReport) string { return gardenPath(g, "season-reports", x.Kept.ID) }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[service.SeasonReport], error) {
		return s.svc.PrepareReport(ctx, a, g, service.ReportWish{ID: value(in.Id), Season: in.Season}, o)
	})
}

// GetSeasonReport shows one report.
func (s *Server) GetSeasonReport(c echo.Context, g api.GardenId, id api.ReportId) error {
	r, err := s.svc.Report(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, reply[service.SeasonReport]{Status: http.StatusOK, Wire: reportOut}, r)
}

// GetSeasonReportCsv gives one report as a table (RFC 4180).
func (s *Server) GetSeasonReportCsv(c echo.Context, g api.GardenId, id api.ReportId) error {
	r, err := s.svc.Report(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	var table bytes.Buffer
	if err := exchange.WriteReportCSV(&table, r.Report); err != nil {
		return err
	}
	name := fmt.Sprintf("midden-%s-r%d.csv", r.Kept.Season.Key, r.Kept.Revision)
	c.Response().Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8; header=present", table.Bytes())
}

func reportOut(x service.SeasonReport) any {
	r, h := x.Report, x.Report.Header
	return api.SeasonReport{
		Id: x.Kept.ID, Revision: int32(x.Kept.Revision), Season: spanOut(x.Kept.Season, x.Current), Sha256: x.Kept.SHA256,
		GardenName: h.Garden, TimeZone: h.Zone, Interval: h.Timeframe, PreparedAt: h.PreparedAt,
		Boundary: h.Boundary + " Not counted: " + strings.Join(h.OutOfScope, "; ") + ".", Destination: h.Destination,
		Flows: reportFlows(r), Diversion: reportDiversion(r), Emissions: reportEmissions(r.Emissions),
		ByMonth: mapped(r.ByMonth, flowLine), ByMaterial: mapped(r.ByMaterial, flowLine), BySite: mapped(r.BySite, flowLine),
		ByDonorClass: mapped(r.ByDonorClass, flowLine), ByBin: mapped(r.ByBin, binLine),
		Castings: api.ReportCastings{HarvestedG: int64(r.Castings.Harvested), GivenG: int64(r.Castings.Given),
			OnHandEndG: int64(r.Castings.OnHandEnd)},
		WormsMovedG: int64(r.Worms.Moved()),
		People: api.ReportPeople{Households: int32(r.Effort.Households), Members: int32(r.Effort.Members),
			Minutes: int32(r.Effort.Minutes), BinsInUse: int32(r.Effort.Bins)},
		Watch: mapped(r.Findings, watchLine), Records: int32(h.Records), DaysWithoutRecords: int32(h.DaysWithoutRecords),
		Uncertainty: h.UncertaintyText,
	}
}

func reportFlows(r season.Report) api.ReportFlows {
	b := r.Balance
	return api.ReportFlows{
		OnHandStartG: int64(b.OnHandStart), ReceivedG: int64(b.Received), RejectedG: int64(b.Rejected), AcceptedG: int64(b.Accepted),
		FedG: int64(b.Fed), OverflowG: int64(b.Overflow), SpoiledLandfillG: int64(b.SpoiledLandfill),
		SpoiledElsewhereG: int64(b.SpoiledElsewhere), WaterGainG: int64(b.WaterGain), WaterLossG: int64(b.WaterLoss),
		OnHandEndG: int64(b.OnHandEnd), BinToLandfillG: int64(b.BinToLandfill), BinToElsewhereG: int64(b.BinToElsewhere),
		DifferenceG: int64(b.In() - b.Out()),
	}
}

func reportDiversion(r season.Report) api.ReportDiversion {
	d, mix := r.Diverted, r.Header.Methods
	percent := func(part measure.Grams) float64 {
		if r.Balance.Received == 0 {
			return 0
		}
		return math.Round(float64(part)/float64(r.Balance.Received)*1000) / 10
	}
	return api.ReportDiversion{DivertedG: int64(d.Value), Low90G: int64(d.Low), High90G: int64(d.High),
		MeasuredPercent: percent(mix.Measured), EstimatedPercent: percent(mix.Estimated)}
}

func flowLine(p season.Part) api.FlowLine {
	return api.FlowLine{Key: p.Key, Label: p.Label, ReceivedG: int64(p.Received), RejectedG: int64(p.Rejected), FedG: int64(p.Fed),
		OverflowG: int64(p.Overflow), SpoiledG: int64(p.SpoiledLandfill + p.SpoiledElsewhere),
		TakenOutG: int64(p.BinToLandfill + p.BinToElsewhere), DivertedG: ptr(int64(p.Diverted))}
}

func binLine(p season.BinPart) api.FlowLine {
	return api.FlowLine{Key: p.Key, Label: p.Label, FedG: int64(p.Fed), TakenOutG: int64(p.ToLandfill + p.ToElsewhere)}
}

// watched puts the report's thresholds in words.
var watched = map[string]string{
	"week_max":       "mass received in one week",
	"week_mean":      "mean mass received in a week of a month",
	"on_site_volume": "volume on site: bins full to the brim, and scraps in storage at their most",
	"on_site_area":   "ground under bins",
}

func watchLine(f season.Finding) api.WatchLine {
	return api.WatchLine{What: watched[f.What], Limit: float64(f.Limit), Highest: float64(f.Actual), Unit: f.Unit,
		Over: f.Standing == season.Over}
}

func reportEmissions(e *season.Estimate) api.ReportEmissions {
	method := "landfill avoided only, no composting credit"
	if e.Credit == season.CompostCredit {
		method = "landfill avoided, with the credit of central composting"
	}
	out := api.ReportEmissions{FactorId: e.SetID, Version: e.Version, Method: method + "; " + e.Source, Caveats: e.Caveats,
		AvoidedKgCo2e: avoidedKg(e.Change), LowKgCo2e: avoidedKg(e.ChangeTo), HighKgCo2e: avoidedKg(e.ChangeFrom)}
	var mass, kg float64
	for _, l := range e.Lines {
		per := factorPerKg(l, e.LandfillShare)
		mass, kg = mass+float64(l.Diverted), kg+float64(l.Diverted)*per
		out.KgCo2ePerKg = per
		out.Lines = append(out.Lines, api.EmissionLine{Row: l.Row, DivertedG: int64(l.Diverted), KgCo2ePerKg: per, AvoidedKgCo2e: avoidedKg(l.Change)})
	}
	if len(e.Lines) > 1 && mass != 0 {
		out.KgCo2ePerKg = kg / mass
	}
	return out
}

// factorPerKg is kg CO2e avoided per kg: published grams per short ton of
// 907,184.74 g (NIST Handbook 44, Appendix C).
func factorPerKg(l season.EstimateLine, share season.PerMille) float64 {
	g := l.Landfilled
	if l.Composted != nil {
		g -= *l.Composted
	}
	per := float64(g) / 907184.74
	if share != 1000 {
		per *= float64(share) / 1000
	}
	return per
}

// avoidedKg prints a change in grams, of two significant figures, as kilograms
// avoided: what falls is avoided.
func avoidedKg(change int64) string {
	if change == 0 {
		return "0"
	}
	return strconv.FormatFloat(-float64(change)/1000, 'f', -1, 64)
}
