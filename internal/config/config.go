package config

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"
)

// Config is every setting. Get one from Load or FromEnv: a zero Config is not
// fit for use.
type Config struct {
	DatabaseURL Secret // serves, as midden_app; empty: none was given
	MigrateURL  Secret // migrates, as midden_owner; empty: none was given
	PoolSize    int    // connections to the database

	Listen          string        // host:port
	PublicURL       string        // scheme and host, no trailing slash; issuer and audience of tokens
	MaxBodyBytes    int64         // of one request
	RequestTimeout  time.Duration // of one request
	ShutdownTimeout time.Duration // for requests under way when asked to stop

	DataDir     string // of an embedded Postgres and its keys; empty: the usual place
	PgBinDir    string // of Postgres's programs; empty: search
	SigningKeys Secret // seeds, the signing one first; empty: made in DataDir when embedded

	PlanConcurrency int // plans worked out at a time
	HashConcurrency int // passwords hashed at a time; 0: one per processor

	LogLevel  slog.Level
	LogFormat string // "json" or "text"
}

// Secret is a setting that never prints itself.
type Secret string

// String says only whether there is one.
func (s Secret) String() string {
	if s == "" {
		return ""
	}
	return "(set)"
}

// GoString is String, for %#v.
func (s Secret) GoString() string { return s.String() }

// LogValue is String, for structured logs.
func (s Secret) LogValue() slog.Value { return slog.StringValue(s.String()) }

// MarshalText is String, for whatever encodes.
func (s Secret) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Reveal is the secret itself. Call it where it is used and keep no copy.
func (s Secret) Reveal() string { return string(s) }

// FromEnv loads from the environment of the process.
func FromEnv() (Config, error) { return Load(os.LookupEnv) }

// Load reads every setting through lookup. An empty variable counts as unset.
// The error joins all mistakes, each naming its variable and what would be
// right, and shows no secret.
func Load(lookup func(string) (string, bool)) (Config, error) {
	var c Config
	var faults []error
	for _, s := range settings {
		value, ok := lookup(s.name)
		value = strings.TrimSpace(value)
		if !ok || value == "" {
			value = s.usual
		}
		if err := s.set(&c, value); err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", s.name, err))
		}
	}
	if c.PublicURL == "" && c.Listen != "" {
		c.PublicURL = "http://" + c.Listen
	}
	if err := errors.Join(faults...); err != nil {
		return Config{}, err
	}
	return c, nil
}

// Names lists the variables that are read, in the order they are printed.
func Names() []string {
	names := make([]string, len(settings))
	for i, s := range settings {
		names[i] = s.name
	}
	return names
}

// Print writes each setting, its value without secrets, and what it is for.
func (c Config) Print(w io.Writer) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, s := range settings {
		if _, err := fmt.Fprintf(t, "%s\t%s\t%s\n", s.name, orDash(s.show(c)), s.about); err != nil {
			return err
		}
	}
	return t.Flush()
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

func oneOf(value string, choices ...string) error {
	if slices.Contains(choices, value) {
		return nil
	}
	return fmt.Errorf("must be one of %s; got %q", strings.Join(choices, ", "), value)
}
