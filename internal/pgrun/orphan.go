package pgrun

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

const pidFile = "postmaster.pid"

// settleOrphan deals with what a crash left: a server that still runs is stopped, and a pid file whose number now belongs
// to somebody else is made harmless. The caller holds the lock, so nobody else uses the folder.
func (c cluster) settleOrphan(ctx context.Context) error {
	path := filepath.Join(c.pgdata(), pidFile)
	text, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	first, rest, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(first))
	if err != nil || pid <= 1 {
		return nil // Postgres itself says what is wrong with it
	}
	if !alive(pid) {
		return nil // Postgres recovers from this by itself
	}
	if isPostmaster(pid, c.pgdata()) {
		c.opts.Logger.Warn("stopping the server that an interrupted run left behind", "pid", pid)
		return c.stopOrphan(ctx, pid)
	}
	// Postgres would refuse to start, taking the stranger for its former self. It overlooks its own parent's number, and
	// still checks the shared memory named in the other lines, which is the guard against surviving backends.
	return c.replace(path, fmt.Appendf(nil, "%d\n%s", os.Getpid(), rest))
}

func (c cluster) stopOrphan(ctx context.Context, pid int) error {
	for _, step := range []struct {
		sig  syscall.Signal
		wait time.Duration
	}{{syscall.SIGINT, c.opts.StopTimeout}, {syscall.SIGQUIT, c.opts.StopTimeout}} {
		if err := syscall.Kill(pid, step.sig); err != nil && !errors.Is(err, syscall.ESRCH) {
			return &Error{Op: fmt.Sprintf("stop process %d, left by an interrupted run", pid), Err: err}
		}
		limit, cancel := context.WithTimeout(ctx, step.wait)
		gone := poll(limit, func() bool { return !isPostmaster(pid, c.pgdata()) })
		cancel()
		if gone {
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return &Error{Op: fmt.Sprintf("stop process %d, left by an interrupted run", pid), Err: errors.New("it does not stop"),
		Fix: "stop it by hand, then start again"}
}

// replace puts a file in place whole, and never through a link that the server's account may have laid.
func (c cluster) replace(path string, text []byte) error {
	next := path + ".new"
	if err := os.Remove(next); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	if err := writeNew(next, text, 0o600); err != nil {
		return err
	}
	if err := c.acc.own(next); err != nil {
		return err
	}
	return os.Rename(next, path)
}

func alive(pid int) bool {
	err := syscall.Kill(pid, 0)
	return err == nil || errors.Is(err, syscall.EPERM)
}

// poll tries until it succeeds or the context ends.
func poll(ctx context.Context, ok func() bool) bool {
	tick := time.NewTicker(10 * time.Millisecond)
	defer tick.Stop()
	for {
		if ok() {
			return true
		}
		select {
		case <-ctx.Done():
			return ok()
		case <-tick.C:
		}
	}
}
