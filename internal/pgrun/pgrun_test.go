package pgrun_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"midden/internal/pgrun"
)

const childDir = "PGRUN_TEST_CHILD"

// TestMain doubles as the process that a test kills: it starts a server, says so, and waits to be killed.
func TestMain(m *testing.M) {
	if dir := os.Getenv(childDir); dir != "" {
		s, err := pgrun.Start(context.Background(), pgrun.Options{DataDir: dir})
		if err != nil {
			fmt.Println("failed:", err)
			os.Exit(1)
		}
		fmt.Println("ready", s.Pid(), s.SuperDSN())
		select {}
	}
	os.Exit(m.Run())
}

// folder is not t.TempDir: that one is closed to the account which runs the server for root.
func folder(t *testing.T) string {
	t.Helper()
	base := "/dev/shm"
	if _, err := os.Stat(base); err != nil {
		base = ""
	}
	dir, err := os.MkdirTemp(base, "pgrun-")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o711); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return dir
}

func start(t *testing.T, dir string) *pgrun.Server {
	t.Helper()
	s, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: dir})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Stop(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func exec1(t *testing.T, dsn, sql string) error {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context()))
	_, err = conn.Exec(t.Context(), sql)
	return err
}

func ask[T any](t *testing.T, dsn, sql string) T {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), dsn)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context()))
	var v T
	if err := conn.QueryRow(t.Context(), sql).Scan(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestAFirstStartMakesARestartKeepsAndLeavesNothingInTheWay(t *testing.T) {
	t.Parallel()
	dir := filepath.Join(folder(t), "new", "data")
	s := start(t, dir)
	must(t, exec1(t, s.OwnerDSN(), `CREATE TABLE heap (grams bigint); INSERT INTO heap VALUES (1200)`))
	for setting, want := range map[string]string{"listen_addresses": "", "data_checksums": "on", "server_encoding": "UTF8", "fsync": "on"} {
		if got := ask[string](t, s.AppDSN(), `SELECT current_setting('`+setting+`')`); got != want {
			t.Errorf("%s is %q, want %q", setting, got, want)
		}
	}
	if got := ask[string](t, s.AppDSN(), `SELECT lower('ÄRGER')`); got != "ärger" {
		t.Errorf("lower of a letter beyond ASCII is %q", got)
	}
	must(t, s.Stop())
	must(t, s.Stop())
	select {
	case <-s.Done():
	default:
		t.Error("Done is still open after Stop")
	}

	again := start(t, dir)
	if got := ask[int64](t, again.OwnerDSN(), `SELECT grams FROM heap`); got != 1200 {
		t.Errorf("after a restart the heap holds %d g", got)
	}
	log, err := os.ReadFile(filepath.Join(dir, "postgres.log"))
	must(t, err)
	if strings.Contains(string(log), "not properly shut down") {
		t.Error("Stop was no clean shutdown")
	}
}

func TestOnlyItsOwnUserMayEnterTheDataAndTheSocket(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	s := start(t, dir)
	cfg, err := pgx.ParseConfig(s.AppDSN())
	must(t, err)
	for _, path := range []string{filepath.Join(dir, "postgres"), cfg.Host} {
		info, err := os.Stat(path)
		must(t, err)
		if info.Mode().Perm() != 0o700 {
			t.Errorf("%s has mode %04o", path, info.Mode().Perm())
		}
	}
	must(t, s.Stop())
	if _, err := os.Stat(cfg.Host); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket's folder is still there: %v", err)
	}
}

func TestAKilledServerIsRecovered(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	s := start(t, dir)
	must(t, exec1(t, s.OwnerDSN(), `CREATE TABLE heap (grams bigint); INSERT INTO heap VALUES (1)`))
	must(t, syscall.Kill(s.Pid(), syscall.SIGKILL))
	<-s.Done()
	must(t, s.Stop())
	again := start(t, dir)
	if got := ask[int](t, again.OwnerDSN(), `SELECT count(*)::int FROM heap`); got != 1 {
		t.Errorf("%d rows survived", got)
	}
}

func TestAStrangersNumberInThePidFileIsNotActedOn(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	s := start(t, dir)
	pidFile := filepath.Join(dir, "postgres", "postmaster.pid")
	text, err := os.ReadFile(pidFile)
	must(t, err)
	must(t, syscall.Kill(s.Pid(), syscall.SIGKILL))
	<-s.Done()
	must(t, s.Stop())

	// A stranger of the server's own account: the case in which Postgres by itself would refuse to start.
	info, err := os.Stat(filepath.Join(dir, "postgres"))
	must(t, err)
	st := info.Sys().(*syscall.Stat_t)
	stranger := exec.Command("sleep", "600")
	if os.Geteuid() == 0 {
		stranger.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: st.Uid, Gid: st.Gid}}
	}
	must(t, stranger.Start())
	defer func() { _ = stranger.Process.Kill(); _ = stranger.Wait() }()
	_, rest, _ := strings.Cut(string(text), "\n")
	must(t, os.WriteFile(pidFile, []byte(strconv.Itoa(stranger.Process.Pid)+"\n"+rest), 0o600))
	must(t, os.Chown(pidFile, int(st.Uid), int(st.Gid)))

	start(t, dir)
	if err := stranger.Process.Signal(syscall.Signal(0)); err != nil {
		t.Errorf("the stranger is gone: %v", err)
	}
}

// child starts this test program as a Midden of its own and returns when its server answers.
func child(t *testing.T, dir string) (cmd *exec.Cmd, pid int, dsn string) {
	t.Helper()
	cmd = exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childDir+"="+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	must(t, err)
	if _, err := fmt.Sscanf(line, "ready %d %s", &pid, &dsn); err != nil {
		t.Fatalf("the child says %q", line)
	}
	return cmd, pid, dsn
}

func TestAKilledMiddenLeavesNoServerBehind(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	cmd, pid, _ := child(t, dir)
	must(t, cmd.Process.Kill())
	_ = cmd.Wait() // always says that it was killed
	// The next start either finds it gone or stops it.
	s := start(t, dir)
	if s.Pid() == pid {
		t.Errorf("the new server has the old one's number %d", pid)
	}
	waitGone(t, pid)
}

func waitGone(t *testing.T, pid int) {
	t.Helper()
	deadline := time.After(30 * time.Second)
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for !errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
		select {
		case <-deadline:
			t.Fatalf("process %d of the killed Midden still runs", pid)
		case <-tick.C:
		}
	}
}

func TestAKilledMiddensServerEndsByItself(t *testing.T) {
	t.Parallel()
	if !kernelSignalsParentDeath {
		return // there the next start stops it: see the test above
	}
	dir := folder(t)
	cmd, pid, _ := child(t, dir)
	must(t, cmd.Process.Kill())
	_ = cmd.Wait()
	waitGone(t, pid)
	// It had the time for a clean shutdown.
	log, err := os.ReadFile(filepath.Join(dir, "postgres.log"))
	must(t, err)
	if !strings.Contains(string(log), "database system is shut down") {
		t.Errorf("the log tells of no clean shutdown:\n%s", log)
	}
	socket, err := os.ReadFile(filepath.Join(dir, "socket-folder"))
	must(t, err)
	must(t, pgrun.Discard(t.Context(), dir))
	for _, gone := range []string{dir, strings.TrimSpace(string(socket))} {
		if _, err := os.Stat(gone); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s is still there after Discard", gone)
		}
	}
}

func TestASecondMiddenOnTheSameFolderIsRefused(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	start(t, dir)
	_, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: dir})
	if !errors.Is(err, pgrun.ErrInUse) {
		t.Fatalf("a second start says %v", err)
	}
	for _, want := range []string{"process " + strconv.Itoa(os.Getpid()), pgrun.EnvDataDir} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the message %q does not name %q", err, want)
		}
	}
	if err := pgrun.Discard(t.Context(), dir); !errors.Is(err, pgrun.ErrInUse) {
		t.Errorf("discarding a folder in use says %v", err)
	}
}

func TestAForeignClusterIsLeftAlone(t *testing.T) {
	t.Parallel()
	for name, at := range map[string]string{"as the data folder": ".", "inside it": "postgres"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := folder(t)
			cluster := filepath.Join(dir, at)
			must(t, os.MkdirAll(cluster, 0o700))
			must(t, os.WriteFile(filepath.Join(cluster, "PG_VERSION"), []byte("15\n"), 0o600))
			_, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: dir})
			if !errors.Is(err, pgrun.ErrForeign) {
				t.Errorf("start says %v", err)
			}
			if err := pgrun.Discard(t.Context(), dir); !errors.Is(err, pgrun.ErrForeign) {
				t.Errorf("discard says %v", err)
			}
			left, err := os.ReadDir(cluster)
			must(t, err)
			if len(left) != 1 {
				t.Errorf("the foreign folder now holds %d files", len(left))
			}
		})
	}
}

func TestDataOfAnotherMajorVersionIsLeftAlone(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	cluster := filepath.Join(dir, "postgres")
	must(t, os.Mkdir(cluster, 0o700))
	must(t, os.WriteFile(filepath.Join(cluster, "MADE_BY_MIDDEN"), nil, 0o600))
	must(t, os.WriteFile(filepath.Join(cluster, "PG_VERSION"), []byte("99\n"), 0o600))
	_, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: dir})
	if !errors.Is(err, pgrun.ErrVersion) || !strings.Contains(err.Error(), "99") {
		t.Errorf("start says %v", err)
	}
}

func TestAnInterruptedFirstStartIsMadeAnew(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	half := filepath.Join(dir, "postgres.new")
	must(t, os.Mkdir(half, 0o700))
	must(t, os.WriteFile(filepath.Join(half, "PG_VERSION"), []byte("15\n"), 0o600))
	start(t, dir)
}

func TestAFolderTheServersAccountCannotEnterIsNamed(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		return // only root steps down to another account
	}
	shut := filepath.Join(folder(t), "shut")
	must(t, os.Mkdir(shut, 0o700))
	_, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: filepath.Join(shut, "midden")})
	if !errors.Is(err, pgrun.ErrUnreachable) {
		t.Fatalf("start says %v", err)
	}
	for _, want := range []string{shut, "0700", "/var/lib/midden"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the message %q does not name %q", err, want)
		}
	}
	if _, err := os.Stat(filepath.Join(shut, "midden")); !errors.Is(err, os.ErrNotExist) {
		t.Error("a refused start left a folder behind")
	}
}

func TestWithoutBinariesTheMessageSaysWhatToInstall(t *testing.T) {
	t.Parallel()
	dir := folder(t)
	_, err := pgrun.Start(t.Context(), pgrun.Options{DataDir: filepath.Join(dir, "data"), BinDir: filepath.Join(dir, "none")})
	if !errors.Is(err, pgrun.ErrNoBinaries) {
		t.Fatalf("start says %v", err)
	}
	for _, want := range []string{"apt-get install postgresql", "docker-compose.yml", "MIDDEN_DATABASE_URL", filepath.Join(dir, "none")} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the message %q does not name %q", err, want)
		}
	}
}

func TestTheAppRoleOwnsNothingAndBypassesNothing(t *testing.T) {
	t.Parallel()
	s := start(t, folder(t))
	for _, sql := range []string{
		`CREATE TABLE t ()`, `CREATE SCHEMA s`, `CREATE TEMP TABLE t ()`, `CREATE ROLE r`, `CREATE DATABASE d`,
		`ALTER ROLE midden_app BYPASSRLS`, `SET ROLE midden_owner`, `ALTER SYSTEM SET fsync = off`,
	} {
		var pg *pgconn.PgError
		if err := exec1(t, s.AppDSN(), sql); !errors.As(err, &pg) || pg.Code != "42501" {
			t.Errorf("%s as midden_app says %v, want insufficient_privilege", sql, err)
		}
	}
	must(t, exec1(t, s.OwnerDSN(), `CREATE TABLE plot (garden int); INSERT INTO plot VALUES (1), (2);
		ALTER TABLE plot ENABLE ROW LEVEL SECURITY; ALTER TABLE plot FORCE ROW LEVEL SECURITY;
		CREATE POLICY one ON plot USING (garden = 1); GRANT SELECT ON plot TO midden_app`))
	for name, dsn := range map[string]string{"app": s.AppDSN(), "owner": s.OwnerDSN()} {
		if n := ask[int](t, dsn, `SELECT count(*)::int FROM plot`); n != 1 {
			t.Errorf("the %s role sees %d rows past a policy that shows 1", name, n)
		}
	}
	if own := ask[string](t, s.SuperDSN(), `SELECT pg_get_userbyid(datdba) FROM pg_database WHERE datname = 'midden'`); own != "midden_owner" {
		t.Errorf("the database belongs to %s", own)
	}
}

func TestProvisionTakesPowersAwayAndRunsManyTimesAtOnce(t *testing.T) {
	t.Parallel()
	s := start(t, folder(t))
	must(t, exec1(t, s.SuperDSN(), `ALTER ROLE midden_app SUPERUSER BYPASSRLS`))
	must(t, exec1(t, s.SuperDSN(), `DROP DATABASE midden`))
	must(t, exec1(t, s.SuperDSN(), `DROP ROLE midden_owner`))
	errs := make(chan error)
	for range 8 {
		go func() {
			errs <- errors.Join(pgrun.Provision(t.Context(), s.SuperDSN(), pgrun.Passwords{Owner: `it's \ "one"`}),
				pgrun.CreateDatabase(t.Context(), s.SuperDSN(), pgrun.Database))
		}()
	}
	for range 8 {
		must(t, <-errs)
	}
	if n := ask[int](t, s.SuperDSN(), `SELECT count(*)::int FROM pg_roles WHERE rolname LIKE 'midden%' AND NOT rolsuper AND NOT rolbypassrls`); n != 2 {
		t.Errorf("%d roles without undue powers, want 2", n)
	}
}
