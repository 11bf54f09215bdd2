package pgrun

import (
	"log/slog"
	"os"
	"path/filepath"
	"time"
)

const (
	// EnvBinDir names the variable that overrides the search for binaries.
	EnvBinDir = "MIDDEN_PG_BINDIR"
	// EnvDataDir names the variable that overrides the data folder.
	EnvDataDir = "MIDDEN_DATA_DIR"
	// MinMajor is the oldest major version of Postgres that Midden works with.
	MinMajor = 15
)

// Options say where a private server keeps its data and which binaries it runs. The zero value is good for `midden demo`.
type Options struct {
	// DataDir is the folder that holds everything of the server. Empty means DefaultDataDir.
	DataDir string
	// BinDir is the folder with postgres and initdb. Empty means MIDDEN_PG_BINDIR, then a search.
	BinDir string
	// SocketParent is where the private socket folder is made. Empty means a suitable runtime folder.
	SocketParent string
	// Logger gets a line per start, recovery and stop. Nil means silence.
	Logger *slog.Logger
	// StartTimeout bounds initdb and recovery. Zero means one minute.
	StartTimeout time.Duration
	// StopTimeout is how long a fast shutdown may take before an immediate one. Zero means fifteen seconds.
	StopTimeout time.Duration
	// Throwaway gives up durability for speed: for tests only. No database is made, only the roles.
	Throwaway bool
}

func (o Options) withDefaults() (Options, error) {
	if o.DataDir == "" {
		dir, err := DefaultDataDir()
		if err != nil {
			return o, err
		}
		o.DataDir = dir
	}
	abs, err := filepath.Abs(o.DataDir)
	if err != nil {
		return o, err
	}
	o.DataDir = abs
	if o.BinDir == "" {
		o.BinDir = os.Getenv(EnvBinDir)
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.StartTimeout == 0 {
		o.StartTimeout = time.Minute
	}
	if o.StopTimeout == 0 {
		o.StopTimeout = 15 * time.Second
	}
	return o, nil
}

// DefaultDataDir is MIDDEN_DATA_DIR, else /var/lib/midden for root, else midden in the XDG data folder.
func DefaultDataDir() (string, error) {
	if dir := os.Getenv(EnvDataDir); dir != "" {
		return dir, nil
	}
	if os.Geteuid() == 0 {
		return "/var/lib/midden", nil
	}
	// The XDG Base Directory Specification: a relative path is to be ignored.
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "midden"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", &Error{Op: "choose a data folder", Err: err, Fix: "set " + EnvDataDir}
	}
	return filepath.Join(home, ".local", "share", "midden"), nil
}
