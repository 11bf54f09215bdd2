package store

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/farm"
)

// Options of a store. Zero values are fit for use.
type Options struct {
	MaxConns  int32         // 0: the driver's default
	CursorKey []byte        // signs list cursors; empty: random, so cursors end with the process
	Rollback  time.Duration // how long a rollback may take after its request is gone; 0: 5 s
}

// Store is the database. Safe for concurrent use.
type Store struct {
	pool      *pgxpool.Pool
	cursorKey []byte
	rollback  time.Duration
}

// Open connects and checks that the database answers.
func Open(ctx context.Context, dsn string, o Options) (*Store, error) {
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		return nil, fmt.Errorf("store: database address: %w", err)
	}
	if o.MaxConns > 0 {
		cfg.MaxConns = o.MaxConns
	}
	cfg.ConnConfig.DefaultQueryExecMode = pgx.QueryExecModeCacheStatement
	cfg.AfterConnect = func(_ context.Context, c *pgx.Conn) error {
		teachIDs(c.TypeMap())
		return nil
	}
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return nil, fmt.Errorf("store: open: %w", err)
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("store: open: %w", err)
	}
	return New(pool, o), nil
}

// New makes a store on an open pool, which the caller keeps.
func New(pool *pgxpool.Pool, o Options) *Store {
	s := &Store{pool: pool, cursorKey: o.CursorKey, rollback: o.Rollback}
	if len(s.cursorKey) == 0 {
		s.cursorKey = make([]byte, 32)
		rand.Read(s.cursorKey) // never fails
	}
	if s.rollback == 0 {
		s.rollback = 5 * time.Second
	}
	return s
}

// Close ends all connections.
func (s *Store) Close() { s.pool.Close() }

// Pool is for health checks and the job engine. Queries go through Read and InTx.
func (s *Store) Pool() *pgxpool.Pool { return s.pool }

// Scope is whose rows are seen: a garden's, a person's own, or, with both
// zero, only the global tables.
type Scope struct {
	Garden  uuid.UUID
	Account uuid.UUID
}

const setScope = `SELECT set_config('midden.garden_id', $1, true), set_config('midden.account_id', $2, true)`

func (sc Scope) args() []any { return []any{textOrEmpty(sc.Garden), textOrEmpty(sc.Account)} }

func textOrEmpty(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}

// Read queues what fn asks for and fetches it in one round trip. Each
// statement sees the latest committed rows; use Snapshot when they must agree.
func (s *Store) Read(ctx context.Context, sc Scope, fn func(*Batch)) error {
	b := &Batch{store: s, scope: sc}
	b.openScope(setScope)
	fn(b)
	return s.send(ctx, b)
}

// Snapshot is Read with every statement seeing the same instant.
func (s *Store) Snapshot(ctx context.Context, sc Scope, fn func(*Batch)) error {
	b := &Batch{store: s, scope: sc}
	b.queue(`BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY`)
	b.openScope(setScope)
	fn(b)
	b.queue(`COMMIT`)
	return s.send(ctx, b)
}

func (s *Store) send(ctx context.Context, b *Batch) error {
	if b.err != nil {
		return b.err
	}
	conn, err := s.pool.Acquire(ctx)
	if err != nil {
		return translate(err)
	}
	defer conn.Release() // a connection left inside a transaction is closed, not reused
	return translate(conn.SendBatch(ctx, &b.pending).Close())
}

// setWrite is setScope for a write. Its statements find rows by whole keys, so
// a plan made once fits every call; left to itself the server plans most of
// them anew each time, which costs five times what running them does.
const setWrite = `SELECT set_config('midden.garden_id', $1, true), set_config('midden.account_id', $2, true),
	set_config('plan_cache_mode', 'force_generic_plan', true)`

// openScope sets whose rows are seen and asks for the garden and the person's
// membership in it, which nearly every use case needs.
func (b *Batch) openScope(set string) {
	b.queue(set, b.scope.args()...)
	b.garden, b.member = &Row[farm.Garden]{}, &Row[farm.Member]{}
	if b.scope.Garden == uuid.Nil {
		return
	}
	b.garden = b.Garden()
	if b.scope.Account != uuid.Nil {
		b.member = b.ownMembership()
	}
}
