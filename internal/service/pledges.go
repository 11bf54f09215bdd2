package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// PledgeNew is a promise as it was made: for a window, or for a day and a
// site. Without a household it is the member's own. RepeatWeeks 0 is 1; a zero
// SiteID without a window is the garden's default site.
type PledgeNew struct {
	ID          uuid.UUID
	OccurredAt  time.Time
	WindowID    uuid.UUID
	ExpectedOn  measure.Day
	SiteID      uuid.UUID
	Material    string
	Mass        farm.Entered
	HouseholdID uuid.UUID
	RepeatWeeks int
	Note        string
}

// CreatePledge notes a promise, or a series of them a week apart, and gives
// the first. Who takes scraps in may promise for a household too. It refuses
// with pledge.invalid, mass.invalid, pledge.exists, material.not_found,
// site.not_found, household.not_found, window.not_found, window.closed,
// window.full, role.forbidden, day.future and day.closed.
func (s *Service) CreatePledge(ctx context.Context, a Actor, garden uuid.UUID, in PledgeNew, once Once) (Done[farm.Pledge], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Pledge]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Pledge]
		material *store.Row[farm.MaterialOverride]
		window   *store.Row[store.WindowLoad]
		vessels  *store.Rows[farm.Container]
	}
	return write(ctx, s, a, garden, farm.MakePledges, once,
		func(tx *store.Tx) known {
			k := known{made[farm.Pledge]{tx.PledgeContent(in.ID), tx.Pledge(in.ID)}, tx.MaterialOverride(in.Material),
				&store.Row[store.WindowLoad]{}, vessels(&tx.Batch, &in.Mass)}
			if in.WindowID != uuid.Nil {
				k.window = tx.LockWindow(in.WindowID)
			}
			return k
		},
		func(w *Work, k known) (farm.Pledge, error) {
			if in.HouseholdID != uuid.Nil && !w.Member.Role.May(farm.TakeIn) {
				return farm.Pledge{}, farm.Refuse("role.forbidden", "/household_id", "household_id: a %s of this garden promises for themselves", w.Member.Role)
			}
			if same, err := again(k.content, content, "pledge.exists"); err != nil {
				return farm.Pledge{}, err
			} else if same && k.row.Value.SeenBy(w.Member) {
				return k.row.Value, nil
			} else if same {
				return farm.Pledge{}, farm.Refuse("pledge.exists", "/id", "id: another pledge has this id")
			}
			material, ok := s.known(in.Material, k.material)
			if !ok || material.Use != farm.ScrapUse {
				return farm.Pledge{}, noMaterial(in.Material)
			}
			p, err := w.newPledge(in, material.Material, k.window, k.vessels)
			if err != nil {
				return p, err
			}
			return p, w.InsertPledges(content, w.weeks(p)...)
		})
}

// newPledge checks a promise and works out its mass, day and site.
func (w *Work) newPledge(in PledgeNew, m farm.Material, window *store.Row[store.WindowLoad], v *store.Rows[farm.Container]) (farm.Pledge, error) {
	at, on, err := w.at(in.OccurredAt)
	if err != nil {
		return farm.Pledge{}, err
	}
	today, err := w.Garden.DayOf(w.Now)
	if err != nil {
		return farm.Pledge{}, err
	}
	p := farm.Pledge{ID: in.ID, SeriesID: in.ID, RepeatWeeks: max(1, in.RepeatWeeks), WindowID: in.WindowID, ExpectedOn: in.ExpectedOn,
		SiteID: in.SiteID, Material: m.Key, HouseholdID: in.HouseholdID, Status: farm.PledgeOffered, Note: in.Note,
		PromisedAt: at, PromisedOn: on, RecordedAt: w.Now, RecordedBy: w.Member.ID}
	if in.HouseholdID == uuid.Nil {
		p.MemberID = w.Member.ID
	}
	var f farm.Faults
	var weight farm.Weight
	p.Entered, weight, err = w.weigh("/amount", in.Mass, m.DensityGPerL, v)
	f.Keep(err)
	p.Mass, p.RelSD, p.Entered.DensityGPerL = weight.Net, weight.RelSDPermille, weight.DensityGPerL
	if in.WindowID == uuid.Nil {
		if p.SiteID == uuid.Nil {
			p.SiteID = w.Garden.Settings.DefaultSiteID
		}
		f.Keep(p.Validate(today))
		return p, f.Err()
	}
	load, err := window.Or("window.not_found", "no drop-off window %s in this garden", in.WindowID)
	if err != nil {
		return p, err
	}
	if in.SiteID != uuid.Nil || !in.ExpectedOn.IsZero() {
		f.Add("pledge.invalid", "/window_id", "window_id: a window has its own day and site; name the window, or a day and a site")
	}
	p.ExpectedOn, p.SiteID = load.StartsOn, load.SiteID
	f.Keep(p.Validate(today))
	if err := f.Err(); err != nil {
		return p, err
	}
	return p, load.Takes(p.Mass, load.Pledged+load.Received, w.Now)
}

// weeks is a pledge and those of the weeks after it.
func (w *Work) weeks(p farm.Pledge) []farm.Pledge {
	list := []farm.Pledge{p}
	for n := 1; n < p.RepeatWeeks; n++ {
		next := p
		next.ID, next.ExpectedOn = w.ids(), p.ExpectedOn.Add(7*n)
		list = append(list, next)
	}
	return list
}

// tableRoles take scraps in and see everyone's pledges.
func tableRoles() (out []farm.Role) {
	for _, r := range farm.Roles {
		if r.May(farm.TakeIn) {
			out = append(out, r)
		}
	}
	return out
}

// Pledges lists pledges, the latest first: everyone's for those who take
// scraps in, their own for others.
func (s *Service) Pledges(ctx context.Context, a Actor, garden uuid.UUID, f store.PledgeFilter, p store.Page) (store.List[farm.Pledge], error) {
	return paged(ctx, s, a, garden, farm.MakePledges, func(b *store.Batch) *store.Paged[farm.Pledge] { return b.Pledges(tableRoles(), f, p) })
}

// Pledge is one pledge. It refuses with pledge.not_found, also for another
// person's that the member may not see.
func (s *Service) Pledge(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.Pledge, error) {
	var row *store.Row[farm.Pledge]
	_, m, err := s.read(ctx, a, garden, farm.MakePledges, func(b *store.Batch) { row = b.Pledge(id) })
	if err != nil {
		return farm.Pledge{}, err
	}
	return seenPledge(row, id, m)
}

func seenPledge(row *store.Row[farm.Pledge], id uuid.UUID, m farm.Member) (farm.Pledge, error) {
	if !row.Found || !row.Value.SeenBy(m) {
		return farm.Pledge{}, farm.Refuse("pledge.not_found", "", "no pledge %s in this garden", id)
	}
	return row.Value, nil
}

// DecidePledge accepts, declines or withdraws a pledge, or notes that it was
// missed. It refuses with pledge.not_found, role.forbidden, pledge.state,
// pledge.not_due and pledge.invalid.
func (s *Service) DecidePledge(ctx context.Context, a Actor, garden, id uuid.UUID, d farm.PledgeDecision, reason string, once Once) (Done[farm.Pledge], error) {
	return write(ctx, s, a, garden, farm.MakePledges, once,
		func(tx *store.Tx) *store.Row[farm.Pledge] { return tx.LockPledge(id) },
		func(w *Work, row *store.Row[farm.Pledge]) (farm.Pledge, error) {
			p, err := seenPledge(row, id, w.Member)
			if err != nil {
				return p, err
			}
			if err := p.MayDecide(d, w.Member); err != nil {
				return p, err
			}
			today, err := w.Garden.DayOf(w.Now)
			if err != nil {
				return p, err
			}
			next, err := p.Decide(d, reason, today)
			if err != nil {
				return p, err
			}
			next.DecidedAt, next.DecidedBy = w.Now, w.Member.ID
			w.SettlePledge(next)
			return next, nil
		})
}

// keep makes a pledge kept by a lot that cites it, whatever was said before:
// the scraps are there. A lot without a giver or a window takes the pledge's.
func (w *Work) keep(row *store.Row[farm.Pledge], lot *farm.Lot) error {
	if lot.PledgeID == uuid.Nil {
		return nil
	}
	p := row.Value
	if !row.Found {
		return farm.Refuse("pledge.not_found", "/pledge_id", "pledge_id: no such pledge in this garden")
	}
	if lot.FromHousehold == uuid.Nil && lot.FromMember == uuid.Nil {
		lot.FromHousehold, lot.FromMember = p.HouseholdID, p.MemberID
	}
	if lot.FromHousehold != p.HouseholdID || lot.FromMember != p.MemberID {
		return farm.Refuse("lot.invalid", "/pledge_id", "pledge_id: somebody else promised this; leave it out or name the right giver")
	}
	if lot.WindowID == uuid.Nil {
		lot.WindowID = p.WindowID
	}
	if p.Status != farm.PledgeKept {
		p.Status, p.DecidedAt, p.DecidedBy = farm.PledgeKept, w.Now, w.Member.ID
		w.SettlePledge(p)
	}
	return nil
}
