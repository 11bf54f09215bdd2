package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/google/uuid"

	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// ScrapLogImport says what log goes where, as a person says it.
type ScrapLogImport struct {
	Garden    uuid.UUID
	As        string            // address of the coordinator or keeper who imports
	Site      string            // empty: the garden's usual site, or its only one
	FedTo     string            // empty: everything is on hand
	Bucket    string            // "5gal"; empty: that
	Density   string            // "3.8lb/gal"; empty: that
	Dates     string            // YYYY-MM-DD, DD/MM/YYYY or MM/DD/YYYY; empty: the first
	Materials map[string]string // words of the log and the keys they mean
	DryRun    bool
}

// ErrFaults ends an import whose log has rows at fault. They were printed and
// nothing was written.
var ErrFaults = errors.New("rows at fault")

// ImportScrapLog takes a log of scraps received into a garden, all of it or
// nothing, and writes what it did to w. It fails with ErrFaults when a row is
// at fault, after it has listed every fault of every row.
func ImportScrapLog(ctx context.Context, cfg Config, o Options, log io.Reader, w io.Writer, in ScrapLogImport) error {
	return withStore(ctx, cfg, o, func(p *Program) error {
		svc := p.useCases(nil)
		actor, err := svc.ActorByEmail(ctx, in.As)
		if err != nil {
			return err
		}
		garden, _, err := svc.Garden(ctx, actor, in.Garden)
		if err != nil {
			return err
		}
		opt, err := in.options()
		if err != nil {
			return err
		}
		if opt.NotAfter, err = garden.DayOf(p.now()); err != nil {
			return err
		}
		opt.NotBefore = garden.Settings.OpenFrom
		reader, err := exchange.OpenScrapLog(log, opt)
		if err != nil {
			return err
		}
		rows, faults, err := reader.ReadAll()
		if err != nil {
			return err
		}
		done, err := svc.ImportScraps(ctx, actor, in.Garden, service.ScrapImport{Rows: rows, Site: in.Site, FedTo: in.FedTo,
			Words: in.Materials, Bucket: opt.Bucket, DryRun: in.DryRun || len(faults) > 0})
		if err != nil {
			return err
		}
		done.Faults = append(done.Faults, faults...)
		slices.SortStableFunc(done.Faults, func(a, b exchange.RowFault) int { return cmp.Compare(a.Line, b.Line) })
		return tellImport(w, garden, reader.Ignored(), in, done)
	})
}

func (in ScrapLogImport) options() (opt exchange.ScrapLogOptions, err error) {
	opt.Dates = exchange.DateForm(in.Dates)
	if opt.Bucket, err = quantity("bucket volume", orElse(in.Bucket, "5gal")); err != nil {
		return opt, err
	}
	if in.Density == "" {
		return opt, nil
	}
	mass, volume, cut := strings.Cut(in.Density, "/")
	m, err := quantity("bucket density", mass)
	if err != nil || !cut {
		return opt, badDensity(in.Density)
	}
	if volume = strings.TrimSpace(volume); !strings.ContainsAny(volume, "0123456789") {
		volume = "1" + volume
	}
	v, err := quantity("bucket density", volume)
	if err != nil {
		return opt, badDensity(in.Density)
	}
	if opt.Density, err = measure.DensityOf(m, v); err != nil {
		return opt, badDensity(in.Density)
	}
	return opt, nil
}

func badDensity(text string) error {
	return farm.Refuse(exchange.CodeImportOptions, "", "bucket density: must be a mass for a volume such as 3.8lb/gal or 455g/L; got %q", text)
}

func orElse(text, other string) string {
	if text == "" {
		return other
	}
	return text
}

// quantity reads "5gal" or "20 L".
func quantity(what, text string) (measure.Quantity, error) {
	text = strings.TrimSpace(text)
	at := strings.IndexFunc(text, func(r rune) bool { return r != '.' && (r < '0' || r > '9') })
	if at > 0 {
		if unit, err := measure.ParseUnit(strings.TrimSpace(text[at:])); err == nil {
			return measure.Quantity{Value: text[:at], Unit: unit}, nil
		}
	}
	return measure.Quantity{}, farm.Refuse(exchange.CodeImportOptions, "", "%s: must be a number and a unit such as 5gal or 20L; got %q", what, text)
}

func tellImport(w io.Writer, g farm.Garden, ignored []string, in ScrapLogImport, done service.Imported) error {
	var b strings.Builder
	for _, f := range done.Faults {
		fmt.Fprintf(&b, "line %d", f.Line)
		if f.Column != "" {
			fmt.Fprintf(&b, ", column %q", f.Column)
		}
		fmt.Fprintf(&b, ": %s [%s]\n", f.Message, f.Code)
	}
	if len(ignored) > 0 {
		fmt.Fprintf(&b, "columns not read: %s\n", strings.Join(ignored, ", "))
	}
	did := "taken in"
	switch {
	case len(done.Faults) > 0:
		did = "could be taken in; nothing was written"
	case in.DryRun:
		did = "would be taken in; nothing was written"
	}
	fmt.Fprintf(&b, "%s, %s\nrows %s: %d (%s)\nrows already there: %d\nhouseholds new: %d\n", g.Name, done.Site, did, done.New,
		done.NewMass.Format(g.Units), done.Known, len(done.Households))
	if in.FedTo != "" {
		fmt.Fprintf(&b, "feedings: %d\n", done.Feedings)
	}
	fmt.Fprintf(&b, "rows at fault: %d\n", faultyRows(done.Faults))
	if _, err := io.WriteString(w, b.String()); err != nil {
		return err
	}
	if len(done.Faults) > 0 {
		return ErrFaults
	}
	return nil
}

func faultyRows(faults []exchange.RowFault) int {
	lines := map[int]bool{}
	for _, f := range faults {
		lines[f.Line] = true
	}
	return len(lines)
}
