package service

import (
	"context"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/store"
)

// IssueFilter narrows a list of complaints, incidents or official visits.
type IssueFilter = store.IssueFilter

// RecordIssue records a complaint, an incident or an official visit. Its ID may
// be the client's own; a zero OccurredAt is now. It refuses with the class's
// invalid and exists (complaint.invalid, incident.exists), and with
// site.not_found, bin.not_found, member.not_found, day.future and day.closed.
func (s *Service) RecordIssue(ctx context.Context, a Actor, garden uuid.UUID, in farm.Issue, once Once) (Done[farm.Issue], error) {
	content, err := digest(in)
	if err != nil {
		return Done[farm.Issue]{}, err
	}
	in.ID = s.idOr(in.ID)
	return write(ctx, s, a, garden, in.Class.Raise(), once,
		func(tx *store.Tx) made[farm.Issue] {
			return made[farm.Issue]{tx.IssueContent(in.Class, in.ID), tx.Issue(in.Class, in.ID)}
		},
		func(w *Work, m made[farm.Issue]) (farm.Issue, error) {
			if same, err := again(m.content, content, in.Class.Code("exists")); same || err != nil {
				return m.row.Value, err
			}
			i := in
			i.RecordedAt, i.RecordedBy, i.Version = w.Now, w.Member.ID, 1
			if i.OccurredAt, i.Day, err = w.at(in.OccurredAt); err != nil {
				return i, err
			}
			if err := w.checkIssue(i); err != nil {
				return i, err
			}
			w.InsertIssue(i, content)
			return i, nil
		})
}

func (w *Work) checkIssue(i farm.Issue) error {
	today, err := w.Garden.DayOf(w.Now)
	if err != nil {
		return err
	}
	return i.Validate(today)
}

// Issues lists the issues of a class, the newest first.
func (s *Service) Issues(ctx context.Context, a Actor, garden uuid.UUID, f store.IssueFilter, p store.Page) (store.List[farm.Issue], error) {
	return paged(ctx, s, a, garden, farm.AnswerIssues, func(b *store.Batch) *store.Paged[farm.Issue] { return b.Issues(f, p) })
}

// Issue is one of a class. It refuses with the class's not_found.
func (s *Service) Issue(ctx context.Context, a Actor, garden uuid.UUID, class farm.IssueClass, id uuid.UUID) (farm.Issue, error) {
	var row *store.Row[farm.Issue]
	if _, _, err := s.read(ctx, a, garden, farm.AnswerIssues, func(b *store.Batch) { row = b.Issue(class, id) }); err != nil {
		return farm.Issue{}, err
	}
	return row.Or(class.Code("not_found"), "nothing of this kind has the id %s in this garden", id)
}

// UpdateIssue adds what was done, closes, or corrects an issue at the version
// the person has read. It refuses with the class's not_found and invalid, and
// with version.stale, site.not_found, bin.not_found and member.not_found.
func (s *Service) UpdateIssue(ctx context.Context, a Actor, garden uuid.UUID, class farm.IssueClass, id uuid.UUID, version int, edit func(*farm.Issue)) (farm.Issue, error) {
	done, err := write(ctx, s, a, garden, farm.AnswerIssues, Once{},
		func(tx *store.Tx) *store.Row[farm.Issue] { return tx.LockIssue(class, id) },
		func(w *Work, row *store.Row[farm.Issue]) (farm.Issue, error) {
			i, err := row.Or(class.Code("not_found"), "nothing of this kind has the id %s in this garden", id)
			if err != nil {
				return i, err
			}
			if err := checkVersion(string(class), i.Version, version); err != nil {
				return i, err
			}
			edit(&i)
			i.Version = version + 1
			if err := w.checkIssue(i); err != nil {
				return i, err
			}
			w.UpdateIssue(i)
			return i, nil
		})
	return done.Value, err
}
