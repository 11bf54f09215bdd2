package service

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/season"
	"midden/internal/store"
)

// Span is a season of a garden's calendar. Current tells whether it holds today.
type Span struct {
	season.Season
	Current bool
}

// calendarOf is the garden's season calendar.
func calendarOf(g farm.Garden) (*season.Calendar, error) {
	set := season.CalendarSettings{Kind: season.North, Zone: g.TimeZone}
	switch {
	case g.Settings.Calendar.Kind == farm.CustomCalendar:
		set.Kind = season.Custom
		for _, c := range g.Settings.Calendar.Seasons {
			set.Custom = append(set.Custom, season.Named{Key: c.Key, Label: c.Label, DayRange: measure.DayRange{Start: c.Start, End: c.End}})
		}
	case g.Hemisphere == farm.South:
		set.Kind = season.South
	}
	return season.NewCalendar(set)
}

// mostSeasons bounds a list that has no pages: fifty years of four.
const mostSeasons = 200

// Seasons lists the seasons since the garden opened, which is its founding or
// the first day with an entry, newest first.
func (s *Service) Seasons(ctx context.Context, a Actor, garden uuid.UUID) ([]Span, error) {
	var first *store.Row[measure.Day]
	g, _, err := s.read(ctx, a, garden, farm.ReadReports, func(b *store.Batch) { first = b.FirstDay() })
	if err != nil {
		return nil, err
	}
	cal, err := calendarOf(g)
	if err != nil {
		return nil, err
	}
	today, opened := cal.DayOf(s.now()), cal.DayOf(g.CreatedAt)
	if first.Found && first.Value.Before(opened) {
		opened = first.Value
	}
	var out []Span
	for _, piece := range cal.Cover(measure.DayRange{Start: opened, End: today.Add(1)}) {
		if whole, ok := cal.SeasonOf(piece.Start); ok {
			out = append(out, Span{whole, whole.Contains(today)})
		}
	}
	slices.Reverse(out)
	return out[:min(len(out), mostSeasons)], nil
}

// SeasonReport is a kept report, its digest proved. Current tells whether its
// season holds today.
type SeasonReport struct {
	Kept    store.KeptReport
	Report  season.Report
	Current bool
}

func openReport(k store.KeptReport, current bool) (SeasonReport, error) {
	r, err := season.Open(k.Canonical, k.SHA256)
	return SeasonReport{k, r, current}, err
}

// ReportWish is a wish for a season's report. ID may be the client's own.
type ReportWish struct {
	ID     uuid.UUID
	Season string
}

// PrepareReport makes a season's report from the ledger and keeps it as the
// season's next revision. It refuses with season.unknown, season.not_begun,
// report.exists, and with report.unbalanced, naming material and grams, when
// the ledger does not come out to the gram.
//
// The ledger is read in one snapshot, with no row locked; the report is kept
// in a transaction of its own, which alone knows the revision.
func (s *Service) PrepareReport(ctx context.Context, a Actor, garden uuid.UUID, in ReportWish, once Once) (Done[SeasonReport], error) {
	content, err := digest(in)
	if err != nil {
		return Done[SeasonReport]{}, err
	}
	in.ID = s.idOr(in.ID)
	draft, err := s.draftReport(ctx, a, garden, in.Season)
	if err != nil {
		return Done[SeasonReport]{}, err
	}
	type known struct {
		made[store.KeptReport]
		last *store.Row[int]
	}
	return write(ctx, s, a, garden, farm.PrepareReport, once,
		func(tx *store.Tx) known {
			return known{made[store.KeptReport]{tx.SeasonReportContent(in.ID), tx.SeasonReport(in.ID)}, tx.LastRevision(draft.season.Key)}
		},
		func(w *Work, k known) (SeasonReport, error) {
			if same, err := again(k.content, content, "report.exists"); err != nil {
				return SeasonReport{}, err
			} else if same {
				return openReport(k.row.Value, draft.current)
			}
			r := draft.report
			r.Header.Revision = k.last.Value + 1
			bytes, err := r.Canonical()
			if err != nil {
				return SeasonReport{}, err
			}
			kept := store.KeptReport{ID: in.ID, Season: draft.season, Revision: r.Header.Revision, PreparedAt: r.Header.PreparedAt,
				PreparedBy: w.Member.ID, Diverted: r.Balance.Diverted, SHA256: season.Digest(bytes), Canonical: bytes}
			if err := w.InsertSeasonReport(kept, content); err != nil {
				return SeasonReport{}, err
			}
			return SeasonReport{kept, r, draft.current}, nil
		})
}

type reportDraft struct {
	season  season.Season
	current bool
	report  season.Report
}

// draftReport works a season out, as revision 1.
func (s *Service) draftReport(ctx context.Context, a Actor, garden uuid.UUID, key string) (reportDraft, error) {
	g, me, err := s.read(ctx, a, garden, farm.PrepareReport, func(*store.Batch) {})
	if err != nil {
		return reportDraft{}, err
	}
	now := s.now()
	cal, err := calendarOf(g)
	if err != nil {
		return reportDraft{}, err
	}
	which, err := cal.ByKey(key)
	if err != nil {
		return reportDraft{}, err
	}
	today := cal.DayOf(now)
	if which.Start.After(today) {
		return reportDraft{}, farm.Refuse("season.not_begun", "/season", "season: %s begins on %s; today is %s", which.Label, which.Start, today)
	}
	facts, err := s.reportFacts(ctx, a, garden, which)
	if err != nil {
		return reportDraft{}, err
	}
	report, err := season.Build(s.reportInput(g, me, cal, which, facts, now))
	return reportDraft{which, which.Contains(today), report}, err
}

// reportFacts is what the ledger and the garden hold for a report, all of one
// instant.
type reportFacts struct {
	totals     *store.Rows[ledger.KeyedTotal] // of the season's whole weeks
	start, end *store.Rows[store.SubstanceStock]
	castings   *store.Rows[store.SubstanceStock]
	counts     *store.Rows[store.KindCount]
	minutes    *store.Rows[store.MemberMinutes]
	sites      *store.Rows[farm.Site]
	bins       *store.Rows[farm.Bin]
	overrides  *store.Rows[farm.MaterialOverride]
}

func (s *Service) reportFacts(ctx context.Context, a Actor, garden uuid.UUID, which season.Season) (reportFacts, error) {
	var f reportFacts
	last := which.End.Add(-1)
	err := s.store.Snapshot(ctx, a.in(garden), func(b *store.Batch) {
		f = reportFacts{
			totals:    b.Totals(season.WholeWeeks(which.DayRange), reportKinds...),
			start:     b.StockOn(which.Start.Add(-1), ledger.Lot),
			end:       b.StockOn(last, ledger.Lot),
			castings:  b.StockOn(last, ledger.Castings),
			counts:    b.EntryCounts(which.DayRange),
			minutes:   b.MinutesByMember(which.DayRange),
			sites:     b.EverySite(),
			bins:      b.EveryBin(),
			overrides: b.MaterialOverrides(),
		}
	})
	return f, err
}

func (s *Service) reportInput(g farm.Garden, me farm.Member, cal *season.Calendar, which season.Season, f reportFacts, now time.Time) season.Input {
	set := g.Settings
	moves := movements(f.totals.Values, which.DayRange, set)
	start := stocks(f.start.Values)
	castings, worms, bins, households, members := activity(f.totals.Values, which.DayRange)
	for _, c := range f.castings.Values {
		castings.OnHandEnd += c.Grams
	}
	for _, c := range f.counts.Values {
		switch c.Kind {
		case ledger.KindHarvest:
			castings.Harvests = c.N
		case ledger.KindGiveaway:
			castings.Giveaways = c.N
		case ledger.KindWormTransfer:
			worms.Transfers = c.N
		}
	}
	var worked int64
	for _, m := range f.minutes.Values {
		members[m.Member] = true
		worked += m.Minutes
	}
	labels := map[season.Dimension]map[string]string{season.BySite: {}, season.ByBin: {}, season.ByMaterial: {},
		season.ByDonorClass: {"household": "households", "member": "members", "unknown": "unknown givers"}}
	for _, x := range f.sites.Values {
		labels[season.BySite][x.ID.String()] = x.Name
	}
	for _, x := range f.bins.Values {
		labels[season.ByBin][x.ID.String()] = x.Name
	}
	density, groups := map[string]float64{}, map[string]farm.Group{}
	for _, m := range s.knownMaterials(f.overrides.Values) {
		labels[season.ByMaterial][m.Key], groups[m.Key], density[m.Key] = m.Name, m.Group, m.DensityGPerL.Value
	}
	uncertainty := spreadOf(set)
	return season.Input{
		// Whoever prepared it is kept beside the report: its bytes name nobody.
		Garden: g.Name, PreparedBy: "a " + string(me.Role) + " of the garden", PreparedAt: now, Revision: 1,
		Calendar: cal, Season: which, Movements: moves, StockStart: start, StockEnd: stocks(f.end.Values),
		Around: receivedByDay(f.totals.Values), Labels: labels, Groups: groups, Uncertainty: &uncertainty,
		Watch: season.Watch{WeekMax: measure.Grams(set.WeeklyLimitG), OnSiteVolume: measure.Millilitres(set.VolumeLimitL * 1000),
			OnSiteArea: measure.SquareCentimetres(set.AreaLimitM2 * 10_000), Note: set.LimitsNote},
		OnSite:    onSite(f.bins.Values, which.End.Start(cal.Zone()), moves, start, which.DayRange, density),
		Emissions: &season.EmissionChoice{Set: season.WARM16},
		Castings:  castings, Worms: worms,
		Effort: season.Effort{Bins: len(bins), Households: len(households), Members: len(members), Minutes: worked},
	}
}

// spreadOf turns the garden's standard deviations into the half-widths that
// hold nine in ten (JCGM 100:2008, table G.2: 1.645).
func spreadOf(s farm.Settings) season.Uncertainty {
	half := func(permille int) season.PerMille { return season.PerMille(min((permille*1645+500)/1000, 2000)) }
	return season.Uncertainty{Weighed: half(s.ScaleSDPermille), Container: half(s.ContainerSDPct * 10), Estimated: half(s.EstimateSDPct * 10)}
}

// Reports lists kept reports, the latest first, of one season or of all.
func (s *Service) Reports(ctx context.Context, a Actor, garden uuid.UUID, seasonKey string, p store.Page) (store.List[SeasonReport], error) {
	var page *store.Paged[store.KeptReport]
	g, _, err := s.read(ctx, a, garden, farm.ReadReports, func(b *store.Batch) { page = b.SeasonReports(seasonKey, p) })
	if err != nil {
		return store.List[SeasonReport]{}, err
	}
	today, err := g.DayOf(s.now())
	if err != nil {
		return store.List[SeasonReport]{}, err
	}
	list := page.List()
	out := store.List[SeasonReport]{Next: list.Next, Items: make([]SeasonReport, 0, len(list.Items))}
	for _, k := range list.Items {
		out.Items = append(out.Items, SeasonReport{Kept: k, Current: k.Season.Contains(today)})
	}
	return out, nil
}

// Report is one kept report. It refuses with report.not_found, and with
// report.altered when its bytes are not those that were prepared.
func (s *Service) Report(ctx context.Context, a Actor, garden, id uuid.UUID) (SeasonReport, error) {
	var row *store.Row[store.KeptReport]
	g, _, err := s.read(ctx, a, garden, farm.ReadReports, func(b *store.Batch) { row = b.SeasonReport(id) })
	if err != nil {
		return SeasonReport{}, err
	}
	k, err := row.Or("report.not_found", "no report %s in this garden", id)
	if err != nil {
		return SeasonReport{}, err
	}
	today, err := g.DayOf(s.now())
	if err != nil {
		return SeasonReport{}, err
	}
	return openReport(k, k.Season.Contains(today))
}
