package service

import (
	"context"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// Work is a write under way: its transaction, the garden, who acts and the
// instant, read once.
type Work struct {
	*store.Tx
	Garden farm.Garden
	Member farm.Member
	Now    time.Time
	ids    func() uuid.UUID
}

// write runs a use case that changes a garden: queue reads what must be known,
// then one round trip, then permission, then do decides and queues the writes,
// which go out with COMMIT. do may run again after a deadlock.
//
// It refuses with garden.not_found, role.forbidden, request.in_flight and
// request.key_reused, and with whatever do and the store refuse.
func write[Q, R any](ctx context.Context, s *Service, a Actor, garden uuid.UUID, may farm.Action, once Once,
	queue func(*store.Tx) Q, do func(*Work, Q) (R, error)) (Done[R], error) {
	now := s.now()
	var done Done[R]
	err := s.store.InTx(ctx, a.in(garden), func(tx *store.Tx) error {
		done = Done[R]{}
		earlier := claim(tx, once)
		asked := queue(tx)
		if err := tx.Flush(); err != nil {
			return err
		}
		g, m, ok := tx.Actor()
		if !ok {
			return noGarden(garden)
		}
		if err := authorise(m, may); err != nil {
			return err
		}
		return finish(tx, a, once, earlier, now, &done, func() (R, error) {
			return do(&Work{Tx: tx, Garden: g, Member: m, Now: now, ids: s.ids}, asked)
		})
	})
	if err != nil {
		return Done[R]{}, err
	}
	return done, nil
}

func claim(tx *store.Tx, once Once) *store.Row[store.StoredAnswer] {
	if !once.asked() {
		return &store.Row[store.StoredAnswer]{}
	}
	return tx.ClaimOnce(once.Op, once.Key)
}

// finish replays an earlier answer, or does the work and keeps its answer.
func finish[R any](tx *store.Tx, a Actor, once Once, earlier *store.Row[store.StoredAnswer], now time.Time,
	done *Done[R], do func() (R, error)) error {
	var err error
	if earlier.Found {
		done.Response, err = once.replay(earlier.Value)
		done.Replayed = true
		return err
	}
	if done.Value, err = do(); err != nil || !once.asked() {
		return err
	}
	answer, keep, err := once.answer(done.Value)
	if err != nil {
		return err
	}
	done.Response = &answer.Answer
	if keep {
		return tx.KeepAnswer(a.AccountID, once.Op, once.Key, answer, now)
	}
	return nil
}

// read runs a use case that only looks, in one round trip. What queue asked
// for must not be looked at when an error comes back. It refuses with
// garden.not_found and role.forbidden.
func (s *Service) read(ctx context.Context, a Actor, garden uuid.UUID, may farm.Action, queue func(*store.Batch)) (farm.Garden, farm.Member, error) {
	var batch *store.Batch
	err := s.store.Read(ctx, a.in(garden), func(b *store.Batch) {
		batch = b
		queue(b)
	})
	if err != nil {
		return farm.Garden{}, farm.Member{}, err
	}
	g, m, ok := batch.Actor()
	if !ok {
		return g, m, noGarden(garden)
	}
	return g, m, authorise(m, may)
}

// at is when something occurred: as told, or now; and the garden's day for it.
// It refuses with day.future and day.closed.
func (w *Work) at(told time.Time) (time.Time, measure.Day, error) {
	if told.IsZero() {
		told = w.Now
	}
	told = told.UTC().Truncate(time.Microsecond)
	day, err := w.Garden.BookingDay(told, w.Now)
	return told, day, err
}

// from is the day from which stock must be known for something that occurred
// at an instant: the garden's day is at most one day off the UTC day.
func (s *Service) from(told time.Time) measure.Day {
	if told.IsZero() {
		told = s.now()
	}
	return measure.DayIn(told, time.UTC).Add(-1)
}

// entry makes an entry of this use case.
func (w *Work) entry(kind string, cause ledger.Cause, at time.Time, on measure.Day, postings ...ledger.Posting) ledger.Entry {
	return ledger.Entry{
		Garden: w.Garden.ID, ID: w.ids(), Kind: kind, EffectiveOn: on, OccurredAt: at, RecordedAt: w.Now,
		Actor: w.Member.ID, Cause: cause, Postings: postings,
	}
}

// side is one end of a movement.
type side struct {
	account ledger.Account
	site    uuid.UUID
}

// moved is the pair of postings of grams going from one end to the other.
func moved(s ledger.Substance, g measure.Grams, how ledger.Method, sdPermille int, from, to side) []ledger.Posting {
	return []ledger.Posting{
		{Account: from.account, Substance: s, Grams: -g, Method: how, RelSDPermille: sdPermille, Site: from.site},
		{Account: to.account, Substance: s, Grams: g, Method: how, RelSDPermille: sdPermille, Site: to.site},
	}
}

// paged is read for one page of a list.
func paged[T any](ctx context.Context, s *Service, a Actor, garden uuid.UUID, may farm.Action, ask func(*store.Batch) *store.Paged[T]) (List[T], error) {
	var page *store.Paged[T]
	if _, _, err := s.read(ctx, a, garden, may, func(b *store.Batch) { page = ask(b) }); err != nil {
		return List[T]{}, err
	}
	return page.List(), nil
}
