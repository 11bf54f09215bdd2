package demo

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// openIssue waits to be closed.
type openIssue struct {
	class  farm.IssueClass
	id     uuid.UUID
	on     measure.Day
	action string
}

// issueFact is what went wrong, or who came, so many days into the story.
type issueFact struct {
	day    int
	class  farm.IssueClass
	kind   string
	what   string
	site   int
	bin    string
	after  int // days until it is closed
	action string
}

var issueFacts = []issueFact{
	{96, farm.Complaint, "pests", "Fruit flies around the shed door in warm weather.", shed, "", 6, "Food buried deeper, cover doubled, a vinegar trap beside each bin."},
	{214, farm.Incident, "spill", "A bucket tipped over on the cellar steps; nobody fell.", cellar, "", 0, "Swept up, steps washed. Buckets get lids."},
	{281, farm.Complaint, "smell", "Sour smell from the cellar window.", cellar, "Steps drum", 17, "The bin was overfed. Food lifted off, dry bedding worked in by thirds, lid open at night."},
	{402, farm.Incident, "pest", "Mouse droppings behind the Half barrel.", plot, "Half barrel", 12, "Drop-off moved indoors for two weeks, gaps closed with wire mesh, bread no longer taken."},
	{455, farm.OfficialVisit, "inspection", "A visitor of the town hall looked at bins, heap and papers.", shed, "", 0, "No objections. Asked for the weekly masses; report handed over."},
	{588, farm.Incident, "refused_load", "A van with kitchen waste from a canteen, with meat in it.", plot, "", 0, "Turned away at the gate; leaflet given."},
	{664, farm.Complaint, "sight", "Crates left outside the gate overnight.", plot, "", 3, "A note at the gate; crates are fetched in after the drop-off."},
}

// keepOffice is the paper side of the garden: hours, holidays, complaints.
func (s *story) keepOffice(ctx context.Context) error {
	s.at(21, 0)
	for _, do := range []func(context.Context) error{s.enterHours, s.nameStandIns, s.raiseIssues, s.closeIssues} {
		if err := do(ctx); err != nil {
			return err
		}
	}
	return nil
}

var jobs = []string{"Shredding cardboard", "Mending the shed roof", "Collecting leaves", "Talk for new members", "Washing buckets", "Sieving castings"}

func (s *story) enterHours(ctx context.Context) error {
	if !s.is(time.Sunday) {
		return nil
	}
	for range 2 + s.rng.IntN(3) {
		p := s.people[s.rng.IntN(len(s.people)-1)]
		done, err := s.svc.EnterHours(ctx, s.lead(), s.garden, farm.Hours{MemberID: p.id, Minutes: 30 * (1 + s.rng.IntN(6)), Work: jobs[s.rng.IntN(len(jobs))]}, service.Once{})
		if _, err := value(s, done, err); err != nil {
			return err
		}
	}
	return nil
}

// nameStandIns covers the keepers' holidays: each is away for two weeks in
// summer, one after another, and two of them at the turn of the year.
func (s *story) nameStandIns(ctx context.Context) error {
	_, month, date := s.day.Date()
	for i := 2; i < 14; i++ {
		p := s.people[i]
		summer := month == 7 && date == 1+2*((i-2)%6) && i < 8 || month == 8 && date == 1+2*((i-2)%6) && i >= 8
		winter := month == 12 && date == 12 && i%6 == 3
		if !summer && !winter {
			continue
		}
		in := s.people[2+(i-2+5)%12]
		from := s.day.Add(7)
		days := measure.DayRange{Start: from, End: from.Add(14)}
		done, err := s.svc.NameStandIn(ctx, s.lead(), s.garden, farm.Cover{KeeperID: p.id, StandInID: in.id, Days: days,
			Handover: "Three weeks on bedding and a normal feed do no harm; never a double feed."}, service.Once{})
		if _, err := value(s, done, err); err != nil {
			return err
		}
		p.away, p.in = days, in
	}
	return nil
}

func (s *story) raiseIssues(ctx context.Context) error {
	for _, f := range issueFacts {
		if s.day.Sub(s.first) != f.day {
			continue
		}
		x := farm.Issue{Class: f.class, Kind: f.kind, What: f.what, SiteID: s.sites[f.site]}
		for _, b := range s.bins {
			if b.fact.name == f.bin {
				x.BinID = b.id
			}
		}
		if f.after == 0 {
			x.Action, x.ActionBy, x.ClosedOn = f.action, s.people[0].id, s.day
		}
		done, err := s.svc.RecordIssue(ctx, s.lead(), s.garden, x, service.Once{})
		made, err := value(s, done, err)
		if err != nil {
			return err
		}
		s.tell("%s", f.what)
		if f.after > 0 {
			s.issues = append(s.issues, openIssue{f.class, made.ID, s.day.Add(f.after), f.action})
		}
	}
	return nil
}

func (s *story) closeIssues(ctx context.Context) error {
	var left []openIssue
	for _, x := range s.issues {
		if s.day.Before(x.on) {
			left = append(left, x)
			continue
		}
		now, err := s.svc.Issue(ctx, s.lead(), s.garden, x.class, x.id)
		if err != nil {
			return err
		}
		s.writes++
		_, err = s.svc.UpdateIssue(ctx, s.lead(), s.garden, x.class, x.id, now.Version, func(i *farm.Issue) {
			i.Action, i.ActionBy, i.ClosedOn = x.action, s.people[0].id, s.day
		})
		if err != nil {
			return err
		}
	}
	s.issues = left
	return nil
}

// reportSeasons has the report of each season made some days after it ended.
func (s *story) reportSeasons(ctx context.Context) error {
	_, month, date := s.day.Date()
	if date != 5 || month%3 != 0 {
		return nil
	}
	s.at(21, 30)
	seasons, err := s.svc.Seasons(ctx, s.lead(), s.garden)
	if err != nil {
		return err
	}
	for _, x := range seasons {
		if x.Current || x.End.After(s.day) || s.day.Sub(x.End) > 30 {
			continue
		}
		done, err := s.svc.PrepareReport(ctx, s.lead(), s.garden, service.ReportWish{Season: x.Key}, service.Once{})
		r, err := value(s, done, err)
		if err != nil {
			return err
		}
		s.tell("report of %s: %s diverted", x.Label, r.Report.Balance.Diverted.Format(measure.Metric))
	}
	return nil
}
