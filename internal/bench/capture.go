package main

import (
	"context"
	"strings"
	"sync"

	"github.com/jackc/pgx/v5"
)

// statement is one that the service sent.
type statement struct {
	sql  string
	args []any
}

// trace remembers the statements of each round trip, while asked to.
type trace struct {
	mu    sync.Mutex
	on    bool
	trips [][]statement
}

var _ pgx.BatchTracer = (*trace)(nil)

// watch runs f and gives the round trips it made.
func (t *trace) watch(f func() error) ([][]statement, error) {
	t.mu.Lock()
	t.on, t.trips = true, nil
	t.mu.Unlock()
	err := f()
	t.mu.Lock()
	defer t.mu.Unlock()
	t.on = false
	return t.trips, err
}

// TraceBatchStart notes a round trip.
func (t *trace) TraceBatchStart(ctx context.Context, _ *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.on {
		var trip []statement
		for _, q := range data.Batch.QueuedQueries {
			trip = append(trip, statement{strings.TrimSpace(q.SQL), q.Arguments})
		}
		t.trips = append(t.trips, trip)
	}
	return ctx
}

// TraceBatchQuery notes nothing: the batch was noted whole.
func (t *trace) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}

// TraceBatchEnd notes nothing.
func (t *trace) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}

// TraceQueryStart is there because a tracer must have it; the store sends only batches.
func (t *trace) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	return ctx
}

// TraceQueryEnd notes nothing.
func (t *trace) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}
