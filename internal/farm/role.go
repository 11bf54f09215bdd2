package farm

// Role is what a membership lets a person do in one garden.
type Role string

// The four roles. A person may hold several memberships, in several gardens.
const (
	Coordinator Role = "coordinator" // runs the garden
	Keeper      Role = "keeper"      // cares for bins
	Donor       Role = "donor"       // brings scraps, receives castings
	Observer    Role = "observer"    // reads reports; sees no people
)

// Roles lists every role, most trusted first.
var Roles = []Role{Coordinator, Keeper, Donor, Observer}

// Valid tells whether r is one of the four.
func (r Role) Valid() bool {
	switch r {
	case Coordinator, Keeper, Donor, Observer:
		return true
	}
	return false
}

// Action is something a person may be allowed to do to a thing of a garden.
type Action string

// Actions, grouped by who usually does them. What a keeper may do to a bin
// also depends on the bin: see MayCareFor.
const (
	ManageGarden  Action = "manage_garden"  // settings, calendar, acceptance list, catalogue
	ManagePeople  Action = "manage_people"  // accounts, memberships, households
	ManageBins    Action = "manage_bins"    // sites, bins, sections, set-up
	SeePeople     Action = "see_people"     // names and contacts of others
	ReadFloor     Action = "read_floor"     // bins, lots, feedings, checks: the daily work
	ReadReports   Action = "read_reports"   // season reports
	PrepareReport Action = "prepare_report" // have one made from the ledger
	TakeIn        Action = "take_in"        // receive scraps at a drop-off
	CareForBins   Action = "care_for_bins"  // feed, check, transfer, harvest
	HandOut       Action = "hand_out"       // castings to people
	MakePledges   Action = "make_pledges"   // promise scraps for oneself
	ManageShifts  Action = "manage_shifts"  // set up shifts
	ClaimShifts   Action = "claim_shifts"   // work a shift
	RaiseIssue    Action = "raise_issue"    // complaints and incidents
	AnswerIssues  Action = "answer_issues"  // read, act on and close them; official visits
	PublishPlan   Action = "publish_plan"   // make a plan the plan
	ComputePlan   Action = "compute_plan"   // have one worked out
	CorrectLedger Action = "correct_ledger" // reverse entries
)

var may = map[Role]map[Action]bool{
	Coordinator: allow(ManageGarden, ManagePeople, ManageBins, ManageShifts, SeePeople, ReadFloor, ReadReports, TakeIn,
		CareForBins, HandOut, MakePledges, ClaimShifts, RaiseIssue, AnswerIssues, PublishPlan, ComputePlan, CorrectLedger, PrepareReport),
	Keeper: allow(SeePeople, ReadFloor, ReadReports, TakeIn, CareForBins, HandOut, MakePledges, ClaimShifts,
		RaiseIssue, AnswerIssues, ComputePlan, PrepareReport),
	Donor:    allow(ReadReports, MakePledges, ClaimShifts, RaiseIssue),
	Observer: allow(ReadReports),
}

func allow(as ...Action) map[Action]bool {
	m := make(map[Action]bool, len(as))
	for _, a := range as {
		m[a] = true
	}
	return m
}

// May tells whether role r allows action a, before the object is looked at.
func (r Role) May(a Action) bool { return may[r][a] }

// RolesThatMay lists the roles that an action is open to.
func RolesThatMay(a Action) []Role {
	var out []Role
	for _, r := range Roles {
		if r.May(a) {
			out = append(out, r)
		}
	}
	return out
}
