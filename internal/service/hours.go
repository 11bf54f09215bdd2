package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// HoursFilter narrows a list of hours.
type HoursFilter = store.HoursFilter

// EnterHours notes time given outside shifts: one's own, or anybody's as a
// coordinator. Its ID may be the client's own, a zero MemberID is the one who
// asks and a zero OccurredAt is now. It refuses with hours.invalid,
// hours.exists, member.not_found, role.forbidden, day.future and day.closed.
func (s *Service) EnterHours(ctx context.Context, a Actor, garden uuid.UUID, in farm.Hours, once Once) (Done[farm.Hours], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Hours]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, farm.ClaimShifts, once,
		func(tx *store.Tx) made[farm.Hours] { return made[farm.Hours]{tx.HoursContent(in.ID), tx.Hours(in.ID)} },
		func(w *Work, m made[farm.Hours]) (farm.Hours, error) {
			if same, err := again(m.content, content, "hours.exists"); same || err != nil {
				return m.row.Value, err
			}
			h := in
			if h.MemberID == uuid.Nil {
				h.MemberID = w.Member.ID
			}
			if h.MemberID != w.Member.ID && w.Member.Role != farm.Coordinator {
				return h, farm.Refuse("role.forbidden", "/member_id", "member_id: only a coordinator enters somebody else's hours")
			}
			h.RecordedAt, h.RecordedBy = w.Now, w.Member.ID
			if h.OccurredAt, h.Day, err = w.at(in.OccurredAt); err != nil {
				return h, err
			}
			if err := h.Validate(); err != nil {
				return h, err
			}
			w.InsertHours(h, content)
			return h, nil
		})
}

// Hours lists entered hours, the newest first. Who sees people sees everybody's;
// others see their own.
func (s *Service) Hours(ctx context.Context, a Actor, garden uuid.UUID, f store.HoursFilter, p store.Page) (store.List[farm.Hours], error) {
	var page *store.Paged[farm.Hours]
	_, _, err := s.read(ctx, a, garden, farm.ClaimShifts, func(b *store.Batch) {
		page = b.HoursList(f, farm.RolesThatMay(farm.SeePeople), p)
	})
	if err != nil {
		return store.List[farm.Hours]{}, err
	}
	return page.List(), nil
}

// MinutesByMember is the time that each member gave on the days of a range, in
// done shifts and outside of them. Reports and shares ask for
// store.Batch.MinutesByMember beside what else they read.
func (s *Service) MinutesByMember(ctx context.Context, a Actor, garden uuid.UUID, days measure.DayRange) (map[uuid.UUID]int64, error) {
	var rows *store.Rows[store.MemberMinutes]
	if _, _, err := s.read(ctx, a, garden, farm.SeePeople, func(b *store.Batch) { rows = b.MinutesByMember(days) }); err != nil {
		return nil, err
	}
	out := make(map[uuid.UUID]int64, len(rows.Values))
	for _, m := range rows.Values {
		out[m.Member] = m.Minutes
	}
	return out, nil
}
