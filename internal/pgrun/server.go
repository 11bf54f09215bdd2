package pgrun

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// Server is a running private Postgres. Stop it before the process ends.
type Server struct {
	cluster cluster
	lock    *os.File
	socket  string
	process *os.Process
	done    chan struct{}
	exit    error // of the server process; read after done is closed
	stop    sync.Once
	stopErr error
}

// Start makes the cluster if there is none, recovers it if it was interrupted, and returns when the server answers, with
// the roles and the database in place. The context bounds the start only.
//
// The error is ErrNoBinaries, ErrInUse, ErrForeign, ErrUnreachable or ErrVersion where one of these is the reason, and says
// what to do about it.
func Start(ctx context.Context, opts Options) (*Server, error) {
	opts, err := opts.withDefaults()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, opts.StartTimeout)
	defer cancel()
	if err := refuseForeign(opts.DataDir); err != nil {
		return nil, err
	}
	acc, err := serverAccount()
	if err != nil {
		return nil, err
	}
	found, err := find(ctx, opts.BinDir, acc)
	if err != nil {
		return nil, err
	}
	c := cluster{opts: opts, acc: acc}
	if c.bin, err = c.choose(found); err != nil {
		return nil, err
	}
	if err := acc.reaches(ctx, opts.DataDir, filepath.Join(c.bin.Dir, "postgres")); err != nil {
		return nil, err
	}
	mode := os.FileMode(0o700)
	if acc.switched {
		mode = 0o711 // the server's account must pass through
	}
	if err := makeFolder(opts.DataDir, mode); err != nil {
		return nil, &Error{Op: "make the data folder", Err: err, Fix: "set " + EnvDataDir + " to a folder you may write to"}
	}
	if err := acc.reaches(ctx, opts.DataDir, filepath.Join(c.bin.Dir, "postgres")); err != nil {
		return nil, err
	}
	held, err := lock(opts.DataDir)
	if err != nil {
		return nil, err
	}
	s := &Server{cluster: c, lock: held}
	if err := s.start(ctx); err != nil {
		return nil, errors.Join(err, s.Stop())
	}
	opts.Logger.Info("private Postgres is ready", "version", c.bin.Major, "data", opts.DataDir, "socket", s.socket)
	return s, nil
}

func (s *Server) start(ctx context.Context) error {
	c := s.cluster
	// Looked at again: it may have appeared between the first look and the lock.
	if err := refuseForeign(c.opts.DataDir); err != nil {
		return err
	}
	if err := c.prepare(ctx); err != nil {
		return err
	}
	if err := c.settleOrphan(ctx); err != nil {
		return err
	}
	if err := c.writeAccess(); err != nil {
		return err
	}
	socket, err := c.makeSocketFolder(ctx)
	if err != nil {
		return err
	}
	s.socket = socket
	if err := s.launchUntilReady(ctx); err != nil {
		return err
	}
	if err := Provision(ctx, s.SuperDSN(), Passwords{}); err != nil {
		return err
	}
	if c.opts.Throwaway {
		return nil
	}
	return CreateDatabase(ctx, s.SuperDSN(), Database)
}

// launchUntilReady tries again while backends of a killed server still hold its memory: they end within seconds.
func (s *Server) launchUntilReady(ctx context.Context) error {
	for {
		err := s.launch(ctx)
		if err == nil || !strings.Contains(err.Error(), "pre-existing shared memory block") {
			return err
		}
		s.cluster.opts.Logger.Warn("waiting for an interrupted server's last processes to end")
		select {
		case <-ctx.Done():
			return err
		case <-time.After(100 * time.Millisecond):
		}
	}
}

func (s *Server) launch(ctx context.Context) error {
	c := s.cluster
	log, err := c.openLog()
	if err != nil {
		return err
	}
	defer log.Close()
	from, err := log.Seek(0, 2)
	if err != nil {
		return err
	}
	// Its life is not the start's: the context must not end it.
	cmd := c.acc.command(context.WithoutCancel(ctx), c.pgdata(), filepath.Join(c.bin.Dir, "postgres"), c.settings(s.socket)...)
	// A file, never a pipe: whoever waits for this process's output would wait for the server too.
	cmd.Stdout, cmd.Stderr = log, log
	// Its own process group: Ctrl-C in a terminal must reach Midden first, which then stops it in order.
	cmd.SysProcAttr.Setpgid = true
	dieWithParent(cmd, c.stopSignal())
	if err := s.run(cmd); err != nil {
		return &Error{Op: "start " + cmd.Path, Err: err}
	}
	var last error
	ready := poll(ctx, func() bool {
		select {
		case <-s.done:
			return true
		default:
		}
		var conn *pgx.Conn
		if conn, last = pgx.Connect(ctx, s.SuperDSN()); last != nil {
			return false
		}
		last = conn.Close(ctx)
		return true
	})
	select {
	case <-s.done:
		return &Error{Op: "start " + cmd.Path, Err: fmt.Errorf("it ended at once: %w: %s", s.exit, readFrom(log, from))}
	default:
	}
	if !ready {
		return &Error{Op: "wait for the server to answer", Err: errors.Join(ctx.Err(), last), Fix: "read " + c.path(logFile)}
	}
	return nil
}

// run starts the process on a thread of its own that lives as long as the process: the kernel's signal at the parent's
// death is tied to the thread, not to the program.
func (s *Server) run(cmd *exec.Cmd) error {
	done, started := make(chan struct{}), make(chan error, 1)
	s.done = done
	go func() {
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		defer close(done)
		err := cmd.Start()
		s.process = cmd.Process
		started <- err
		if err == nil {
			if s.exit = cmd.Wait(); s.exit == nil {
				s.exit = errors.New("exit status 0")
			}
		}
	}()
	return <-started
}

func (c cluster) settings(socket string) []string {
	args := []string{"-D", c.pgdata(), "-p", "5432", "-k", socket}
	set := func(name, value string) { args = append(args, "-c", name+"="+value) }
	set("listen_addresses", "")
	set("unix_socket_permissions", "0700")
	set("hba_file", c.path(hbaFile))
	set("ident_file", c.path(identFile))
	set("cluster_name", "midden")
	set("lc_messages", "C")
	set("timezone", "UTC")
	set("log_timezone", "UTC")
	if c.opts.Throwaway {
		for name, value := range map[string]string{
			"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "autovacuum": "off",
			"wal_level": "minimal", "max_wal_senders": "0", "max_wal_size": "4GB", "checkpoint_timeout": "1h",
			"max_connections": "300", "shared_buffers": "128MB", "log_min_messages": "warning",
		} {
			set(name, value)
		}
	}
	return args
}

// stopSignal is Postgres's fast shutdown, which ends sessions and writes a checkpoint; nobody waits for a throwaway's.
func (c cluster) stopSignal() syscall.Signal {
	if c.opts.Throwaway {
		return syscall.SIGQUIT
	}
	return syscall.SIGINT
}

// Stop ends the server: a fast shutdown, an immediate one after StopTimeout. It frees the data folder. Further calls
// return the same answer.
func (s *Server) Stop() error {
	s.stop.Do(func() {
		s.stopErr = s.end()
		if s.socket != "" {
			removeSocketFolder(s.socket)
		}
		s.stopErr = errors.Join(s.stopErr, s.lock.Close())
	})
	return s.stopErr
}

func (s *Server) end() error {
	if s.process == nil {
		return nil
	}
	for _, sig := range []syscall.Signal{s.cluster.stopSignal(), syscall.SIGQUIT} {
		if err := s.process.Signal(sig); err != nil && !errors.Is(err, os.ErrProcessDone) {
			return err
		}
		select {
		case <-s.done:
			s.cluster.opts.Logger.Info("private Postgres has stopped", "data", s.cluster.opts.DataDir)
			return nil
		case <-time.After(s.cluster.opts.StopTimeout):
			s.cluster.opts.Logger.Warn("private Postgres is slow to stop", "after", sig.String())
		}
	}
	// Safe for the data: the next start recovers from the log.
	err := s.process.Kill()
	<-s.done
	return err
}

// Done is closed when the server process has ended, asked or not.
func (s *Server) Done() <-chan struct{} { return s.done }

// Pid is the number of the server process.
func (s *Server) Pid() int { return s.process.Pid }

// Major is the version of Postgres that runs, such as 15.
func (s *Server) Major() int { return s.cluster.bin.Major }

// DataDir is the folder that holds the data.
func (s *Server) DataDir() string { return s.cluster.opts.DataDir }

// SuperDSN connects as the superuser to the maintenance database. Only provisioning and tests need it.
func (s *Server) SuperDSN() string { return s.dsn(SuperRole, "postgres") }

// OwnerDSN connects as midden_owner, which migrates. It holds no password: the kernel vouches for the caller.
func (s *Server) OwnerDSN() string { return s.dsn(OwnerRole, Database) }

// AppDSN connects as midden_app, which serves.
func (s *Server) AppDSN() string { return s.dsn(AppRole, Database) }

// Discard stops what an interrupted run left on a data folder and removes the folder. It refuses with ErrInUse while a
// process holds it, and with ErrForeign what Midden did not make.
func Discard(ctx context.Context, dataDir string) error {
	opts, err := Options{DataDir: dataDir, Throwaway: true}.withDefaults()
	if err != nil {
		return err
	}
	if err := refuseForeign(opts.DataDir); err != nil {
		return err
	}
	acc, err := serverAccount()
	if err != nil {
		return err
	}
	held, err := lock(opts.DataDir)
	if err != nil {
		return err
	}
	defer held.Close()
	c := cluster{opts: opts, acc: acc}
	if err := c.settleOrphan(ctx); err != nil {
		return err
	}
	if old, err := os.ReadFile(c.path(socketFile)); err == nil {
		removeSocketFolder(strings.TrimSpace(string(old)))
	}
	return os.RemoveAll(opts.DataDir)
}

// readFrom returns what was logged since, at most its last lines.
func readFrom(f *os.File, from int64) string {
	buf := make([]byte, 4096)
	n, _ := f.ReadAt(buf, from)
	return string(bytes.TrimSpace(buf[:n]))
}
