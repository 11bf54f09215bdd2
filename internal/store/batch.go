package store

import (
	"errors"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"midden/internal/farm"
	"midden/internal/measure"
)

// Batch gathers statements for one round trip. Its read methods return a Row
// or Rows that is filled once the batch was sent.
type Batch struct {
	store   *Store
	scope   Scope
	err     error // a refusal met while queueing, such as a bad cursor
	pending pgx.Batch
	garden  *Row[farm.Garden]
	member  *Row[farm.Member]
}

// Actor is the garden of the scope and the person's active membership in it;
// ok is false when the garden is absent or the person is no member. Valid once
// the first round trip was made.
func (b *Batch) Actor() (g farm.Garden, m farm.Member, ok bool) {
	return b.garden.Value, b.member.Value, b.garden.Found && b.member.Found
}

// fail notes a refusal met while queueing; nothing will be sent.
func (b *Batch) fail(err error) {
	if b.err == nil {
		b.err = err
	}
}

func (b *Batch) queue(sql string, args ...any) *pgx.QueuedQuery {
	return b.pending.Queue(sql, args...)
}

// Row is one row to come.
type Row[T any] struct {
	Value T
	Found bool
}

// Or gives the value, or a refusal with the code when there was none.
func (r *Row[T]) Or(code farm.Code, format string, args ...any) (T, error) {
	if !r.Found {
		return r.Value, farm.Refuse(code, "", format, args...)
	}
	return r.Value, nil
}

// Rows is a list to come.
type Rows[T any] struct{ Values []T }

// fetchOne queues a query of at most one row of R and makes a T of it.
func fetchOne[R, T any](b *Batch, turn func(R) (T, error), sql string, args ...any) *Row[T] {
	out := &Row[T]{}
	b.queue(sql, args...).Query(func(rows pgx.Rows) error {
		r, err := pgx.CollectOneRow(rows, pgx.RowToStructByName[R])
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		if err != nil {
			return err
		}
		out.Value, err = turn(r)
		out.Found = err == nil
		return err
	})
	return out
}

// fetchAll queues a query of rows of R and makes a T of each.
func fetchAll[R, T any](b *Batch, turn func(R) (T, error), sql string, args ...any) *Rows[T] {
	out := &Rows[T]{Values: []T{}}
	b.queue(sql, args...).Query(func(rows pgx.Rows) error {
		list, err := pgx.CollectRows(rows, pgx.RowToStructByName[R])
		if err != nil {
			return err
		}
		for _, r := range list {
			v, err := turn(r)
			if err != nil {
				return err
			}
			out.Values = append(out.Values, v)
		}
		return nil
	})
	return out
}

// fetchValue queues a query of one column and at most one row.
func fetchValue[T any](b *Batch, sql string, args ...any) *Row[T] {
	out := &Row[T]{}
	b.queue(sql, args...).Query(func(rows pgx.Rows) error {
		v, err := pgx.CollectOneRow(rows, pgx.RowTo[T])
		if errors.Is(err, pgx.ErrNoRows) {
			return nil
		}
		out.Value, out.Found = v, err == nil
		return err
	})
	return out
}

// fetchValues queues a query of one column.
func fetchValues[T any](b *Batch, sql string, args ...any) *Rows[T] {
	out := &Rows[T]{}
	b.queue(sql, args...).Query(func(rows pgx.Rows) (err error) {
		out.Values, err = pgx.CollectRows(rows, pgx.RowTo[T])
		return err
	})
	return out
}

// date carries a civil day to and from a date column; NULL is no day.
type date struct{ measure.Day }

// ScanDate reads a date column.
func (d *date) ScanDate(v pgtype.Date) error {
	d.Day = measure.Day{}
	if v.Valid {
		d.Day = measure.DayIn(v.Time, time.UTC)
	}
	return nil
}

// DateValue writes a date column.
func (d date) DateValue() (pgtype.Date, error) {
	return pgtype.Date{Time: d.UTC(), Valid: !d.IsZero()}, nil
}

func dayArg(d measure.Day) date { return date{d} }

func idOrNull(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

func idOf(id *uuid.UUID) uuid.UUID {
	if id == nil {
		return uuid.Nil
	}
	return *id
}

func timeOrNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

func timeOf(t *time.Time) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.UTC()
}

// orNull is nil for the zero value: optional numbers and filters.
func orNull[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

func orZero[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}
