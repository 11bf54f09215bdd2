package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/planner"
	"midden/internal/service"
)

// PlanRequest is what to work out a plan for.
type PlanRequest struct {
	Garden   uuid.UUID
	From     string // YYYY-MM-DD; empty: the garden's today
	Days     int
	Nearest  int // bins a lot considers; 0: as many as is sensible
	Expected bool
	JSON     bool // the problem, the result and the tasks instead of a table
}

// Plan works out a plan from a garden's records and writes it to w. Nothing is
// kept: a plan that people shall follow is made and published over the API.
func Plan(ctx context.Context, cfg Config, o Options, w io.Writer, r PlanRequest) error {
	req := farm.PlanRequest{Days: r.Days, Nearest: r.Nearest, Expected: r.Expected}
	if r.From != "" {
		var err error
		if req.From, err = measure.ParseDay(r.From); err != nil {
			return fmt.Errorf("plan: from: %w", err)
		}
	}
	return withStore(ctx, cfg, o, func(p *Program) error {
		plan, err := p.useCases(nil).PreviewPlan(ctx, r.Garden, req)
		if err != nil {
			return err
		}
		if r.JSON {
			return writeJSON(w, map[string]any{"problem": json.RawMessage(plan.Problem), "result": json.RawMessage(plan.Result),
				"notes": plan.Notes, "bindings": plan.Bindings})
		}
		return writePlan(w, plan)
	})
}

// writePlan prints who does what, by day and site, then the sums and the proof.
func writePlan(w io.Writer, p service.Preview) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Plan from %s for %d days, as of %s\n", p.Request.From, p.Request.Days, p.AsOf)
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	var day measure.Day
	for _, x := range p.Tasks {
		if x.Day != day {
			day = x.Day
			fmt.Fprintf(t, "\n%s %s\n", day.Weekday(), day)
			fmt.Fprintln(t, "  site\twho\tdo\twhat\thow much\twhere\tbedding")
		}
		var who []string
		for _, k := range x.KeeperIDs {
			who = append(who, p.Names[k])
		}
		what := x.Material
		if x.Expected != "" {
			what = x.Expected
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\t%s\t%s\n", orDash(p.Names[x.SiteID]), orDash(strings.Join(who, ", ")),
			strings.ReplaceAll(string(x.Kind), "_", " "), orDash(strings.ReplaceAll(what, "_", " ")), kg(x.Mass), orDash(p.Names[x.BinID]), kgOrDash(x.Bedding))
	}
	_ = t.Flush() // into memory
	s := p.Totals
	fmt.Fprintf(&b, "\nsupply %s = fed %s + frozen at the end %s + overflow %s + turned away %s\n", kg(s.Supply), kg(s.Fed), kg(s.Frozen), kg(s.Overflow), kg(s.Declined))
	fmt.Fprintf(&b, "bedding %s in %d visits\n", kg(s.Bedding), s.Visits)
	writeProof(&b, p.Proof.Value, p.Proof.Bound, p.Proof.GapPPM, p.Proof.ControllablePPM, p.Proof.Optimal, p.Proof.Stopped)
	for _, x := range p.Bindings {
		fmt.Fprintf(&b, "binds: %s. %s\n", x.What, x.Sentence)
	}
	for _, n := range p.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writeProof(b *strings.Builder, value, bound, gap, controllable int64, proven bool, stopped string) {
	status := "proven best"
	if !proven {
		status = "stopped early: " + stopped
	}
	fmt.Fprintf(b, "cost %d, proven bound %d, gap %.4f %% (%.4f %% of what planning can influence); %s\n",
		value, bound, float64(gap)/10_000, float64(controllable)/10_000, status)
}

// SolvePlan solves a planning problem, without a database, and writes the
// result as JSON. It refuses a problem that is not well formed, naming each
// fault.
func SolvePlan(ctx context.Context, w io.Writer, problem []byte) error {
	p, err := planner.Parse(problem)
	if err != nil {
		return err
	}
	r, err := planner.Solve(ctx, p, planner.Options{Explain: true})
	if err != nil {
		return err
	}
	return writeJSON(w, r)
}

// CheckPlan adds up a plan against its problem again, without the engine that
// made it, and writes a line for each fault and one to sum up. It tells how
// many faults there were.
func CheckPlan(w io.Writer, problem, result []byte) (faults int, err error) {
	p, err := planner.Parse(problem)
	if err != nil {
		return 0, err
	}
	for _, f := range p.Validate() {
		if !f.Note {
			return 0, &planner.InvalidError{Faults: []planner.Fault{f}}
		}
	}
	var r planner.Result
	if err := json.Unmarshal(result, &r); err != nil {
		return 0, fmt.Errorf("planning result: %w", err)
	}
	found := planner.Check(p, &r)
	for _, f := range found {
		if _, err := fmt.Fprintln(w, f); err != nil {
			return 0, err
		}
	}
	_, err = fmt.Fprintf(w, "feedings: %d; cost: %d; lower bound: %d; faults: %d\n", len(r.Feedings), r.Value, r.Bound, len(found))
	return len(found), err
}

func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

func kg(g measure.Grams) string { return fmt.Sprintf("%.3f kg", float64(g)/1000) }

func kgOrDash(g measure.Grams) string {
	if g == 0 {
		return "-"
	}
	return kg(g)
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}
