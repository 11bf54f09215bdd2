package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"midden/migrations"
)

// childMode makes this program the process that a test needs beside its own: it finds a server, says which, and ends.
const childMode = "PGTEST_CHILD"

func TestMain(m *testing.M) {
	switch os.Getenv(childMode) {
	case "":
		Main(m)
	default:
		s, err := startServer(context.Background())
		if err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		fmt.Println("ready", os.Getpid(), s.superDSN)
		os.Exit(0) // without stopping it, as a killed process would
	}
}

// attempt is a test inside a test: it keeps what New reports instead of failing.
type attempt struct {
	testing.TB
	errors, logs []string
	cleanups     []func()
}

func (a *attempt) Helper()                      {}
func (a *attempt) Errorf(f string, args ...any) { a.errors = append(a.errors, fmt.Sprintf(f, args...)) }
func (a *attempt) Logf(f string, args ...any)   { a.logs = append(a.logs, fmt.Sprintf(f, args...)) }
func (a *attempt) Failed() bool                 { return len(a.errors) > 0 }
func (a *attempt) Cleanup(f func())             { a.cleanups = append(a.cleanups, f) }
func (a *attempt) end() {
	for i := len(a.cleanups) - 1; i >= 0; i-- {
		a.cleanups[i]()
	}
}

func databaseExists(t *testing.T, name string) bool {
	t.Helper()
	s, err := theServer()
	if err != nil {
		t.Fatal(err)
	}
	var there bool
	if err := s.admin.QueryRow(t.Context(), `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, name).Scan(&there); err != nil {
		t.Fatal(err)
	}
	return there
}

func TestEachTestHasADatabaseOfItsOwn(t *testing.T) {
	t.Parallel()
	one, two := New(t), New(t)
	if _, err := one.Owner.Exec(t.Context(), `CREATE TABLE public.only_here ()`); err != nil {
		t.Fatal(err)
	}
	var there bool
	if err := two.Owner.QueryRow(t.Context(), `SELECT to_regclass('public.only_here') IS NOT NULL`).Scan(&there); err != nil {
		t.Fatal(err)
	}
	if there {
		t.Error("a table made in one database shows in the other")
	}
}

func TestTheSchemaIsInPlaceAndNewest(t *testing.T) {
	t.Parallel()
	db := New(t)
	version, dirty, err := migrations.Version(t.Context(), db.OwnerDSN)
	if err != nil || dirty || version != migrations.Latest() || version == 0 {
		t.Errorf("version %d, dirty %v, %v; want %d", version, dirty, err, migrations.Latest())
	}
	var garden *string
	if err := db.App.QueryRow(t.Context(), `SELECT midden.garden()::text`).Scan(&garden); err != nil || garden != nil {
		t.Errorf("with no garden chosen, midden.garden() is %v, %v; want null", garden, err)
	}
}

func TestAnEmptyDatabaseGoesUpDownAndUp(t *testing.T) {
	t.Parallel()
	db := New(t, Empty())
	ctx := t.Context()
	for _, step := range []struct {
		do   func() error
		want uint
	}{
		{func() error { return nil }, 0},
		{func() error { return migrations.Up(ctx, db.OwnerDSN) }, migrations.Latest()},
		{func() error { return migrations.Up(ctx, db.OwnerDSN) }, migrations.Latest()},
		{func() error { return migrations.To(ctx, db.OwnerDSN, 1) }, 1},
		{func() error { return migrations.Down(ctx, db.OwnerDSN) }, 0},
		{func() error { return migrations.Up(ctx, db.OwnerDSN) }, migrations.Latest()},
	} {
		if err := step.do(); err != nil {
			t.Fatal(err)
		}
		if got, dirty, err := migrations.Version(ctx, db.OwnerDSN); got != step.want || dirty || err != nil {
			t.Fatalf("version %d, dirty %v, %v; want %d", got, dirty, err, step.want)
		}
	}
}

func TestTheAppPoolHasNoPowers(t *testing.T) {
	t.Parallel()
	db := New(t)
	var user string
	var powers bool
	err := db.App.QueryRow(t.Context(), `SELECT session_user, rolsuper OR rolbypassrls OR rolcreaterole OR rolcreatedb
		FROM pg_roles WHERE rolname = session_user`).Scan(&user, &powers)
	if err != nil || user != "midden_app" || powers {
		t.Errorf("the app works as %s, with powers %v, %v", user, powers, err)
	}
	for _, sql := range []string{`CREATE TABLE public.t ()`, `CREATE TABLE midden.t ()`, `CREATE TEMP TABLE t ()`, `SET ROLE midden_owner`} {
		var pg *pgconn.PgError
		if _, err := db.App.Exec(t.Context(), sql); !errors.As(err, &pg) || pg.Code != "42501" {
			t.Errorf("%s says %v, want insufficient_privilege", sql, err)
		}
	}
}

func TestADatabaseIsGoneWhenItsTestEnds(t *testing.T) {
	t.Parallel()
	a := &attempt{TB: t}
	db := New(a)
	if _, err := db.App.Exec(t.Context(), `SELECT 1`); err != nil {
		t.Fatal(err)
	}
	a.end()
	if a.Failed() {
		t.Errorf("a tidy test is told %q", a.errors)
	}
	if databaseExists(t, db.Name) {
		t.Error("the database is still there")
	}
}

func TestALeakedConnectionFailsTheTestThatLeaksIt(t *testing.T) {
	t.Parallel()
	for name, leak := range map[string]func(*testing.T, *DB) error{
		"from the pool": func(t *testing.T, db *DB) error {
			_, err := db.App.Acquire(t.Context())
			return err
		},
		"opened beside it": func(t *testing.T, db *DB) error {
			conn, err := pgx.Connect(t.Context(), db.AppDSN)
			if err != nil {
				return err
			}
			t.Cleanup(func() { _ = conn.Close(context.Background()) })
			return nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			a := &attempt{TB: t}
			db := New(a)
			if err := leak(t, db); err != nil {
				t.Fatal(err)
			}
			a.end()
			if !a.Failed() {
				t.Error("nobody noticed")
			}
			if !strings.Contains(strings.Join(a.errors, "\n"), "1 connections") {
				t.Errorf("the test is told %q", a.errors)
			}
			if databaseExists(t, db.Name) {
				t.Error("the database is still there")
			}
		})
	}
}

func TestAFailedTestKeepsItsDatabaseOnAServerThatStays(t *testing.T) {
	t.Parallel()
	s, err := theServer()
	if err != nil {
		t.Fatal(err)
	}
	for stays, want := range map[bool]bool{true: true, false: false} {
		staying := *s
		staying.outlives = stays
		a := &attempt{TB: t, errors: []string{"the test's own failure"}}
		db := &DB{Name: fmt.Sprintf("%s%d_%s_%d", testPrefix, time.Now().Unix(), process, sequence.Add(1)), SuperDSN: "postgres://look/here"}
		if err := staying.create(t.Context(), db.Name, ""); err != nil {
			t.Fatal(err)
		}
		staying.finish(a, db)
		if databaseExists(t, db.Name) != want {
			t.Errorf("on a server that stays (%v) the database is kept: %v", stays, !want)
		}
		if told := strings.Contains(strings.Join(a.logs, "\n"), db.SuperDSN); told != want {
			t.Errorf("on a server that stays (%v) the test says %q", stays, a.logs)
		}
		s.dropAnyway(t.Context(), db.Name)
	}
}

func TestManyProcessesMakeOneTemplate(t *testing.T) {
	t.Parallel()
	s, err := theServer()
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	names := make(chan string, 6)
	for range cap(names) {
		wg.Go(func() {
			name, err := s.makeTemplate() // as a process of its own would: past the process's own memory
			if err != nil {
				t.Error(err)
			}
			names <- name
		})
	}
	wg.Wait()
	close(names)
	first := <-names
	for name := range names {
		if name != first {
			t.Errorf("templates %s and %s", first, name)
		}
	}
}

func TestAChangedMigrationMakesAnotherTemplate(t *testing.T) {
	t.Parallel()
	seen := map[string]string{}
	for name, files := range map[string]fstest.MapFS{
		"as is":         {"1.up.sql": {Data: []byte("a")}, "2.up.sql": {Data: []byte("b")}},
		"changed":       {"1.up.sql": {Data: []byte("a")}, "2.up.sql": {Data: []byte("c")}},
		"renamed":       {"1.up.sql": {Data: []byte("a")}, "3.up.sql": {Data: []byte("b")}},
		"moved between": {"1.up.sql": {Data: []byte("a2.up.sql 1\nb")}},
	} {
		hash, err := contentHash(files)
		if err != nil {
			t.Fatal(err)
		}
		if other, twice := seen[hash]; twice {
			t.Errorf("%s and %s have the same hash", name, other)
		}
		seen[hash] = name
	}
}

func TestOnlyDayOldTestDatabasesAreSwept(t *testing.T) {
	t.Parallel()
	now := time.Unix(1_800_000_000, 0)
	for name, want := range map[string]bool{
		"midden_t_1799999990_77_ab_1": false,
		"midden_t_1799900000_77_ab_1": true,
		"midden_t_garden":             false,
		"midden":                      false,
	} {
		if got := old(name, now); got != want {
			t.Errorf("%s counts as old: %v", name, got)
		}
	}
}

// child runs this program in childMode and returns its one line.
func child(t *testing.T, env ...string) string {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), append(env, childMode+"=1")...)
	out, err := cmd.Output()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return string(out)
}

func TestAServerThatIsAskedForAndAbsentIsAFailure(t *testing.T) {
	t.Parallel()
	empty := t.TempDir()
	for name, c := range map[string]struct {
		env  []string
		want string
	}{
		"a connection string that nobody answers": {[]string{EnvLeg + "=", EnvURL + "=postgres://x@127.0.0.1:1/x"}, EnvURL + " is set, but nothing answers"},
		"env without a connection string":         {[]string{EnvLeg + "=env", EnvURL + "="}, "apt-get install postgresql"},
		"local without binaries":                  {[]string{EnvLeg + "=local", EnvURL + "=", "MIDDEN_PG_BINDIR=" + empty}, "apt-get install postgresql"},
		"a leg that is none":                      {[]string{EnvLeg + "=cloud"}, "must be env, local or docker"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out := child(t, c.env...)
			if !strings.HasPrefix(out, "failed:") || !strings.Contains(out, c.want) {
				t.Errorf("says %q, want %q", out, c.want)
			}
		})
	}
}

func TestAPanicWithoutDockerIsAnErrorLikeAnyOther(t *testing.T) {
	t.Parallel()
	s, err := guarded(func() (*server, error) { panic("no provider") })
	if s != nil || err == nil || !strings.Contains(err.Error(), "no provider") {
		t.Errorf("a panic became %v, %v", s, err)
	}
}

func TestWhatAKilledTestRunLeftIsSweptByTheNext(t *testing.T) {
	t.Parallel()
	var pid int
	if out := child(t, EnvLeg+"=local", EnvURL+"="); !strings.HasPrefix(out, "ready") {
		t.Fatalf("the child says %q", out)
	} else if _, err := fmt.Sscanf(out, "ready %d", &pid); err != nil {
		t.Fatal(err)
	}
	living := filepath.Join(folderParent(), fmt.Sprintf("%s%d-held", folderPrefix, os.Getpid()))
	if err := os.Mkdir(living, 0o700); err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(living)
	// Other test runs sweep too, and may hold the folder while they do.
	deadline := time.After(time.Minute)
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for sweepFolders(t.Context()); len(foldersOf(t, pid)) > 0; sweepFolders(t.Context()) {
		select {
		case <-deadline:
			t.Fatalf("%v is still there", foldersOf(t, pid))
		case <-tick.C:
		}
	}
	if _, err := os.Stat(living); err != nil {
		t.Errorf("a living process lost its folder: %v", err)
	}
}

func foldersOf(t *testing.T, pid int) []string {
	t.Helper()
	dirs, err := filepath.Glob(filepath.Join(folderParent(), fmt.Sprintf("%s%d-*", folderPrefix, pid)))
	if err != nil {
		t.Fatal(err)
	}
	return dirs
}

// BenchmarkClone is what a test pays for its database.
func BenchmarkClone(b *testing.B) {
	New(b) // starts the server and makes the template
	var drop time.Duration
	b.ResetTimer()
	for range b.N {
		a := &attempt{TB: b}
		db := New(a)
		if _, err := db.App.Exec(b.Context(), `SELECT 1`); err != nil {
			b.Fatal(err)
		}
		began := time.Now()
		a.end()
		drop += time.Since(began)
	}
	b.ReportMetric(float64(drop.Microseconds())/1000/float64(b.N), "drop-ms/op")
}
