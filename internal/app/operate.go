package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"

	"github.com/google/uuid"

	"midden/internal/auth"
	"midden/internal/config"
	"midden/internal/obs"
	"midden/migrations"
	"midden/openapi"
)

// Config is the settings, named here so that a command needs no other package.
type Config = config.Config

// LoadConfig reads the settings through lookup; os.LookupEnv is the usual one.
func LoadConfig(lookup func(string) (string, bool)) (Config, error) {
	c, err := config.Load(lookup)
	if err != nil {
		return c, fmt.Errorf("settings:\n  %s", strings.ReplaceAll(err.Error(), "\n", "\n  "))
	}
	return c, nil
}

// NewLogger logs to w as the settings say.
func NewLogger(cfg Config, w io.Writer) *slog.Logger {
	return obs.NewLogger(w, cfg.LogLevel, cfg.LogFormat)
}

// Contract is the OpenAPI document this program was built from.
func Contract() []byte { return openapi.YAML }

// SchemaVersion is the schema this program needs.
func SchemaVersion() uint { return migrations.Latest() }

// NewSigningKey is a fresh key for MIDDEN_SIGNING_KEYS.
func NewSigningKey() string { return auth.NewSeed() }

// WithDatabase opens the database for one piece of work on its schema.
func WithDatabase(ctx context.Context, cfg Config, o Options, work func(*Database) error) (err error) {
	if cfg.MigrateURL == "" && !o.Embedded {
		return ErrNoMigrateURL
	}
	d, err := OpenDatabase(ctx, cfg, o.Embedded, New(cfg, o).log)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	return work(d)
}

// withStore opens the database and the store for one piece of work, which the
// schema must be ready for.
func withStore(ctx context.Context, cfg Config, o Options, work func(*Program) error) (err error) {
	p := New(cfg, o)
	defer func() { err = errors.Join(err, p.Close()) }()
	if err := p.openDatabase(ctx); err != nil {
		return err
	}
	if err := p.openStore(ctx, nil); err != nil {
		return err
	}
	if err := schemaReady(ctx, p.store.Pool()); err != nil {
		return err
	}
	return work(p)
}

// NewAccount is who an account is made for.
type NewAccount struct {
	Email   string
	Name    string // empty: the part before the @
	Founder bool   // may found gardens
}

// CreateAccount makes an account with a generated password and returns it:
// nobody can read it again. It refuses as service.NewAccount does.
func CreateAccount(ctx context.Context, cfg Config, o Options, who NewAccount) (password string, err error) {
	if who.Name == "" {
		who.Name, _, _ = strings.Cut(who.Email, "@")
	}
	password = auth.GeneratePassword()
	err = withStore(ctx, cfg, o, func(p *Program) error {
		_, err := p.useCases(nil).NewAccount(ctx, who.Email, who.Name, password, who.Founder)
		return err
	})
	if err != nil {
		return "", err
	}
	return password, nil
}

// Check recomputes stock, roll-ups and hashes from the entries of one garden,
// or of all when none is named, and writes a line for each finding and one to
// sum up. It tells how many findings there were.
func Check(ctx context.Context, cfg Config, o Options, w io.Writer, garden uuid.UUID) (findings int, err error) {
	err = withStore(ctx, cfg, o, func(p *Program) error {
		gardens, err := p.store.GardenIDs(ctx)
		if err != nil {
			return err
		}
		if garden != uuid.Nil {
			if !slices.Contains(gardens, garden) {
				return fmt.Errorf("check: no garden has the id %s", garden)
			}
			gardens = []uuid.UUID{garden}
		}
		for _, g := range gardens {
			faults, err := p.store.CheckLedger(ctx, g)
			if err != nil {
				return fmt.Errorf("check garden %s: %w", g, err)
			}
			for _, f := range faults {
				if _, err := fmt.Fprintf(w, "garden %s: %s\n", g, f); err != nil {
					return err
				}
			}
			findings += len(faults)
		}
		_, err = fmt.Fprintf(w, "gardens checked: %d; findings: %d\n", len(gardens), findings)
		return err
	})
	return findings, err
}
