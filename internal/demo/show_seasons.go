package demo

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"midden/internal/measure"
	"midden/internal/season"
	"midden/internal/service"
)

const shownSeasons = 4

// seasons prints the reports of the last four whole seasons, side by side; of
// the one that runs when no other is over.
func (v *view) seasons(ctx context.Context, b *strings.Builder) error {
	spans, err := v.svc.Seasons(ctx, v.lead, v.garden.ID)
	if err != nil {
		return err
	}
	over := slices.DeleteFunc(slices.Clone(spans), func(x service.Span) bool { return x.Current })
	if len(over) == 0 {
		over = spans
	}
	over = over[:min(len(over), shownSeasons)]
	slices.Reverse(over)
	var reports []season.Report
	for _, x := range over {
		r, err := v.report(ctx, x)
		if err != nil {
			return err
		}
		reports = append(reports, r)
	}
	if len(reports) > 0 {
		v.sideBySide(b, reports)
	}
	return nil
}

// report is the season's latest, made now when there is none.
func (v *view) report(ctx context.Context, x service.Span) (season.Report, error) {
	kept, err := v.svc.Reports(ctx, v.lead, v.garden.ID, x.Key, service.Page{Limit: 1})
	if err != nil {
		return season.Report{}, err
	}
	if len(kept.Items) > 0 && !x.Current {
		r, err := v.svc.Report(ctx, v.lead, v.garden.ID, kept.Items[0].Kept.ID)
		return r.Report, err
	}
	made, err := v.svc.PrepareReport(ctx, v.lead, v.garden.ID, service.ReportWish{Season: x.Key}, service.Once{})
	return made.Value.Report, err
}

func (v *view) sideBySide(b *strings.Builder, reports []season.Report) {
	heading(b, "The last seasons")
	f := func(g measure.Grams) string { return g.Format(v.units) }
	balance := func(of func(season.Balance) measure.Grams) func(season.Report) string {
		return func(r season.Report) string { return f(of(r.Balance)) }
	}
	rows := []struct {
		label string
		of    func(season.Report) string
	}{
		{"", func(r season.Report) string { return r.Header.SeasonLabel }},
		{"on hand at the start", balance(func(x season.Balance) measure.Grams { return x.OnHandStart })},
		{"received", balance(func(x season.Balance) measure.Grams { return x.Received })},
		{"rejected", balance(func(x season.Balance) measure.Grams { return x.Rejected })},
		{"fed to worms", balance(func(x season.Balance) measure.Grams { return x.Fed })},
		{"to overflow", balance(func(x season.Balance) measure.Grams { return x.Overflow })},
		{"spoiled, to landfill", balance(func(x season.Balance) measure.Grams { return x.SpoiledLandfill })},
		{"spoiled, elsewhere", balance(func(x season.Balance) measure.Grams { return x.SpoiledElsewhere })},
		{"water lost", balance(func(x season.Balance) measure.Grams { return x.WaterLoss - x.WaterGain })},
		{"on hand at the end", balance(func(x season.Balance) measure.Grams { return x.OnHandEnd })},
		{"diverted", func(r season.Report) string { return f(r.Diverted.Value) }},
		{"  9 in 10 between", func(r season.Report) string { return f(r.Diverted.Low) + " and " + f(r.Diverted.High) }},
		{"measured / estimated", func(r season.Report) string {
			m := r.Header.Methods
			return percent(m.Measured, m.Measured+m.Estimated) + " / " + percent(m.Estimated, m.Measured+m.Estimated)
		}},
		{"castings made", func(r season.Report) string { return f(r.Castings.Harvested) }},
		{"castings given away", func(r season.Report) string { return f(r.Castings.Given) }},
		{"bins, hours", func(r season.Report) string { return fmt.Sprintf("%d, %d h", r.Effort.Bins, r.Effort.Minutes/60) }},
		{"emissions avoided *", func(r season.Report) string {
			if r.Emissions == nil {
				return "-"
			}
			return f(measure.Grams(-r.Emissions.Change)) + " CO2e"
		}},
	}
	table(b, func(t io.Writer) {
		for _, row := range rows {
			fmt.Fprint(t, row.label)
			for _, r := range reports {
				fmt.Fprint(t, "\t", row.of(r))
			}
			fmt.Fprintln(t)
		}
	})
	if e := reports[len(reports)-1].Emissions; e != nil {
		fmt.Fprintf(b, "\n* An estimate: %s, %s.\n", e.Title, e.Source)
		for _, c := range e.Caveats {
			fmt.Fprintf(b, "  %s\n", c)
		}
	}
}

func percent(part, whole measure.Grams) string {
	if whole == 0 {
		return "-"
	}
	return measure.Percent(100 * float64(part) / float64(whole)).String()
}
