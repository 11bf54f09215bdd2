// Package migrations holds the schema as numbered steps and applies them.
//
// A file is NNNN_what.up.sql or NNNN_what.down.sql. One change per file; a landed file never changes. The package knows the
// connection string it is given and nothing of what the tables mean. Start reading at 0001_tenancy.up.sql.
package migrations

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"strconv"
	"strings"

	"github.com/golang-migrate/migrate/v4"
	pgxmigrate "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// FS holds the files.
//
//go:embed *.sql
var FS embed.FS

// Up brings the database to the newest version. It may run again, and at the same time as another: one waits.
// The connection string is midden_owner's; the role midden_app must exist.
func Up(ctx context.Context, ownerDSN string) error {
	return run(ctx, ownerDSN, (*migrate.Migrate).Up)
}

// Down takes every step back. All data is lost.
func Down(ctx context.Context, ownerDSN string) error {
	return run(ctx, ownerDSN, (*migrate.Migrate).Down)
}

// To goes to a version, up or down. Zero is the empty database.
func To(ctx context.Context, ownerDSN string, version uint) error {
	if version == 0 {
		return Down(ctx, ownerDSN)
	}
	return run(ctx, ownerDSN, func(m *migrate.Migrate) error { return m.Migrate(version) })
}

// Version tells the version of the database, 0 for an empty one, and whether a step broke off halfway.
func Version(ctx context.Context, ownerDSN string) (version uint, dirty bool, err error) {
	err = run(ctx, ownerDSN, func(m *migrate.Migrate) error {
		version, dirty, err = m.Version()
		if errors.Is(err, migrate.ErrNilVersion) {
			return nil
		}
		return err
	})
	return version, dirty, err
}

// Latest is the version that this program was built for.
func Latest() uint {
	var latest uint
	names, err := fs.Glob(FS, "*.up.sql")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	for _, name := range names {
		number, _, _ := strings.Cut(name, "_")
		if n, err := strconv.ParseUint(number, 10, 32); err == nil && uint(n) > latest {
			latest = uint(n)
		}
	}
	return latest
}

func run(ctx context.Context, dsn string, f func(*migrate.Migrate) error) (err error) {
	cfg, err := pgx.ParseConfig(dsn)
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	files, err := iofs.New(FS, ".")
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	db := stdlib.OpenDB(*cfg)
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.PingContext(ctx); err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	// Named, because the steps themselves make a schema and a changed search path would hide the table.
	driver, err := pgxmigrate.WithInstance(db, &pgxmigrate.Config{SchemaName: "public"})
	if err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	m, err := migrate.NewWithInstance("iofs", files, "pgx5", driver)
	if err != nil {
		return fmt.Errorf("migrations: %w", errors.Join(err, driver.Close()))
	}
	// A step runs to its end; the wish to stop is heard between steps.
	stop := context.AfterFunc(ctx, func() { m.GracefulStop <- true })
	defer stop()
	err = f(m)
	if errors.Is(err, migrate.ErrNoChange) {
		err = nil
	}
	if err == nil {
		err = ctx.Err()
	}
	srcErr, dbErr := m.Close()
	if err = errors.Join(err, srcErr, dbErr); err != nil {
		return fmt.Errorf("migrations: %w", err)
	}
	return nil
}
