package pgtest

import (
	"context"
	"crypto/rand"
	"fmt"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/pgrun"
)

// DB is one test's own database. It is gone when the test ends.
type DB struct {
	Name     string
	Owner    *pgxpool.Pool // as midden_owner, which migrates and owns everything
	App      *pgxpool.Pool // as midden_app, which serves: no superuser, bound by row-level security
	OwnerDSN string
	AppDSN   string
	SuperDSN string // for tests of roles and rights only
}

// Option changes what New gives.
type Option func(*options)

type options struct{ empty bool }

// Empty asks for a database without any migration applied: for tests of the migrations.
func Empty() Option { return func(o *options) { o.empty = true } }

// poolSize is small because many tests share one server's connections.
const poolSize = 4

// leakWait is how long connections may take to end after a test before they count as leaked.
const leakWait = 5 * time.Second

// The process's own part of a database's name: process numbers repeat between containers that share a server.
var (
	process  = fmt.Sprintf("%d_%s", os.Getpid(), strings.ToLower(rand.Text()[:6]))
	sequence atomic.Int64
)

// theServer is started when a test first asks for a database.
var (
	theServer = sync.OnceValues(func() (*server, error) {
		s, err := startServer(context.Background())
		running.Store(s)
		return s, err
	})
	running atomic.Pointer[server]
)

// Main runs a package's tests and stops the server that they started. It is the whole of a TestMain.
func Main(m *testing.M) { os.Exit(Run(m)) }

// Run is Main for a TestMain with more to do: it returns the exit code.
func Run(m *testing.M) int {
	code := m.Run()
	if s := running.Load(); s != nil {
		if err := s.close(); err != nil {
			fmt.Fprintln(os.Stderr, "pgtest: stop the server:", err)
			return max(code, 1)
		}
	}
	return code
}

// New gives the test a database of its own and drops it when the test ends. A connection that the test leaves open fails
// the test. A failed test keeps its database where the server outlives the test, and prints how to connect to it.
func New(t testing.TB, opts ...Option) *DB {
	t.Helper()
	var o options
	for _, opt := range opts {
		opt(&o)
	}
	s, err := theServer()
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	template := ""
	if !o.empty {
		if template, err = s.template(); err != nil {
			t.Fatalf("pgtest: make the template: %v", err)
		}
	}
	ctx := t.Context()
	db := &DB{Name: fmt.Sprintf("%s%d_%s_%d", testPrefix, time.Now().Unix(), process, sequence.Add(1))}
	if err := s.create(ctx, db.Name, template); err != nil {
		t.Fatalf("pgtest: make database %s: %v", db.Name, err)
	}
	t.Cleanup(func() { s.finish(t, db) })
	if db.SuperDSN, err = pgrun.WithRole(s.superDSN, s.superUser, s.superPassword, db.Name); err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	db.OwnerDSN, db.Owner = s.pool(t, pgrun.OwnerRole, db.Name)
	db.AppDSN, db.App = s.pool(t, pgrun.AppRole, db.Name)
	return db
}

func (s *server) pool(t testing.TB, role, database string) (string, *pgxpool.Pool) {
	t.Helper()
	dsn, err := pgrun.WithRole(s.superDSN, role, s.rolePassword, database)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	cfg, err := pgxpool.ParseConfig(dsn)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	cfg.MaxConns = poolSize
	cfg.ConnConfig.RuntimeParams["application_name"] = appName(t)
	pool, err := pgxpool.NewWithConfig(t.Context(), cfg)
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	return dsn, pool
}

// appName fits Postgres's limit of 63 bytes and keeps the end, which tells subtests apart.
func appName(t testing.TB) string {
	name := t.Name()
	return name[max(0, len(name)-63):]
}

// finish closes the pools and drops the database. It runs after the test's own clean-up.
func (s *server) finish(t testing.TB, db *DB) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	leaked := false
	for role, pool := range map[string]*pgxpool.Pool{"Owner": db.Owner, "App": db.App} {
		if pool != nil && !closePool(pool) {
			leaked = true
			t.Errorf("pgtest: %d connections of DB.%s were never given back: a Rows not closed, a Tx not ended?",
				pool.Stat().AcquiredConns(), role)
		}
	}
	if t.Failed() && s.outlives {
		t.Logf("pgtest: kept the database: psql %q", db.SuperDSN)
		return
	}
	if leaked {
		s.dropAnyway(ctx, db.Name)
		return
	}
	if err := s.drop(ctx, db.Name); err != nil {
		t.Errorf("pgtest: drop the database: %v", err)
		s.dropAnyway(ctx, db.Name)
	}
}

// closePool closes a pool, and says no if a connection is still in use: Close itself would wait for it for ever.
func closePool(pool *pgxpool.Pool) bool {
	closed := make(chan struct{})
	go func() {
		pool.Close()
		close(closed)
	}()
	select {
	case <-closed:
		return true
	case <-time.After(leakWait):
		return false
	}
}

// drop drops without FORCE, because a connection that is still open is the test's mistake. It looks before it asks:
// Postgres itself looks only ten times a second.
func (s *server) drop(ctx context.Context, name string) error {
	deadline := time.NewTimer(leakWait)
	defer deadline.Stop()
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for {
		open, err := s.connections(ctx, name)
		if err != nil {
			return err
		}
		if len(open) == 0 {
			_, err := s.admin.Exec(ctx, `DROP DATABASE `+pgx.Identifier{name}.Sanitize())
			return err
		}
		select {
		case <-deadline.C:
			return fmt.Errorf("the test left %d connections open: %s", len(open), strings.Join(open, "; "))
		case <-tick.C:
		}
	}
}

func (s *server) connections(ctx context.Context, name string) ([]string, error) {
	rows, err := s.admin.Query(ctx, `SELECT format('%s as %s, %s, last statement: %s', application_name, usename, state, left(query, 200))
		FROM pg_stat_activity WHERE datname = $1`, name)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

func (s *server) dropAnyway(ctx context.Context, name string) {
	// The test has failed already, and the next sweep tries again.
	_, _ = s.admin.Exec(ctx, `DROP DATABASE IF EXISTS `+pgx.Identifier{name}.Sanitize()+` WITH (FORCE)`)
}
