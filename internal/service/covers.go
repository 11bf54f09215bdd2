package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// CoverFilter narrows a list of covers.
type CoverFilter = store.CoverFilter

// NameStandIn makes a cover: for one's own bins, or for anyone's as a
// coordinator. Its ID may be the client's own. It refuses with cover.invalid,
// cover.exists, cover.taken (another cover of the keeper on one of the days),
// member.not_found, and role.forbidden for somebody else's bins.
func (s *Service) NameStandIn(ctx context.Context, a Actor, garden uuid.UUID, in farm.Cover, once Once) (Done[farm.Cover], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Cover]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Cover]
		keeper, standIn *store.Row[farm.Member]
		others          *store.Rows[farm.Cover]
	}
	return write(ctx, s, a, garden, farm.CareForBins, once,
		func(tx *store.Tx) known {
			// The lock comes first: what is read after it is how things stand.
			others := tx.LockCoversOf(in.KeeperID, in.Days)
			return known{made[farm.Cover]{tx.CoverContent(in.ID), tx.Cover(in.ID)}, tx.Member(in.KeeperID), tx.Member(in.StandInID), others}
		},
		func(w *Work, k known) (farm.Cover, error) {
			if same, err := again(k.content, content, "cover.exists"); same || err != nil {
				return k.row.Value, err
			}
			c := in
			c.CreatedAt, c.Version = w.Now, 1
			if err := w.checkCover(c, k.keeper, k.standIn, k.others); err != nil {
				return c, err
			}
			w.InsertCover(c, content)
			return c, nil
		})
}

// checkCover holds a cover against its people, the days that are still to come
// and the keeper's other covers.
func (w *Work) checkCover(c farm.Cover, keeper, standIn *store.Row[farm.Member], others *store.Rows[farm.Cover]) error {
	if c.KeeperID != w.Member.ID && w.Member.Role != farm.Coordinator {
		return farm.Refuse("role.forbidden", "/keeper_member_id", "keeper_member_id: only a coordinator names a stand-in for somebody else's bins")
	}
	var f farm.Faults
	if !keeper.Found {
		f.Add("member.not_found", "/keeper_member_id", "keeper_member_id: no member %s in this garden", c.KeeperID)
	}
	if !standIn.Found {
		f.Add("member.not_found", "/stand_in_member_id", "stand_in_member_id: no member %s in this garden", c.StandInID)
	}
	if f.Len() > 0 {
		return f.Err()
	}
	if err := c.Validate(keeper.Value, standIn.Value); err != nil {
		return err
	}
	today, err := w.Garden.DayOf(w.Now)
	if err != nil {
		return err
	}
	if !c.Days.End.After(today) {
		return farm.Refuse("cover.invalid", "/to", "to: must be after today, %s; got %s", today, c.Days.End)
	}
	for _, o := range others.Values {
		if o.ID != c.ID && o.Days.Overlaps(c.Days) {
			return farm.Refuse("cover.taken", "/from", "from: this keeper has a cover from %s to %s already; change that one", o.Days.Start, o.Days.End)
		}
	}
	return nil
}

// Covers lists covers, the soonest first.
func (s *Service) Covers(ctx context.Context, a Actor, garden uuid.UUID, f store.CoverFilter, p store.Page) (store.List[farm.Cover], error) {
	return paged(ctx, s, a, garden, farm.SeePeople, func(b *store.Batch) *store.Paged[farm.Cover] { return b.Covers(f, p) })
}

// UpdateCover changes the stand-in, days or handover of a cover at the version
// the person has read. It refuses with cover.not_found, version.stale and what
// NameStandIn refuses with.
func (s *Service) UpdateCover(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Cover)) (farm.Cover, error) {
	done, err := write(ctx, s, a, garden, farm.CareForBins, Once{},
		func(tx *store.Tx) *store.Row[farm.Cover] { return tx.LockCover(id) },
		func(w *Work, row *store.Row[farm.Cover]) (farm.Cover, error) {
			c, err := row.Or("cover.not_found", "no cover %s in this garden", id)
			if err != nil {
				return c, err
			}
			if err := checkVersion("cover", c.Version, version); err != nil {
				return c, err
			}
			edit(&c)
			c.ID, c.KeeperID, c.CreatedAt, c.Version = id, row.Value.KeeperID, row.Value.CreatedAt, version+1
			others := w.LockCoversOf(c.KeeperID, c.Days)
			keeper, standIn := w.Tx.Member(c.KeeperID), w.Tx.Member(c.StandInID)
			if err := w.Flush(); err != nil {
				return c, err
			}
			if err := w.checkCover(c, keeper, standIn, others); err != nil {
				return c, err
			}
			w.UpdateCover(c)
			return c, nil
		})
	return done.Value, err
}
