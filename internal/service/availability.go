package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// Availability is when a member can visit bins, for those who see people. It
// refuses with member.not_found, and with availability.not_found for a member
// whose role has no bins to visit.
func (s *Service) Availability(ctx context.Context, a Actor, garden, member uuid.UUID) (farm.Availability, error) {
	var row *store.Row[farm.Member]
	var when *store.Row[farm.Availability]
	_, _, err := s.read(ctx, a, garden, farm.SeePeople, func(b *store.Batch) { row, when = b.Member(member), b.Availability(member) })
	if err != nil {
		return farm.Availability{}, err
	}
	m, err := row.Or("member.not_found", "no member %s in this garden", member)
	if err != nil {
		return farm.Availability{}, err
	}
	if !m.CaresForBins() {
		return farm.Availability{}, farm.Refuse("availability.not_found", "", "only an active keeper or coordinator visits bins; %s is a %s", m.DisplayName, m.Role)
	}
	return when.Value, nil
}

// SetAvailability says when a member can visit bins: their own, or anyone's
// for a coordinator. version is 0 for never said. It refuses with
// member.not_found, role.forbidden, version.stale, availability.invalid, and
// with availability.not_keeper for a role that has no bins to visit.
func (s *Service) SetAvailability(ctx context.Context, a Actor, garden uuid.UUID, version int, in farm.Availability) (farm.Availability, error) {
	type known struct {
		row  *store.Row[farm.Member]
		when *store.Row[farm.Availability]
	}
	done, err := write(ctx, s, a, garden, farm.CareForBins, Once{},
		func(tx *store.Tx) known { return known{tx.LockMember(in.MemberID), tx.Availability(in.MemberID)} },
		func(w *Work, k known) (farm.Availability, error) {
			m, err := k.row.Or("member.not_found", "no member %s in this garden", in.MemberID)
			if err != nil {
				return in, err
			}
			if m.ID != w.Member.ID {
				if err := authorise(w.Member, farm.ManagePeople); err != nil {
					return in, err
				}
			}
			if !m.CaresForBins() {
				return in, farm.Refuse("availability.not_keeper", "", "only an active keeper or coordinator visits bins; %s is a %s", m.DisplayName, m.Role)
			}
			if err := checkVersion("availability", k.when.Value.Version, version); err != nil {
				return in, err
			}
			next := in
			next.Version = version + 1
			if err := next.Validate(); err != nil {
				return next, err
			}
			return next, w.PutAvailability(next, w.Now)
		})
	return done.Value, err
}
