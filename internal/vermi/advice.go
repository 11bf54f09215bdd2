package vermi

import (
	"slices"
	"sort"

	"midden/internal/farm"
)

// Urgency orders advice.
type Urgency int

// Urgencies.
const (
	Calm    Urgency = iota // good to know
	Routine                // at the next visit
	Soon                   // within days
	Now                    // today
)

// String is the code of an urgency.
func (u Urgency) String() string {
	return [...]string{"calm", "routine", "soon", "now"}[min(max(u, Calm), Now)]
}

// Need is one piece of advice that holds for a bin today.
type Need struct {
	Code    string
	Urgency Urgency
	Do      string
	Why     string // with the numbers
	Caution string // empty when there is none
	Source  string
}

// ShownNeeds is how many needs a bin shows at once.
const ShownNeeds = 3

// Shown are the most urgent needs, at most ShownNeeds.
func (s State) Shown() []Need { return s.Needs[:min(len(s.Needs), ShownNeeds)] }

// Rule is advice as data. When answers why, with the numbers, if the rule
// holds. A rule listed in Hushes silences those when it holds.
type Rule struct {
	Code    string
	Urgency Urgency
	Do      string
	Caution string
	Source  string
	Hushes  []string
	When    func(Sight) (why string, holds bool)
}

// Sight is what a rule looks at.
type Sight struct {
	Record   *Record
	State    *State
	Settings Settings
	Last     Check // last check; zero when none
	Checked  bool  // there was a check
	Since    int   // days since that check
	FedSince int   // days since the last feeding; a large number when never
	Rising   bool
}

// Fresh tells whether the last check is recent enough to act on.
func (s Sight) Fresh() bool { return s.Checked && s.Since <= 14 }

// Wettest is the wetter of the two squeezes of the last check.
func (s Sight) Wettest() farm.Squeeze { return max(s.Last.SqueezeTop, s.Last.SqueezeBottom) }

const never = 1 << 20

func newSight(r *Record, st *State, d *drive) Sight {
	s := Sight{Record: r, State: st, Settings: *r.Settings, Since: never, FedSince: never, Rising: d.rising()}
	if n := len(r.Checks); n > 0 {
		s.Last, s.Checked, s.Since = r.Checks[n-1], true, int(r.AsOf-r.Checks[n-1].On)
	}
	if n := len(r.Feedings); n > 0 {
		s.FedSince = int(r.AsOf - r.Feedings[n-1].On)
	}
	return s
}

// needs asks every rule and orders what holds: most urgent first, then in the
// order of the table. When nothing holds, the bin is best left alone.
func needs(r *Record, st *State, d *drive) []Need {
	if r.Bin.Status == farm.BinClosed {
		return nil
	}
	s := newSight(r, st, d)
	var out []Need
	var hushed []string
	for _, rule := range Rules() {
		why, holds := rule.When(s)
		if !holds {
			continue
		}
		hushed = append(hushed, rule.Hushes...)
		out = append(out, Need{rule.Code, rule.Urgency, rule.Do, why, rule.Caution, rule.Source})
	}
	out = slices.DeleteFunc(out, func(n Need) bool { return slices.Contains(hushed, n.Code) })
	sort.SliceStable(out, func(i, j int) bool { return out[i].Urgency > out[j].Urgency })
	if len(out) == 0 {
		out = []Need{leaveAlone}
	}
	return out
}

var leaveAlone = Need{Code: "leave_alone", Urgency: Calm, Do: "Leave it alone.",
	Why: "Nothing here is pressing. Worms do best undisturbed.", Source: practice}

const practice = "common practice, no source"
