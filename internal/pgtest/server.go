package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/pgrun"
)

const (
	// EnvURL names the variable with a superuser's connection string.
	EnvURL = "MIDDEN_TEST_DATABASE_URL"
	// EnvLeg names the variable that allows one kind of server only: env, local or docker.
	EnvLeg = "MIDDEN_TEST_PG"
	// EnvKeep set to no drops a failed test's database too, on a server that is soon gone.
	EnvKeep = "MIDDEN_TEST_KEEP"

	folderPrefix = "midden-test-"
	// rolePassword protects nothing: it is for servers that hold tests and nothing else.
	rolePassword = "for-tests-only"
	memoryDisk   = "/dev/shm"
	enoughSpace  = 1 << 30
)

// server is where the test databases live.
type server struct {
	superDSN      string
	superUser     string
	superPassword string
	rolePassword  string
	outlives      bool // it stays after this process, for whoever wants to look into a failed test's database
	unflushed     bool // fsync is off
	admin         *pgxpool.Pool
	stop          func() error
	template      func() (string, error)
}

var errNotSet = errors.New(EnvURL + " is not set")

// Serve finds or starts a server as New does, for a command that runs tests in other processes. It returns a superuser's
// connection string, to be handed on in MIDDEN_TEST_DATABASE_URL.
func Serve(ctx context.Context) (superDSN string, stop func() error, err error) {
	s, err := startServer(ctx)
	if err != nil {
		return "", nil, err
	}
	return s.superDSN, s.close, nil
}

func startServer(ctx context.Context) (*server, error) {
	legs := []struct {
		name  string
		start func(context.Context) (*server, error)
	}{{"env", fromEnv}, {"local", fromBinaries}, {"docker", fromDocker}}
	only := os.Getenv(EnvLeg)
	if only != "" && only != "env" && only != "local" && only != "docker" {
		return nil, fmt.Errorf("%s: must be env, local or docker; got %q", EnvLeg, only)
	}
	var why []error
	for _, leg := range legs {
		if only != "" && only != leg.name {
			continue
		}
		s, err := leg.start(ctx)
		if err == nil {
			if err = s.open(ctx); err == nil {
				return s, nil
			}
			return nil, errors.Join(err, s.close())
		}
		// A server that somebody asked for and that does not answer must not be replaced behind their back.
		if leg.name == "env" && !errors.Is(err, errNotSet) {
			return nil, err
		}
		why = append(why, fmt.Errorf("%s: %w", leg.name, err))
	}
	return nil, fmt.Errorf("these tests need Postgres %d or later: install it (Debian: apt-get install postgresql), "+
		"or start Docker, or set %s to a superuser's connection string\n%w", pgrun.MinMajor, EnvURL, errors.Join(why...))
}

// open connects, makes the roles, and proves that one may work as them.
func (s *server) open(ctx context.Context) error {
	cfg, err := pgxpool.ParseConfig(s.superDSN)
	if err != nil {
		return err
	}
	s.superUser, s.superPassword = cfg.ConnConfig.User, cfg.ConnConfig.Password
	s.rolePassword = rolePassword
	s.template = sync.OnceValues(s.makeTemplate)
	cfg.MaxConns = poolSize
	if s.admin, err = pgxpool.NewWithConfig(ctx, cfg); err != nil {
		return err
	}
	var super bool
	err = s.admin.QueryRow(ctx, `SELECT rolsuper, current_setting('fsync') = 'off' FROM pg_roles WHERE rolname = current_user`).
		Scan(&super, &s.unflushed)
	if err != nil {
		return fmt.Errorf("connect: %w", err)
	}
	if !super {
		return fmt.Errorf("%s: role %s must be a superuser: it makes roles and databases", EnvURL, s.superUser)
	}
	if err := pgrun.Provision(ctx, s.superDSN, pgrun.Passwords{Owner: rolePassword, App: rolePassword}); err != nil {
		return err
	}
	for _, role := range []string{pgrun.OwnerRole, pgrun.AppRole} {
		dsn, err := pgrun.WithRole(s.superDSN, role, rolePassword, cfg.ConnConfig.Database)
		if err != nil {
			return err
		}
		conn, err := pgx.Connect(ctx, dsn)
		if err != nil {
			return fmt.Errorf("role %s is there, with another password than tests use; use a server that holds tests and nothing else: %w", role, err)
		}
		if err := conn.Close(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (s *server) close() error {
	if s.admin != nil {
		s.admin.Close()
	}
	return s.stop()
}

func fromEnv(ctx context.Context) (*server, error) {
	dsn := os.Getenv(EnvURL)
	if dsn == "" {
		return nil, errNotSet
	}
	conn, err := pgx.Connect(ctx, dsn)
	if err != nil {
		return nil, fmt.Errorf("%s is set, but nothing answers there: %w", EnvURL, err)
	}
	return &server{superDSN: dsn, outlives: os.Getenv(EnvKeep) != "no", stop: func() error { return nil }}, conn.Close(ctx)
}

// fromBinaries starts a private server in memory, or on disk where memory is short.
func fromBinaries(ctx context.Context) (*server, error) {
	// Before anything is made: a machine without Postgres goes on to Docker.
	if _, err := pgrun.Find(ctx, ""); err != nil {
		return nil, err
	}
	sweepFolders(ctx)
	dir, err := os.MkdirTemp(folderParent(), folderPrefix+strconv.Itoa(os.Getpid())+"-")
	if err != nil {
		return nil, err
	}
	if err := os.Chmod(dir, 0o711); err != nil { // the server's account passes through
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	s, err := pgrun.Start(ctx, pgrun.Options{DataDir: dir, Throwaway: true})
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return &server{superDSN: s.SuperDSN(), stop: func() error { return errors.Join(s.Stop(), os.RemoveAll(dir)) }}, nil
}

// folderParent is the memory disk if it has room: under load it is ten times faster.
func folderParent() string {
	var st syscall.Statfs_t
	if err := syscall.Statfs(memoryDisk, &st); err == nil && uint64(st.Bavail)*uint64(st.Bsize) >= enoughSpace {
		return memoryDisk
	}
	return os.TempDir()
}

// sweepFolders removes what killed test processes left. A folder counts as left when its process is gone and its lock
// is free.
func sweepFolders(ctx context.Context) {
	for _, parent := range []string{memoryDisk, os.TempDir()} {
		left, err := filepath.Glob(filepath.Join(parent, folderPrefix+"*"))
		if err != nil {
			continue
		}
		for _, dir := range left {
			number, _, _ := strings.Cut(strings.TrimPrefix(filepath.Base(dir), folderPrefix), "-")
			pid, err := strconv.Atoi(number)
			if err != nil || !errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
				continue
			}
			// What can't be removed now is tried again by the next run.
			_ = pgrun.Discard(ctx, dir)
		}
	}
}
