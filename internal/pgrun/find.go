package pgrun

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

const installHint = "install it (Debian: apt-get install postgresql), or start docker-compose.yml's database, " +
	"or set MIDDEN_DATABASE_URL to a server of your own; " + EnvBinDir + " names a folder of binaries elsewhere"

// Binaries is one installation of Postgres, both of whose programs were seen to run.
type Binaries struct {
	Dir   string // holds postgres and initdb
	Major int    // 15, 16, …
}

// places are where packagers put server programs, most common first.
var places = []string{
	"/usr/lib/postgresql/*/bin",         // Debian and its kin
	"/opt/homebrew/opt/postgresql*/bin", // macOS on Apple silicon
	"/usr/local/opt/postgresql*/bin",    // macOS on Intel
	"/usr/pgsql-*/bin",                  // Red Hat and its kin
	"/usr/libexec/postgresql*",          // Alpine
	"/usr/local/pgsql/bin",              // built from source
	"/usr/local/lib/postgresql/*/bin",   // built from source beside others
	"/opt/local/lib/postgresql*/bin",    // macOS ports
	"/run/current-system/sw/bin",        // declarative systems
	"/home/linuxbrew/.linuxbrew/opt/postgresql*/bin",
}

// Find returns the installations on this computer, the preferred first. A given binDir, or MIDDEN_PG_BINDIR, is the only
// place looked at. The error is ErrNoBinaries and tells every folder tried.
func Find(ctx context.Context, binDir string) ([]Binaries, error) {
	acc, err := serverAccount()
	if err != nil {
		return nil, err
	}
	return find(ctx, binDir, acc)
}

func find(ctx context.Context, binDir string, acc account) ([]Binaries, error) {
	if binDir == "" {
		binDir = os.Getenv(EnvBinDir)
	}
	dirs := []string{binDir}
	if binDir == "" {
		dirs = candidates(ctx)
	}
	var found []Binaries
	var tried []error
	for _, dir := range dirs {
		b, err := verify(ctx, dir, acc)
		if err != nil {
			tried = append(tried, err)
			continue
		}
		found = append(found, b)
	}
	if len(found) > 0 {
		return found, nil
	}
	why := error(ErrNoBinaries)
	if len(tried) > 0 {
		why = fmt.Errorf("%w (%w)", ErrNoBinaries, joinLine(tried))
	}
	return nil, &Error{Err: why, Fix: installHint}
}

// candidates lists folders worth trying, without repeats.
func candidates(ctx context.Context) []string {
	var dirs []string
	add := func(dir string) {
		if real, err := filepath.EvalSymlinks(dir); err == nil && !slices.Contains(dirs, real) {
			dirs = append(dirs, real)
		}
	}
	// A program in PATH may be a link into the folder that holds both, or a wrapper that stands alone.
	for _, name := range []string{"postgres", "initdb"} {
		path, err := exec.LookPath(name)
		if err != nil {
			continue
		}
		if real, err := filepath.EvalSymlinks(path); err == nil {
			add(filepath.Dir(real))
		}
		add(filepath.Dir(path))
	}
	for _, place := range places {
		found, _ := filepath.Glob(place)
		slices.SortFunc(found, func(a, b string) int { return majorIn(b) - majorIn(a) })
		for _, dir := range found {
			add(dir)
		}
	}
	if out, err := exec.CommandContext(ctx, "pg_config", "--bindir").Output(); err == nil {
		add(strings.TrimSpace(string(out)))
	}
	return dirs
}

var lastNumber = regexp.MustCompile(`[0-9]+`)

// majorIn reads the version out of a path such as /usr/lib/postgresql/15/bin; 0 if it names none.
func majorIn(path string) int {
	all := lastNumber.FindAllString(path, -1)
	if len(all) == 0 {
		return 0
	}
	n, _ := strconv.Atoi(all[len(all)-1])
	return n
}

var versionLine = regexp.MustCompile(`\(PostgreSQL\) ([0-9]+)`)

// verify runs both programs as the account that will run them: a folder that only root can enter is of no use.
func verify(ctx context.Context, dir string, acc account) (Binaries, error) {
	b := Binaries{Dir: dir}
	for _, name := range []string{"postgres", "initdb"} {
		cmd := acc.command(ctx, "/", filepath.Join(dir, name), "-V")
		out, err := cmd.Output()
		if err != nil {
			return b, fmt.Errorf("%s does not run: %w", filepath.Join(dir, name), bare(err))
		}
		m := versionLine.FindSubmatch(out)
		if m == nil {
			return b, fmt.Errorf("%s names no Postgres version", filepath.Join(dir, name))
		}
		major, _ := strconv.Atoi(string(m[1]))
		if b.Major != 0 && b.Major != major {
			return b, fmt.Errorf("%s holds programs of two versions, %d and %d", dir, b.Major, major)
		}
		b.Major = major
	}
	if b.Major < MinMajor {
		return b, fmt.Errorf("%s is version %d; Midden needs %d or later", dir, b.Major, MinMajor)
	}
	return b, nil
}

// bare strips the path that exec repeats in its own errors.
func bare(err error) error {
	var path *os.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

func joinLine(errs []error) error {
	var parts []string
	for _, err := range errs {
		parts = append(parts, err.Error())
	}
	return errors.New(strings.Join(parts, "; "))
}
