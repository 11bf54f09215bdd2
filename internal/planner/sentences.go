package planner

import (
	"fmt"
	"strconv"
	"strings"
)

// say puts a reason into a sentence for the people who carry the food.
func (x *explainer) say(rs Reason, i int) Reason {
	p, l := x.n.p, &x.n.p.Lots[i]
	lot := fmt.Sprintf("%s of %s", p.mass(rs.Mass), name(l.Label, l.ID))
	bin, other := x.binName(rs.Bin), x.binName(rs.Other)
	group := x.groupName(l)
	var b strings.Builder
	switch rs.Code {
	case PlacedOnly:
		fmt.Fprintf(&b, "%s goes to %s: no other bin within reach could take it in time.", lot, bin)
	case PlacedNearer:
		fmt.Fprintf(&b, "%s goes to %s: %s would do, but is farther to carry.", lot, bin, other)
	case PlacedFuller:
		fmt.Fprintf(&b, "%s goes to %s rather than %s: %s.", lot, bin, other, against(rs.Cause, other, group))
	case PlacedAsGood:
		fmt.Fprintf(&b, "%s goes to %s; %s would do just as well.", lot, bin, other)
	case PlacedThawed:
		fmt.Fprintf(&b, "%s goes to %s from the freezer: there is better room for it on that day.", lot, bin)
	case PlacedStopped:
		fmt.Fprintf(&b, "%s goes to %s; the search was stopped before a better place could be ruled out.", lot, bin)
	case KeptFrozen:
		fmt.Fprintf(&b, "%s stays in the freezer: no bin has better room for it before the last day of the plan.", lot)
	default:
		x.sayLeft(&b, lot, group, &rs, l)
	}
	rs.Text = b.String()
	return rs
}

func (x *explainer) sayLeft(b *strings.Builder, lot, group string, rs *Reason, l *Lot) {
	p := x.n.p
	fate := "is left over"
	if l.Kind != OnHand {
		fate = "is better declined"
	}
	fmt.Fprintf(b, "%s %s: ", lot, fate)
	window := p.window(l)
	switch rs.Code {
	case LeftPastUse:
		b.WriteString("it is past its last good day when it arrives")
	case LeftNoBin:
		b.WriteString("no bin is within reach")
	case LeftNoVisit:
		b.WriteString("no keeper comes to a bin within reach")
	case LeftTooLate:
		fmt.Fprintf(b, "it keeps only until %s and the next keeper comes on %s", p.day(p.lastDay(l)), p.day(*rs.Day))
	case LeftNever:
		fmt.Fprintf(b, "no bin within reach takes %s %s", group, window)
	case LeftTooDear:
		fmt.Fprintf(b, "by the garden's own priorities, bringing it to a bin within reach %s is worth less than it costs", window)
	case LeftPart:
		b.WriteString("it is less than one whole container")
	case LeftContainer:
		fmt.Fprintf(b, "a whole container of %s is more than any bin within reach has room for %s", group, window)
	case LeftStopped:
		b.WriteString("the search was stopped before it was given a place")
	case LeftBound:
		switch {
		case rs.Cause == CauseFreezer:
			b.WriteString("it is in the freezer and no bin at its site has room for it in time")
		case rs.Visits == 0:
			fmt.Fprintf(b, "%s %s", everywhere(rs.Cause), window)
		default:
			fmt.Fprintf(b, "%s at %s within reach %s", atVisits(rs.Cause, group), someOf(rs.Hits, rs.Visits), window)
		}
	}
	switch rs.Freezer {
	case FreezerNone:
		fmt.Fprintf(b, ", and there is no freezer drawer for %s at %s", group, x.siteName(l))
	case FreezerFull:
		if rs.Cause != CauseFreezer {
			fmt.Fprintf(b, ", and the freezer drawer for %s fills up", group)
		}
	}
	b.WriteString(".")
	if rs.Code == LeftBound && rs.SparedG > 0 {
		fmt.Fprintf(b, " One more kilogram of %s would spare up to %s of food.", more(rs.Cause), grams(rs.SparedG))
	}
}

// against says what speaks against a bin.
func against(c Cause, bin, group string) string {
	switch c {
	case CauseGoEasy:
		return fmt.Sprintf("%s has as much %s as it should get at once", bin, group)
	case CauseRoom:
		return bin + " is fed all it can take"
	case CauseCrowding:
		return bin + " is already well filled"
	case CauseWeek:
		return bin + " can eat no more in that week"
	case CauseVisit:
		return "a visit more to " + bin + " is not worth its price"
	default:
		return "the bedding for " + bin + " is needed for other food"
	}
}

func atVisits(c Cause, group string) string {
	switch c {
	case CauseGoEasy:
		return fmt.Sprintf("the go-easy limit on %s is reached", group)
	case CauseRoom:
		return "the bins are fed all they can take"
	case CauseCrowding:
		return "the bins are well filled"
	case CauseWeek:
		return "the bins can eat no more in the week"
	case CauseVisit:
		return "coming just for this is not worth the price of a visit"
	default:
		return "there is no ripe bedding left"
	}
}

func everywhere(c Cause) string {
	if c == CauseBedding {
		return "there is no bedding for the bins within reach"
	}
	return "no bin within reach eats anything"
}

// more names what one more kilogram of a limit is.
func more(c Cause) string {
	switch c {
	case CauseGoEasy:
		return "it allowed in one of those feedings"
	case CauseWeek:
		return "appetite in one of those bins"
	case CauseBedding:
		return "food covered by bedding"
	default:
		return "room in one of those bins"
	}
}

func someOf(hits, all int) string {
	switch {
	case all == 1:
		return "the only visit"
	case hits == all:
		return fmt.Sprintf("all %d visits", all)
	default:
		return fmt.Sprintf("%d of the %d visits", hits, all)
	}
}

func (p *Problem) window(l *Lot) string {
	last := p.lastDay(l)
	if last <= l.Arrive {
		return "on " + p.day(l.Arrive)
	}
	return fmt.Sprintf("from %s to %s", p.day(l.Arrive), p.day(last))
}

// day names a day of the plan; the first is day 1.
func (p *Problem) day(d int) string {
	if d >= 0 && d < len(p.DayLabels) {
		return p.DayLabels[d]
	}
	return "day " + strconv.Itoa(d+1)
}

func (p *Problem) mass(units int64) string { return grams(units * p.UnitG) }

// grams prints a mass: whole grams below a kilogram, else kilograms.
func grams(g int64) string {
	if g < 1000 {
		return strconv.FormatInt(g, 10) + " g"
	}
	s := strconv.FormatInt(g/1000, 10)
	if rest := g % 1000; rest > 0 {
		s += "." + strings.TrimRight(fmt.Sprintf("%03d", rest), "0")
	}
	return s + " kg"
}

func name(label, id string) string {
	if label != "" {
		return label
	}
	return id
}

func (x *explainer) binName(id string) string {
	if id == "" {
		return ""
	}
	return name(x.n.p.Bins[x.binIx[id]].Label, id)
}

func (x *explainer) groupName(l *Lot) string {
	for i := range x.n.p.Groups {
		if g := &x.n.p.Groups[i]; g.ID == l.Group {
			return name(g.Label, g.ID)
		}
	}
	return l.Group
}

func (x *explainer) siteName(l *Lot) string {
	for i := range x.n.p.Sites {
		if s := &x.n.p.Sites[i]; s.ID == l.Site {
			return name(s.Label, s.ID)
		}
	}
	return l.Site
}
