package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/ledger"
)

// Tx is one transaction of a use case. Reads are queued and answered by Flush;
// writes are queued and go out, after the use case returns, in one round trip
// with the postings, the roll-ups and COMMIT. Not safe for concurrent use.
type Tx struct {
	Batch
	ctx     context.Context
	conn    *pgxpool.Conn
	begun   bool
	entries []ledger.Entry
	cause   error // the first database error, as the driver gave it
	doomed  error // why nothing of this may be kept
}

// Context carries the transaction: InTx called with it joins.
func (tx *Tx) Context() context.Context { return context.WithValue(tx.ctx, txKey{}, tx) }

type txKey struct{}

const mostAttempts = 8

// InTx runs fn in a transaction and commits when it returns nil. It may run fn
// again after a serialization failure or a deadlock, so fn must keep its
// effects inside the transaction. A call with the context of a running
// transaction joins it; an error of the joined part dooms the whole, also when
// the outer part swallows it.
func (s *Store) InTx(ctx context.Context, sc Scope, fn func(*Tx) error) error {
	if outer, ok := ctx.Value(txKey{}).(*Tx); ok && outer.store == s {
		return outer.join(sc, fn)
	}
	for attempt := 1; ; attempt++ {
		again, err := s.attempt(ctx, sc, fn)
		if err == nil || !again || attempt == mostAttempts {
			return err
		}
		if err := pause(ctx, attempt); err != nil {
			return err
		}
	}
}

func (tx *Tx) join(sc Scope, fn func(*Tx) error) error {
	if sc != tx.scope {
		tx.doom(fmt.Errorf("store: a joined transaction can't change its garden or person"))
		return tx.doomed
	}
	if err := fn(tx); err != nil {
		tx.doom(err)
		return err
	}
	return nil
}

func (tx *Tx) doom(err error) {
	if tx.doomed == nil {
		tx.doomed = err
	}
}

// pause waits longer after each attempt, with jitter so that two writers that
// met once do not meet again.
func pause(ctx context.Context, attempt int) error {
	longest := time.Duration(1<<attempt) * 5 * time.Millisecond
	t := time.NewTimer(time.Duration(rand.Int64N(int64(longest))))
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

func (s *Store) attempt(ctx context.Context, sc Scope, fn func(*Tx) error) (again bool, err error) {
	tx := &Tx{Batch: Batch{store: s, scope: sc}, ctx: ctx}
	defer tx.release()
	err = fn(tx)
	if tx.doomed != nil {
		err = tx.doomed
	}
	if err == nil {
		err = tx.commit()
	}
	if err == nil {
		return false, nil
	}
	tx.release()
	if shortfall := s.shortfall(ctx, tx); shortfall != nil {
		return false, shortfall
	}
	return retryable(tx.cause), err
}

// Flush sends what is queued and waits for the answers. The first one also
// begins the transaction, sets its scope and reads the actor. After an error
// the transaction is lost.
func (tx *Tx) Flush() error {
	if tx.err != nil {
		tx.doom(tx.err)
	}
	if tx.doomed != nil {
		return tx.doomed
	}
	if tx.begun && tx.pending.Len() == 0 {
		return nil
	}
	return tx.flush(false)
}

func (tx *Tx) flush(last bool) error {
	if !tx.begun {
		if err := tx.begin(); err != nil {
			return err
		}
	}
	if last {
		tx.queue(`COMMIT`)
	}
	out := tx.pending
	tx.pending = pgx.Batch{}
	if err := tx.conn.SendBatch(tx.ctx, &out).Close(); err != nil {
		tx.cause = err
		tx.doom(translate(err))
		return tx.doomed
	}
	if last {
		tx.begun = false
	}
	return nil
}

// begin puts BEGIN, the scope and the actor in front of what was queued.
func (tx *Tx) begin() error {
	conn, err := tx.store.pool.Acquire(tx.ctx)
	if err != nil {
		tx.doom(translate(err))
		return tx.doomed
	}
	tx.conn, tx.begun = conn, true
	asked := tx.pending.QueuedQueries
	tx.pending = pgx.Batch{}
	tx.queue(`BEGIN ISOLATION LEVEL READ COMMITTED`)
	tx.openScope(setWrite)
	tx.pending.QueuedQueries = append(tx.pending.QueuedQueries, asked...)
	return nil
}

func (tx *Tx) commit() error {
	if tx.err != nil {
		return tx.err
	}
	tx.queuePostings()
	if !tx.begun && tx.pending.Len() == 0 {
		return nil
	}
	return tx.flush(true)
}

// release rolls back what was not committed, also when the request's context
// is gone, and hands the connection back. It may be called twice.
func (tx *Tx) release() {
	if tx.conn == nil {
		return
	}
	if tx.begun && !tx.conn.Conn().IsClosed() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(tx.ctx), tx.store.rollback)
		defer cancel()
		// An error here closes the connection on release; nothing is kept either way.
		_, _ = tx.conn.Conn().PgConn().Exec(ctx, "ROLLBACK").ReadAll()
	}
	tx.begun = false
	tx.conn.Release()
	tx.conn = nil
}

// retryable tells whether the same work may succeed at the next attempt: a
// serialization failure, a deadlock, or a row made by another request between
// our look and our insert (the next look will see it).
func retryable(err error) bool {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		switch pg.Code {
		case "40001", "40P01":
			return true
		case "23505":
			return strings.HasSuffix(pg.ConstraintName, "_pkey")
		}
		return false
	}
	return err != nil && pgconn.SafeToRetry(err)
}
