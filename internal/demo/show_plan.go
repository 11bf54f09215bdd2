package demo

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// planAhead works a plan out, publishes it and prints it day by day.
func (v *view) planAhead(ctx context.Context, b *strings.Builder) error {
	made, err := v.svc.ComputePlan(ctx, v.lead, v.garden.ID, farm.PlanRequest{Days: planDays, Expected: true}, service.Once{})
	if err != nil {
		return err
	}
	done, err := v.svc.PublishPlan(ctx, v.lead, v.garden.ID, made.Value.ID, service.Once{})
	if err != nil {
		return err
	}
	p := done.Value
	heading(b, "The plan from %s for %d days, published", p.Request.From, p.Request.Days)
	table(b, func(t io.Writer) {
		fmt.Fprintln(t, "day\twho\tdo\twhat\thow much\tto\tbedding")
		last := measure.Day{}
		for _, x := range visitsOf(p.Tasks) {
			day := ""
			if x.task.Day != last {
				last, day = x.task.Day, x.task.Day.Weekday().String()[:3]+" "+x.task.Day.String()[5:]
			}
			fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", day, orDash(v.who(x.task)), words(string(x.task.Kind)), v.what(x), x.mass.Format(v.units),
				v.where(x.task), v.massOrDash(x.bedding))
		}
	})
	v.proof(b, p)
	return nil
}

func (v *view) who(t farm.PlanTask) string {
	var out []string
	for _, k := range t.KeeperIDs {
		out = append(out, v.names[k])
	}
	return strings.Join(out, " or ")
}

func (v *view) where(t farm.PlanTask) string {
	if t.BinID == uuid.Nil {
		return "at " + v.names[t.SiteID]
	}
	return v.names[t.BinID]
}

func (v *view) massOrDash(g measure.Grams) string {
	if g == 0 {
		return "-"
	}
	return g.Format(v.units)
}

// planVisit is all that is to be done at one bin, or at one site, on a day.
type planVisit struct {
	task          farm.PlanTask // the first of them
	parts         []planPart
	mass, bedding measure.Grams
}

type planPart struct {
	material string
	expected bool
	mass     measure.Grams
}

// visitsOf gathers tasks of the same kind, day and place, in their order.
func visitsOf(tasks []farm.PlanTask) []*planVisit {
	var out []*planVisit
	for _, t := range tasks {
		i := slices.IndexFunc(out, func(x *planVisit) bool {
			return x.task.Kind == t.Kind && x.task.Day == t.Day && x.task.BinID == t.BinID && (t.BinID != uuid.Nil || x.task.SiteID == t.SiteID)
		})
		if i < 0 {
			i = len(out)
			out = append(out, &planVisit{task: t})
		}
		x := out[i]
		x.mass, x.bedding = x.mass+t.Mass, x.bedding+t.Bedding
		j := slices.IndexFunc(x.parts, func(p planPart) bool { return p.material == t.Material && p.expected == (t.Expected != "") })
		if j < 0 {
			j = len(x.parts)
			x.parts = append(x.parts, planPart{material: t.Material, expected: t.Expected != ""})
		}
		x.parts[j].mass += t.Mass
	}
	return out
}

// namedParts is how many materials a line names.
const namedParts = 3

// what names the most of what is fed, and says how much of it is only expected.
func (v *view) what(x *planVisit) string {
	if x.task.Kind == farm.TaskStartBedding {
		return "bedding to age"
	}
	slices.SortStableFunc(x.parts, func(a, b planPart) int { return cmp.Compare(b.mass, a.mass) })
	var names []string
	var expected measure.Grams
	for _, p := range x.parts {
		if p.expected {
			expected += p.mass
		}
		if name := words(p.material); !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	text := strings.Join(names[:min(len(names), namedParts)], ", ")
	if more := len(names) - namedParts; more > 0 {
		text += fmt.Sprintf(" + %d", more)
	}
	if expected > 0 {
		text += fmt.Sprintf(" (%s expected)", expected.Format(v.units))
	}
	return text
}

// proof prints what the plan is worth, how near to the best it is proven to be,
// and what holds it back.
func (v *view) proof(b *strings.Builder, p service.Plan) {
	s := p.Totals
	f := func(g measure.Grams) string { return g.Format(v.units) }
	fmt.Fprintf(b, "\n%s to place: %s fed, %s kept frozen, %s to overflow, %s turned away; %s of bedding in %d visits\n",
		f(s.Supply), f(s.Fed), f(s.Frozen), f(s.Overflow), f(s.Declined), f(s.Bedding), s.Visits)
	status := "no better plan exists"
	if !p.Proof.Optimal {
		status = "stopped early: " + p.Proof.Stopped
	}
	fmt.Fprintf(b, "cost %.1f points, proven bound %.1f, gap %.4f %%: %s\n", float64(p.Proof.Value)/1000, float64(p.Proof.Bound)/1000,
		float64(p.Proof.GapPPM)/10_000, status)
	for i, x := range p.Bindings {
		if i == 6 {
			fmt.Fprintf(b, "… and %d more limits that bind\n", len(p.Bindings)-i)
			break
		}
		fmt.Fprintf(b, "binds: %s. %s\n", x.What, x.Sentence)
	}
	for i, n := range p.Notes {
		if i == 6 {
			fmt.Fprintf(b, "… and %d more notes\n", len(p.Notes)-i)
			break
		}
		fmt.Fprintf(b, "note: %s\n", n)
	}
}
