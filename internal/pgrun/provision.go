package pgrun

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

const (
	// SuperRole is the superuser of a private server. Midden never works as it.
	SuperRole = "postgres"
	// OwnerRole owns the database and everything in it, and migrates.
	OwnerRole = "midden_owner"
	// AppRole serves. It owns nothing, and row-level security binds it.
	AppRole = "midden_app"
	// Database is the name of Midden's database.
	Database = "midden"
)

// provisionLock keeps concurrent provisioners of one server apart. The number is arbitrary.
const provisionLock = 0x6d696464656e

// Passwords are for servers reached over a network. Empty means none: a private server needs none.
type Passwords struct{ Owner, App string }

// Provision makes the two roles on any server, Postgres 15 or later, given a superuser's connection string. It may run
// again and at the same time as another: a role that exists keeps its password and loses every power it should not have.
func Provision(ctx context.Context, superDSN string, pw Passwords) error {
	return withLock(ctx, superDSN, func(conn *pgx.Conn) error {
		var version int
		if err := conn.QueryRow(ctx, `SELECT current_setting('server_version_num')::int`).Scan(&version); err != nil {
			return err
		}
		if version/10000 < MinMajor {
			return &Error{Op: "make the roles", Err: fmt.Errorf("the server is Postgres %d", version/10000),
				Fix: fmt.Sprintf("use Postgres %d or later", MinMajor)}
		}
		for _, r := range []struct{ name, password string }{{OwnerRole, pw.Owner}, {AppRole, pw.App}} {
			if err := ensureRole(ctx, conn, r.name, r.password); err != nil {
				return &Error{Op: "make role " + r.name, Err: err}
			}
		}
		return nil
	})
}

func ensureRole(ctx context.Context, conn *pgx.Conn, name, password string) error {
	const powers = ` LOGIN INHERIT NOSUPERUSER NOCREATEDB NOCREATEROLE NOREPLICATION NOBYPASSRLS`
	var fine bool
	err := conn.QueryRow(ctx, `SELECT rolcanlogin AND rolinherit AND NOT (rolsuper OR rolcreatedb OR rolcreaterole OR rolreplication OR rolbypassrls)
		FROM pg_roles WHERE rolname = $1`, name).Scan(&fine)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		sql := `CREATE ROLE ` + name + powers
		if password != "" {
			sql += ` PASSWORD ` + literal(password)
		}
		_, err = conn.Exec(ctx, sql)
		// Somebody who does not take our lock may have been quicker.
		if code(err) == "42710" || code(err) == "23505" {
			return nil
		}
		return err
	case err != nil || fine:
		return err
	default:
		_, err = conn.Exec(ctx, `ALTER ROLE `+name+powers)
		return err
	}
}

// CreateDatabase makes a database owned by midden_owner that midden_app may connect to and nobody else. One that exists is
// left as it is, but for those rights.
func CreateDatabase(ctx context.Context, superDSN, name string) error {
	return withLock(ctx, superDSN, func(conn *pgx.Conn) error {
		var there bool
		if err := conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1)`, name).Scan(&there); err != nil {
			return err
		}
		if !there {
			sql := `CREATE DATABASE ` + pgx.Identifier{name}.Sanitize() + ` OWNER ` + OwnerRole
			if _, err := conn.Exec(ctx, sql); err != nil {
				return &Error{Op: "make database " + name, Err: err}
			}
		}
		_, err := conn.Exec(ctx, DatabaseRights(name))
		return err
	})
}

// DatabaseRights is the SQL that closes a database to all but its owner and midden_app. A clone of a template does not
// inherit these rights, so whoever clones runs it again.
func DatabaseRights(name string) string {
	db := pgx.Identifier{name}.Sanitize()
	return `REVOKE ALL ON DATABASE ` + db + ` FROM PUBLIC; GRANT CONNECT ON DATABASE ` + db + ` TO ` + AppRole
}

// withLock runs f on one connection, alone among all who use this function on the same database of the server.
func withLock(ctx context.Context, superDSN string, f func(*pgx.Conn) error) (err error) {
	conn, err := pgx.Connect(ctx, superDSN)
	if err != nil {
		return &Error{Op: "connect as superuser", Err: err}
	}
	// Closing the session frees the lock, also when the context has ended.
	defer func() { err = errors.Join(err, conn.Close(context.WithoutCancel(ctx))) }()
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, int64(provisionLock)); err != nil {
		return err
	}
	return f(conn)
}

func code(err error) string {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return pg.Code
	}
	return ""
}

func literal(s string) string {
	return ` E'` + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + `'`
}
