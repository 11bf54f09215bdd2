package demo

import (
	"context"
	"fmt"
	"math"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
)

// dropOff is the windows of today: what comes is taken in by the host, some of
// it sorted or turned away, and promises are kept or missed.
func (s *story) dropOff(ctx context.Context) error {
	if err := s.pledge(ctx); err != nil {
		return err
	}
	for i, w := range s.windows {
		if w.day != s.day {
			continue
		}
		s.windows = append(s.windows[:i:i], s.windows[i+1:]...)
		return s.hold(ctx, w)
	}
	return nil
}

// arrival is an intake with the verdict it will get.
type arrival struct {
	in      service.Intake
	verdict service.Verdict
}

func (s *story) hold(ctx context.Context, w *window) error {
	s.at(w.hour, 2)
	open, err := s.promises(ctx, w)
	if err != nil {
		return err
	}
	var come []arrival
	for _, p := range open {
		if s.chance(0.82) {
			come = append(come, arrival{in: service.Intake{Material: p.Material, Mass: weighed(round(float64(p.Mass) * (0.7 + 0.6*s.rng.Float64()))),
				PledgeID: p.ID, HouseholdID: p.HouseholdID, MemberID: p.MemberID}})
		}
	}
	for _, g := range gifts(s.givers, s.day, s.week(), s.rng) {
		come = append(come, arrival{in: s.intakeOf(g)})
	}
	for i := range come {
		s.judge(&come[i])
		come[i].in.SiteID, come[i].in.WindowID = s.sites[w.site], w.id
	}
	if err := s.takeIn(ctx, w, come); err != nil {
		return err
	}
	if err := s.mistake(ctx, w); err != nil {
		return err
	}
	return s.missed(ctx, w, open)
}

// promises are the open pledges of a window.
func (s *story) promises(ctx context.Context, w *window) ([]farm.Pledge, error) {
	list, err := s.svc.Pledges(ctx, s.lead(), s.garden, service.PledgeFilter{WindowID: w.id}, service.Page{Limit: 200})
	if err != nil {
		return nil, err
	}
	var out []farm.Pledge
	for i := len(list.Items) - 1; i >= 0; i-- {
		if list.Items[i].Open() {
			out = append(out, list.Items[i])
		}
	}
	return out, nil
}

// intakeOf is a gift as it is booked: on the scale, or in vessels by their fill.
func (s *story) intakeOf(g gift) service.Intake {
	in := service.Intake{Material: g.material, HouseholdID: g.from.household, MemberID: g.from.member, Mass: weighed(g.grams)}
	density := catalogue[g.material].DensityGPerL.Value
	if vessels := g.grams / density / 10; !g.from.weighs && vessels > 0.15 && vessels < 6 {
		n := math.Ceil(vessels)
		fill := 5 * math.Round(100*vessels/n/5)
		in.Mass = farm.Entered{Method: farm.ByContainer, ContainerID: s.bucket, Count: int(n), FillPct: int(min(max(fill, 5), 100))}
	}
	if s.chance(0.02) {
		in.HouseholdID, in.MemberID = uuid.Nil, uuid.Nil // left at the gate
		in.Mass = guessed(g.grams)
	}
	return in
}

var reasons = []string{"Cooked leftovers with oil and salt.", "Plastic bags mixed in.", "Cheese rind and meat scraps in it.", "Mouldy through and through."}

// judge makes up the host's mind. A zero verdict is accepted at once.
func (s *story) judge(a *arrival) {
	a.in.Status = farm.LotAccepted
	switch draw := s.rng.Float64(); {
	case draw < 0.022:
		a.in.Status = farm.LotReceived
		a.verdict = service.Verdict{Status: farm.LotRejected, Reason: reasons[s.rng.IntN(len(reasons))], Notice: "Given back with the leaflet."}
	case draw < 0.06 && a.in.Mass.Method == farm.ByScale:
		a.in.Status = farm.LotReceived
		out := weighed(60 + 120*s.rng.Float64())
		a.verdict = service.Verdict{Status: farm.LotSorted, SortedOut: &out, Notice: "Fruit stickers and a mesh bag taken out."}
	}
}

// takeIn books what came, in one go, and then the verdicts that need another look.
func (s *story) takeIn(ctx context.Context, w *window, come []arrival) error {
	var made []service.LotOnHand
	err := s.together(ctx, w.host.actor, func(ctx context.Context) error {
		made = made[:0]
		for _, a := range come {
			s.after(3)
			done, err := s.svc.TakeIn(ctx, w.host.actor, s.garden, a.in, service.Once{})
			l, err := value(s, done, err)
			if err != nil {
				return err
			}
			made = append(made, l)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for i, l := range made {
		if v := come[i].verdict; v.Status != "" {
			s.after(2)
			done, err := s.svc.JudgeLot(ctx, w.host.actor, s.garden, l.ID, v, service.Once{})
			if l, err = value(s, done, err); err != nil {
				return err
			}
		}
		if come[i].in.PledgeID != uuid.Nil {
			s.kept[come[i].in.PledgeID] = l.ID
		}
		s.shelve(l, w.site)
	}
	return nil
}

func (s *story) shelve(l service.LotOnHand, site int) {
	if l.Status == farm.LotRejected || l.OnHand < 1 {
		return
	}
	s.lots = append(s.lots, &lot{id: l.ID, material: l.Material, left: float64(l.OnHand), site: site, useBy: l.UseBy})
}

// mistake is the one slip of a pen: ten times too much, undone and booked anew.
func (s *story) mistake(ctx context.Context, w *window) error {
	if s.mistaken || s.week() < s.o.Weeks/2 {
		return nil
	}
	s.mistaken = true
	in := service.Intake{Material: "vegetable_trimmings", Mass: weighed(24_000), HouseholdID: s.houses[4], SiteID: s.sites[w.site],
		WindowID: w.id, Status: farm.LotAccepted}
	done, err := s.svc.TakeIn(ctx, w.host.actor, s.garden, in, service.Once{})
	wrong, err := value(s, done, err)
	if err != nil {
		return err
	}
	s.after(40)
	undone, err := s.svc.ReverseEntry(ctx, s.lead(), s.garden, wrong.EntryID, service.Undo{Reason: "2.4 kg were written as 24 kg."}, service.Once{})
	if _, err = value(s, undone, err); err != nil {
		return err
	}
	in.Mass = weighed(2_400)
	done, err = s.svc.TakeIn(ctx, w.host.actor, s.garden, in, service.Once{})
	right, err := value(s, done, err)
	s.shelve(right, w.site)
	s.tell("an intake of %s is undone and booked anew as %s", wrong.OnHand.Format(measure.Metric), right.OnHand.Format(measure.Metric))
	return err
}

// missed notes the next-to-last window's promises that nobody kept.
func (s *story) missed(ctx context.Context, w *window, open []farm.Pledge) error {
	for _, p := range s.late {
		done, err := s.svc.DecidePledge(ctx, s.lead(), s.garden, p, farm.MissPledge, "", service.Once{})
		if _, err := value(s, done, err); err != nil {
			return fmt.Errorf("missed pledge: %w", err)
		}
	}
	s.late = s.late[:0]
	for _, p := range open {
		if _, came := s.kept[p.ID]; !came {
			s.late = append(s.late, p.ID)
		}
	}
	return nil
}
