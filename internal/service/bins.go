package service

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// CreateBin adds a bin and the sections its method begins with; its ID may be
// the client's own. It refuses with bin.invalid, bin.name_taken, bin.keeper,
// id.taken, site.not_found and member.not_found.
func (s *Service) CreateBin(ctx context.Context, a Actor, garden uuid.UUID, in farm.Bin, once Once) (Done[farm.Bin], error) {
	in.Keepers = inOrder(in.Keepers)
	content, err := digest(in)
	if err != nil {
		return Done[farm.Bin]{}, err
	}
	in.ID = s.idOr(in.ID)
	type known struct {
		made[farm.Bin]
		keepers *store.Rows[farm.Member]
	}
	return write(ctx, s, a, garden, farm.ManageBins, once,
		func(tx *store.Tx) known {
			return known{made[farm.Bin]{tx.BinContent(in.ID), tx.Bin(in.ID)}, tx.MembersByID(in.Keepers)}
		},
		func(w *Work, k known) (farm.Bin, error) {
			if same, err := again(k.content, content, "id.taken"); same || err != nil {
				return k.row.Value, err
			}
			bin := in
			bin.CreatedAt, bin.Version = w.Now, 1
			if bin.Status == "" {
				bin.Status = farm.BinSetUp
			}
			if err := bin.Validate(); err != nil {
				return bin, err
			}
			if err := checkKeepers(bin.Keepers, k.keepers.Values); err != nil {
				return bin, err
			}
			w.InsertBin(bin, content)
			for _, first := range bin.FirstSections() {
				first.ID = w.ids()
				if first.Stage == farm.Feeding {
					first.StartedOn = bin.SetUp.FirstFeedOn
				}
				w.InsertSection(first, content)
			}
			return bin, nil
		})
}

// Bins lists bins by name.
func (s *Service) Bins(ctx context.Context, a Actor, garden uuid.UUID, f store.BinFilter, p store.Page) (store.List[farm.Bin], error) {
	return paged(ctx, s, a, garden, farm.ReadFloor, func(b *store.Batch) *store.Paged[farm.Bin] { return b.Bins(f, p) })
}

// Bin is one bin. It refuses with bin.not_found.
func (s *Service) Bin(ctx context.Context, a Actor, garden, id uuid.UUID) (farm.Bin, error) {
	var row *store.Row[farm.Bin]
	if _, _, err := s.read(ctx, a, garden, farm.ReadFloor, func(b *store.Batch) { row = b.Bin(id) }); err != nil {
		return farm.Bin{}, err
	}
	return row.Or("bin.not_found", "no bin %s in this garden", id)
}

// UpdateBin changes a bin at the version the person has read. A keeper may
// change the bins they keep, but not who keeps them. It refuses with
// bin.not_found, bin.not_yours, version.stale, bin.invalid, bin.name_taken,
// bin.keeper, site.not_found, member.not_found, and with bin.state a new
// species for recorded worms and the closing of a bin that holds worms.
func (s *Service) UpdateBin(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Bin)) (farm.Bin, error) {
	type known struct {
		cared
		worms *store.Row[store.WormBooks]
	}
	done, err := write(ctx, s, a, garden, farm.CareForBins, Once{},
		func(tx *store.Tx) known { return known{s.lockCared(tx, id, time.Time{}), tx.BinWorms(id)} },
		func(w *Work, k known) (farm.Bin, error) {
			today, err := w.today()
			if err != nil {
				return farm.Bin{}, err
			}
			was, err := w.careFor(k.cared, today)
			if err != nil {
				return was, err
			}
			if err := checkVersion("bin", was.Version, version); err != nil {
				return was, err
			}
			bin := was
			bin.Keepers = slices.Clone(was.Keepers)
			edit(&bin)
			bin.ID, bin.Method, bin.CreatedAt, bin.Version = id, was.Method, was.CreatedAt, version+1
			bin.Keepers = inOrder(bin.Keepers)
			if err := w.checkBinChange(was, bin, k.worms.Value); err != nil {
				return bin, err
			}
			w.UpdateBin(bin)
			return bin, nil
		})
	return done.Value, err
}

func (w *Work) checkBinChange(was, bin farm.Bin, worms store.WormBooks) error {
	if err := bin.Validate(); err != nil {
		return err
	}
	if err := was.CheckChange(bin, worms.Recorded, worms.Grams); err != nil {
		return err
	}
	if slices.Equal(was.Keepers, bin.Keepers) {
		return nil
	}
	if !w.Member.Role.May(farm.ManageBins) {
		return farm.Refuse("bin.not_yours", "/keeper_ids", "keeper_ids: only a coordinator says who keeps a bin")
	}
	members := w.MembersByID(bin.Keepers)
	if err := w.Flush(); err != nil {
		return err
	}
	return checkKeepers(bin.Keepers, members.Values)
}

// checkKeepers refuses with member.not_found who is no member, and with
// bin.keeper a member whose role does not care for bins or who has left.
func checkKeepers(ids []uuid.UUID, members []farm.Member) error {
	for _, id := range ids {
		i := slices.IndexFunc(members, func(m farm.Member) bool { return m.ID == id })
		if i < 0 {
			return farm.Refuse("member.not_found", "/keeper_ids", "keeper_ids: no member %s in this garden", id)
		}
		if m := members[i]; !m.Active || !m.Role.May(farm.CareForBins) {
			return farm.Refuse("bin.keeper", "/keeper_ids", "keeper_ids: %s is not an active keeper or coordinator", m.DisplayName)
		}
	}
	return nil
}

// inOrder sorts ids and drops repeats.
func inOrder(ids []uuid.UUID) []uuid.UUID {
	out := slices.Clone(ids)
	slices.SortFunc(out, func(a, b uuid.UUID) int { return strings.Compare(a.String(), b.String()) })
	return slices.Compact(out)
}

// cared is a bin that somebody wants to do something to.
type cared struct {
	id     uuid.UUID
	bin    *store.Row[farm.Bin]
	covers *store.Rows[farm.Cover]
}

// lockCared asks for a bin, its row held, and for who may stand in for its
// keepers when something occurred (zero: now).
func (s *Service) lockCared(tx *store.Tx, bin uuid.UUID, told time.Time) cared {
	return cared{bin, tx.LockBin(bin), s.coversFor(&tx.Batch, told)}
}

// careFor gives the bin when the member may care for it on the day. It refuses
// with bin.not_found and bin.not_yours.
func (w *Work) careFor(k cared, on measure.Day) (farm.Bin, error) {
	bin, err := k.bin.Or("bin.not_found", "no bin %s in this garden", k.id)
	if err != nil {
		return bin, err
	}
	return bin, w.mayCareFor(bin, k.covers, on)
}

// today is the garden's day.
func (w *Work) today() (measure.Day, error) { return w.Garden.DayOf(w.Now) }
