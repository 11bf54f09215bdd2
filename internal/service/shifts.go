package service

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// ShiftFilter narrows a list of shifts.
type ShiftFilter = store.ShiftFilter

// ShiftNow is a shift with the state it is in at the instant of asking.
type ShiftNow struct {
	farm.Shift
	State farm.ShiftState
}

// AddShift adds a shift; its ID may be the client's own. It refuses with
// shift.invalid, shift.exists and site.not_found.
func (s *Service) AddShift(ctx context.Context, a Actor, garden uuid.UUID, in farm.Shift, once Once) (Done[ShiftNow], error) {
	content, err := digest(in)
	if err != nil {
		return Done[ShiftNow]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ManageShifts, once,
		func(tx *store.Tx) made[farm.Shift] { return made[farm.Shift]{tx.ShiftContent(in.ID), tx.Shift(in.ID)} },
		func(w *Work, m made[farm.Shift]) (ShiftNow, error) {
			if same, err := again(m.content, content, "shift.exists"); same || err != nil {
				return w.shiftNow(m.row.Value), err
			}
			shift := in
			shift.CreatedAt, shift.Version = w.Now, 1
			if err := w.checkShift(&shift); err != nil {
				return ShiftNow{}, err
			}
			w.InsertShift(shift, content)
			return w.shiftNow(shift), nil
		})
}

// checkShift validates a shift and sets the garden's day on which it starts.
func (w *Work) checkShift(s *farm.Shift) (err error) {
	s.StartsAt, s.EndsAt = s.StartsAt.UTC().Truncate(time.Microsecond), s.EndsAt.UTC().Truncate(time.Microsecond)
	if s.Day, err = w.Garden.DayOf(s.StartsAt); err != nil {
		return err
	}
	return s.Validate()
}

func (w *Work) shiftNow(s farm.Shift) ShiftNow { return ShiftNow{s, s.State(w.Now)} }

// Shifts lists shifts, the soonest first.
func (s *Service) Shifts(ctx context.Context, a Actor, garden uuid.UUID, f store.ShiftFilter, p store.Page) (store.List[ShiftNow], error) {
	f.Now = s.now()
	var page *store.Paged[farm.Shift]
	_, _, err := s.read(ctx, a, garden, farm.ClaimShifts, func(b *store.Batch) { page = b.Shifts(f, p) })
	if err != nil {
		return store.List[ShiftNow]{}, err
	}
	list := page.List()
	out := store.List[ShiftNow]{Items: make([]ShiftNow, len(list.Items)), Next: list.Next}
	for i, x := range list.Items {
		out.Items[i] = ShiftNow{x, x.State(f.Now)}
	}
	return out, nil
}

// Shift is one shift. It refuses with shift.not_found.
func (s *Service) Shift(ctx context.Context, a Actor, garden, id uuid.UUID) (ShiftNow, error) {
	var row *store.Row[farm.Shift]
	if _, _, err := s.read(ctx, a, garden, farm.ClaimShifts, func(b *store.Batch) { row = b.Shift(id) }); err != nil {
		return ShiftNow{}, err
	}
	shift, err := row.Or("shift.not_found", "no shift %s in this garden", id)
	return ShiftNow{shift, shift.State(s.now())}, err
}

// UpdateShift changes a shift at the version the person has read. It refuses
// with shift.not_found, version.stale, shift.invalid, site.not_found, and with
// shift.full fewer places than are taken.
func (s *Service) UpdateShift(ctx context.Context, a Actor, garden, id uuid.UUID, version int, edit func(*farm.Shift)) (ShiftNow, error) {
	done, err := write(ctx, s, a, garden, farm.ManageShifts, Once{},
		func(tx *store.Tx) *store.Row[farm.Shift] { return tx.LockShift(id) },
		func(w *Work, row *store.Row[farm.Shift]) (ShiftNow, error) {
			shift, err := row.Or("shift.not_found", "no shift %s in this garden", id)
			if err != nil {
				return ShiftNow{}, err
			}
			if err := checkVersion("shift", shift.Version, version); err != nil {
				return ShiftNow{}, err
			}
			edit(&shift)
			shift.ID, shift.Claims, shift.CreatedAt, shift.Version = id, row.Value.Claims, row.Value.CreatedAt, version+1
			if err := w.checkShift(&shift); err != nil {
				return ShiftNow{}, err
			}
			w.UpdateShift(shift)
			return w.shiftNow(shift), nil
		})
	return done.Value, err
}

// PlaceMove is a wish to move a place of a shift. A zero MemberID is the one
// who asks; ToID is who takes the place in a swap.
type PlaceMove struct {
	Kind     farm.ShiftMoveKind
	MemberID uuid.UUID
	ToID     uuid.UUID
	Reason   string
}

// MoveShift claims, releases, swaps or marks a place. It refuses with
// shift.not_found, member.not_found and what farm.Shift.Move refuses with.
func (s *Service) MoveShift(ctx context.Context, a Actor, garden, id uuid.UUID, in PlaceMove, once Once) (Done[ShiftNow], error) {
	type known struct {
		shift     *store.Row[farm.Shift]
		whose, to *store.Row[farm.Member]
		hosts     *store.Rows[uuid.UUID]
	}
	return write(ctx, s, a, garden, farm.ClaimShifts, once,
		func(tx *store.Tx) known {
			return known{tx.LockShift(id), tx.Member(in.MemberID), tx.Member(in.ToID), tx.HostsDuring(id)}
		},
		func(w *Work, k known) (ShiftNow, error) {
			shift, err := k.shift.Or("shift.not_found", "no shift %s in this garden", id)
			if err != nil {
				return ShiftNow{}, err
			}
			m := farm.ShiftMove{Kind: in.Kind, By: w.Member, Whose: w.Member, Reason: in.Reason, At: w.Now,
				Host: slices.Contains(k.hosts.Values, w.Member.ID)}
			if in.MemberID != uuid.Nil {
				if m.Whose = k.whose.Value; !k.whose.Found {
					return ShiftNow{}, noMember("/member_id", in.MemberID)
				}
			}
			if in.ToID != uuid.Nil {
				if m.To = k.to.Value; !k.to.Found {
					return ShiftNow{}, noMember("/to_member_id", in.ToID)
				}
			}
			changed, err := shift.Move(m)
			if err != nil {
				return ShiftNow{}, err
			}
			w.SetClaims(id, changed)
			shift = shift.With(changed)
			shift.Version++
			return w.shiftNow(shift), nil
		})
}

func noMember(field string, id uuid.UUID) error {
	return farm.Refuse("member.not_found", field, "%s: no member %s in this garden", field[1:], id)
}
