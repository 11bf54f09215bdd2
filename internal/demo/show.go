package demo

import (
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/vermi"
)

// Show prints the garden as it stands: its bins today, the plan for the next 14
// days, which it works out and publishes, and the last four seasons. Every
// number comes from the service.
func Show(ctx context.Context, w io.Writer, svc *service.Service, lead service.Actor, garden uuid.UUID) error {
	g, _, err := svc.Garden(ctx, lead, garden)
	if err != nil {
		return err
	}
	v := &view{svc: svc, lead: lead, garden: g, units: g.Units, names: map[uuid.UUID]string{}}
	if err := v.learnNames(ctx); err != nil {
		return err
	}
	for _, part := range []func(context.Context, *strings.Builder) error{v.binsToday, v.planAhead, v.seasons} {
		var b strings.Builder
		if err := part(ctx, &b); err != nil {
			return err
		}
		if _, err := io.WriteString(w, b.String()); err != nil {
			return err
		}
	}
	return nil
}

// view prints one garden in its units.
type view struct {
	svc    *service.Service
	lead   service.Actor
	garden farm.Garden
	units  measure.System
	names  map[uuid.UUID]string // of sites, bins and members
}

func (v *view) learnNames(ctx context.Context) error {
	all := service.Page{Limit: 200}
	sites, err := v.svc.Sites(ctx, v.lead, v.garden.ID, "", all)
	if err != nil {
		return err
	}
	for _, x := range sites.Items {
		v.names[x.ID] = x.Name
	}
	bins, err := v.svc.Bins(ctx, v.lead, v.garden.ID, service.BinFilter{}, all)
	if err != nil {
		return err
	}
	for _, x := range bins.Items {
		v.names[x.ID] = x.Name
	}
	people, err := v.svc.Members(ctx, v.lead, v.garden.ID, service.MemberFilter{}, all)
	if err != nil {
		return err
	}
	for _, x := range people.Items {
		v.names[x.ID] = x.DisplayName
	}
	return nil
}

func (v *view) grams(g float64) string { return measure.Grams(g + 0.5).Format(v.units) }

// between prints an estimate with the ends of nine in ten.
func (v *view) between(e vermi.Estimated) string {
	return fmt.Sprintf("%s (%s to %s)", v.grams(e.Mean), v.grams(e.P05), v.grams(e.P95))
}

func (v *view) length(mm float64) string {
	if v.units == measure.US {
		return fmt.Sprintf("%.1f in", mm/25.4)
	}
	return fmt.Sprintf("%.0f mm", mm)
}

// table aligns columns; trailing blanks are cut off.
func table(b *strings.Builder, fill func(t io.Writer)) {
	var raw strings.Builder
	t := tabwriter.NewWriter(&raw, 0, 0, 2, ' ', 0)
	fill(t)
	_ = t.Flush() // into memory
	for line := range strings.Lines(raw.String()) {
		b.WriteString(strings.TrimRight(line, " \n") + "\n")
	}
}

func heading(b *strings.Builder, format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	fmt.Fprintf(b, "\n%s\n%s\n\n", text, strings.Repeat("=", len([]rune(text))))
}

// binsToday is a line for each bin, those in need first.
func (v *view) binsToday(ctx context.Context, b *strings.Builder) error {
	bins, err := v.svc.BinsToday(ctx, v.lead, v.garden.ID)
	if err != nil {
		return err
	}
	heading(b, "%s: the bins today", v.garden.Name)
	table(b, func(t io.Writer) {
		fmt.Fprintln(t, "bin\tmethod\tsite\tworms (9 in 10)\teats a day\tuneaten\tfree\tbed\tneeds first")
		for _, x := range bins {
			s := x.State
			need := "nothing: leave it alone"
			if len(s.Needs) > 0 {
				need = fmt.Sprintf("%s: %s", s.Needs[0].Urgency, words(s.Needs[0].Code))
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", x.Bin.Name, words(string(x.Bin.Method)), v.names[x.Bin.SiteID], v.between(s.Worms),
				v.grams(s.Appetite.PerDayG.Mean), v.grams(s.Backlog.Total.Mean), v.length(s.FreeMM), measure.Celsius(s.TempC).Format(v.units), need)
		}
	})
	urgent := 0
	for _, x := range bins {
		if len(x.State.Needs) == 0 || x.State.Needs[0].Urgency < vermi.Now || urgent == 3 {
			continue
		}
		urgent++
		n := x.State.Needs[0]
		fmt.Fprintf(b, "\n%s: %s\n  why: %s\n", x.Bin.Name, n.Do, n.Why)
		if n.Caution != "" {
			fmt.Fprintf(b, "  caution: %s\n", n.Caution)
		}
	}
	b.WriteString("\nWorms are an estimate from what was weighed, fed and seen. Local guidance comes first.\n")
	return nil
}

// words makes a code readable.
func words(code string) string { return strings.ReplaceAll(code, "_", " ") }

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
