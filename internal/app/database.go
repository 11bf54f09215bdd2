package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"midden/internal/config"
	"midden/internal/pgrun"
	"midden/migrations"
)

// ErrNoDatabase says how to name a database: a lost variable must never open
// an empty one.
var ErrNoDatabase = errors.New("no database: set MIDDEN_DATABASE_URL to one that serves (docker-compose.yml starts one), " +
	"or give --embedded to run a private Postgres on this computer")

// ErrTwoDatabases is the opposite mistake.
var ErrTwoDatabases = errors.New("two databases: MIDDEN_DATABASE_URL is set and --embedded is given; drop one of them")

// ErrNoMigrateURL says what migrating needs.
var ErrNoMigrateURL = errors.New("nothing to migrate with: set MIDDEN_MIGRATE_URL to the database as role midden_owner, " +
	"or give --embedded for the private Postgres on this computer")

// Database is where the rows are: a server that somebody runs, or a private
// one that ends with this process.
type Database struct {
	appDSN   string
	ownerDSN string // empty: this process may not migrate
	dataDir  string // empty: not embedded
	private  *pgrun.Server
}

// OpenDatabase starts the private Postgres when embedded, and otherwise only
// takes the connection strings from the settings.
func OpenDatabase(ctx context.Context, cfg config.Config, embedded bool, log *slog.Logger) (*Database, error) {
	if !embedded {
		return &Database{appDSN: cfg.DatabaseURL.Reveal(), ownerDSN: cfg.MigrateURL.Reveal()}, nil
	}
	if cfg.DatabaseURL != "" {
		return nil, ErrTwoDatabases
	}
	s, err := pgrun.Start(ctx, pgrun.Options{DataDir: cfg.DataDir, BinDir: cfg.PgBinDir, Logger: log})
	if err != nil {
		return nil, err
	}
	return &Database{appDSN: s.AppDSN(), ownerDSN: s.OwnerDSN(), dataDir: s.DataDir(), private: s}, nil
}

// Close stops a private Postgres.
func (d *Database) Close() error {
	if d.private == nil {
		return nil
	}
	return d.private.Stop()
}

// lost is closed when a private Postgres ends by itself; nil for any other.
func (d *Database) lost() <-chan struct{} {
	if d.private == nil {
		return nil
	}
	return d.private.Done()
}

// MigrateUp brings the schema to the version of this program.
func (d *Database) MigrateUp(ctx context.Context) error {
	if d.ownerDSN == "" {
		return ErrNoMigrateURL
	}
	return migrations.Up(ctx, d.ownerDSN)
}

// MigrateTo goes to a version, up or down. Going down loses data.
func (d *Database) MigrateTo(ctx context.Context, version uint) error {
	if d.ownerDSN == "" {
		return ErrNoMigrateURL
	}
	return migrations.To(ctx, d.ownerDSN, version)
}

// Version is the version of the schema, and whether a step broke off halfway.
func (d *Database) Version(ctx context.Context) (version uint, broken bool, err error) {
	if d.ownerDSN == "" {
		return 0, false, ErrNoMigrateURL
	}
	return migrations.Version(ctx, d.ownerDSN)
}

type queryer interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// schemaReady tells as the serving role whether the schema is at least what
// this program was built for. A newer one is fine: migrations come before the
// programs that need them.
func schemaReady(ctx context.Context, q queryer) error {
	var version uint
	var broken bool
	err := q.QueryRow(ctx, `SELECT version, dirty FROM public.schema_migrations`).Scan(&version, &broken)
	var pg *pgconn.PgError
	switch {
	case errors.Is(err, pgx.ErrNoRows), errors.As(err, &pg) && (pg.Code == "42P01" || pg.Code == "42501"):
		return fmt.Errorf("the schema is not in place: run `midden migrate up`")
	case err != nil:
		return fmt.Errorf("the database does not answer: %w", err)
	case broken:
		return fmt.Errorf("a migration to version %d broke off halfway: mend it, then run `midden migrate up`", version)
	case version < migrations.Latest():
		return fmt.Errorf("the schema is version %d and this program needs %d: run `midden migrate up`", version, migrations.Latest())
	}
	return nil
}
