package pgrun

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
)

// The data folder holds the lock, the marker's cluster, the access files and the log. What root writes lies outside the
// cluster, whose owner is the unprivileged account, so that no link laid there can lead root's pen elsewhere.
const (
	lockFile   = "midden.lock"
	clusterDir = "postgres"
	marker     = "MADE_BY_MIDDEN"
	logFile    = "postgres.log"
	socketFile = "socket-folder"
	hbaFile    = "pg_hba.conf"
	identFile  = "pg_ident.conf"
	logLimit   = 8 << 20
)

const markerText = "Midden made this Postgres cluster and runs it. Do not start another server on it.\n"

// cluster is a data folder and what runs on it.
type cluster struct {
	opts Options
	acc  account
	bin  Binaries
}

func (c cluster) path(name string) string { return filepath.Join(c.opts.DataDir, name) }
func (c cluster) pgdata() string          { return c.path(clusterDir) }

// refuseForeign guards other people's clusters: nothing is written before it has passed.
func refuseForeign(dataDir string) error {
	fix := "set " + EnvDataDir + " to an empty folder, or set MIDDEN_DATABASE_URL to use that database through its own server"
	if exists(filepath.Join(dataDir, "PG_VERSION")) {
		return &Error{Op: "open " + dataDir, Err: ErrForeign, Fix: fix}
	}
	inner := filepath.Join(dataDir, clusterDir)
	if exists(inner) && !exists(filepath.Join(inner, marker)) {
		return &Error{Op: "open " + inner, Err: ErrForeign, Fix: fix}
	}
	return nil
}

// lock takes the data folder for this process. The kernel frees it when the process ends, however it ends.
func lock(dataDir string) (*os.File, error) {
	path := filepath.Join(dataDir, lockFile)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, &Error{Op: "lock " + dataDir, Err: err}
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		defer f.Close()
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, &Error{Op: "lock " + dataDir, Err: err}
		}
		who := "another Midden"
		if text, err := os.ReadFile(path); err == nil && len(text) > 0 {
			who += " (process " + strings.TrimSpace(string(text)) + ")"
		}
		return nil, &Error{Op: "lock " + dataDir, Err: fmt.Errorf("%w by %s", ErrInUse, who),
			Fix: "stop that one, or set " + EnvDataDir + " to another folder"}
	}
	if err := f.Truncate(0); err == nil {
		_, err = f.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
		if err != nil {
			f.Close()
			return nil, &Error{Op: "lock " + dataDir, Err: err}
		}
	}
	return f, nil
}

// prepare makes the cluster if there is none. It appears under its name only when whole, so a crash halfway leaves nothing
// that looks like data.
func (c cluster) prepare(ctx context.Context) error {
	if exists(c.pgdata()) {
		return nil
	}
	next := c.pgdata() + ".new"
	if err := os.RemoveAll(next); err != nil {
		return err
	}
	if err := os.Mkdir(next, 0o700); err != nil {
		return err
	}
	if err := c.acc.own(next); err != nil {
		return err
	}
	args := []string{"-D", next, "-U", SuperRole, "-A", "peer", "-E", "UTF8", "--no-instructions"}
	args = append(args, localeArgs(c.bin.Major, runtime.GOOS)...)
	if c.opts.Throwaway {
		args = append(args, "--no-sync")
	} else {
		args = append(args, "--data-checksums")
	}
	out, err := c.acc.command(ctx, next, filepath.Join(c.bin.Dir, "initdb"), args...).CombinedOutput()
	if err != nil {
		return errors.Join(&Error{Op: "make a cluster in " + next, Err: fmt.Errorf("initdb: %w: %s", err, bytes.TrimSpace(out))},
			os.RemoveAll(next))
	}
	if err := writeNew(filepath.Join(next, marker), []byte(markerText), 0o644); err != nil {
		return err
	}
	return os.Rename(next, c.pgdata())
}

// localeArgs asks for plain code point order and Unicode letters, by the name each platform has for it.
func localeArgs(major int, goos string) []string {
	switch {
	case major >= 17: // has it built in, whatever the platform
		return []string{"--locale=C", "--locale-provider=builtin", "--builtin-locale=C.UTF-8"}
	case goos == "darwin":
		return []string{"--locale=C", "--lc-ctype=UTF-8"}
	default:
		return []string{"--locale=C.UTF-8"}
	}
}

// writeAccess lets in exactly one operating system user, the one that runs Midden, over the private socket. The kernel
// vouches for it, so there is no password to keep, leak or lose. Written at each start: the user may have changed.
func (c cluster) writeAccess() error {
	hba := "# Written by Midden at each start.\nlocal all all peer map=midden\n"
	var ident strings.Builder
	ident.WriteString("# Written by Midden at each start.\n")
	for _, role := range []string{SuperRole, OwnerRole, AppRole} {
		fmt.Fprintf(&ident, "midden %q %s\n", c.acc.client, role)
	}
	for name, text := range map[string]string{hbaFile: hba, identFile: ident.String()} {
		// Readable by the account that runs the server; it holds no secret, and the folder around it is Midden's.
		next := c.path(name) + ".new"
		if err := os.WriteFile(next, []byte(text), 0o644); err != nil {
			return err
		}
		if err := os.Rename(next, c.path(name)); err != nil {
			return err
		}
	}
	return nil
}

// makeSocketFolder makes a fresh private folder with a short path: the address of a Unix socket holds 107 bytes on Linux
// and 103 on macOS. The one that an interrupted run left is removed.
func (c cluster) makeSocketFolder(ctx context.Context) (string, error) {
	if old, err := os.ReadFile(c.path(socketFile)); err == nil {
		removeSocketFolder(strings.TrimSpace(string(old)))
	}
	parents := []string{os.Getenv("XDG_RUNTIME_DIR"), os.TempDir(), "/tmp"}
	if c.acc.switched {
		parents = []string{"/run", os.TempDir(), "/tmp"}
	}
	if c.opts.SocketParent != "" {
		parents = []string{c.opts.SocketParent}
	}
	var why []error
	for _, parent := range parents {
		if parent == "" || !filepath.IsAbs(parent) {
			continue
		}
		if len(filepath.Join(parent, "midden-4294967295", ".s.PGSQL.5432.lock")) > 103 {
			why = append(why, fmt.Errorf("%s is too long for a socket's address", parent))
			continue
		}
		if err := c.acc.reaches(ctx, parent, filepath.Join(c.bin.Dir, "postgres")); err != nil {
			why = append(why, err)
			continue
		}
		dir, err := os.MkdirTemp(parent, "midden-")
		if err != nil {
			why = append(why, err)
			continue
		}
		if err := c.acc.own(dir); err != nil {
			return "", errors.Join(err, os.Remove(dir))
		}
		if err := os.WriteFile(c.path(socketFile), []byte(dir+"\n"), 0o600); err != nil {
			return "", errors.Join(err, os.Remove(dir))
		}
		return dir, nil
	}
	return "", &Error{Op: "make a folder for the socket", Err: joinLine(why), Fix: "set TMPDIR to a short path"}
}

// removeSocketFolder removes only what it takes for a socket folder of ours: a true folder of that name.
func removeSocketFolder(dir string) {
	info, err := os.Lstat(dir)
	if err == nil && info.IsDir() && strings.HasPrefix(filepath.Base(dir), "midden-") {
		for _, name := range []string{".s.PGSQL.5432", ".s.PGSQL.5432.lock"} {
			os.Remove(filepath.Join(dir, name))
		}
		os.Remove(dir)
	}
}

// makeFolder makes the data folder with the mode it needs whatever the umask, and leaves one that exists as it is.
func makeFolder(dir string, mode os.FileMode) error {
	if exists(dir) {
		return nil
	}
	if err := os.MkdirAll(dir, mode); err != nil {
		return err
	}
	return os.Chmod(dir, mode)
}

// majorOf reads the version that an existing cluster was made by; 0 if there is none.
func (c cluster) majorOf() (int, error) {
	text, err := os.ReadFile(filepath.Join(c.pgdata(), "PG_VERSION"))
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return strconv.Atoi(strings.TrimSpace(string(text)))
}

// choose picks the installation to run: the preferred one for new data, the one that made it for old.
func (c cluster) choose(found []Binaries) (Binaries, error) {
	made, err := c.majorOf()
	if err != nil || made == 0 {
		return found[0], err
	}
	for _, b := range found {
		if b.Major == made {
			return b, nil
		}
	}
	return Binaries{}, &Error{Op: "open " + c.pgdata(), Err: fmt.Errorf("%w: made by %d, found %d in %s", ErrVersion, made, found[0].Major, found[0].Dir),
		Fix: fmt.Sprintf("install Postgres %d beside it, or move the data with pg_upgrade", made)}
}

// openLog appends, and keeps one older file, so that the log can't fill a disk over the years.
func (c cluster) openLog() (*os.File, error) {
	path := c.path(logFile)
	if info, err := os.Stat(path); err == nil && info.Size() > logLimit {
		if err := os.Rename(path, path+".1"); err != nil {
			return nil, err
		}
	}
	return os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND|syscall.O_NOFOLLOW, 0o600)
}

func writeNew(path string, text []byte, mode os.FileMode) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL|syscall.O_NOFOLLOW, mode)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
