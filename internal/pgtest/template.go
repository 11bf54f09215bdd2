package pgtest

import (
	"context"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"midden/internal/pgrun"
	"midden/migrations"
)

const (
	templatePrefix = "midden_tpl_"
	testPrefix     = "midden_t_"
	// templateLock keeps apart the processes that make a template on one server. The number is arbitrary.
	templateLock = 0x6d696474706c
	// keepFor is how long a failed test's database stays on a server that outlives the test.
	keepFor = 24 * time.Hour
)

// contentHash names the schema by the bytes of its files, so a changed migration makes another template.
func contentHash(files fs.FS) (string, error) {
	h := sha256.New()
	err := fs.WalkDir(files, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(files, path)
		fmt.Fprintf(h, "%s %d\n%s", path, len(text), text)
		return err
	})
	return fmt.Sprintf("%x", h.Sum(nil)[:8]), err
}

// makeTemplate migrates a database once per content hash and server, whichever process comes first, and closes it to
// connections: a template with a session in it can't be cloned.
func (s *server) makeTemplate() (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	hash, err := contentHash(migrations.FS)
	if err != nil {
		return "", err
	}
	name := templatePrefix + hash
	conn, err := pgx.Connect(ctx, s.superDSN)
	if err != nil {
		return "", err
	}
	defer conn.Close(context.WithoutCancel(ctx)) // frees the lock
	if _, err := conn.Exec(ctx, `SELECT pg_advisory_lock($1)`, int64(templateLock)); err != nil {
		return "", err
	}
	var ready bool
	err = conn.QueryRow(ctx, `SELECT EXISTS (SELECT FROM pg_database WHERE datname = $1 AND datistemplate)`, name).Scan(&ready)
	if err != nil || ready {
		return name, err
	}
	if err := s.sweepDatabases(ctx, conn); err != nil {
		return "", err
	}
	db := pgx.Identifier{name}.Sanitize()
	// One that is no template yet is a half-made one, left by a process that was killed.
	if _, err := conn.Exec(ctx, `DROP DATABASE IF EXISTS `+db+` WITH (FORCE)`); err != nil {
		return "", err
	}
	if err := s.create(ctx, name, ""); err != nil {
		return "", err
	}
	owner, err := pgrun.WithRole(s.superDSN, pgrun.OwnerRole, s.rolePassword, name)
	if err != nil {
		return "", err
	}
	if err := migrations.Up(ctx, owner); err != nil {
		return "", err
	}
	_, err = conn.Exec(ctx, `ALTER DATABASE `+db+` WITH IS_TEMPLATE true ALLOW_CONNECTIONS false`)
	return name, err
}

// create makes a database, a clone of the template if one is named.
func (s *server) create(ctx context.Context, name, template string) error {
	sql := `CREATE DATABASE ` + pgx.Identifier{name}.Sanitize() + ` OWNER ` + pgrun.OwnerRole
	if template != "" {
		sql += ` TEMPLATE ` + pgx.Identifier{template}.Sanitize()
	}
	// Copying files needs two checkpoints: cheap where nothing is flushed, dear on a server that flushes.
	if s.unflushed {
		sql += ` STRATEGY FILE_COPY`
	}
	if _, err := s.admin.Exec(ctx, sql); err != nil {
		return err
	}
	_, err := s.admin.Exec(ctx, pgrun.DatabaseRights(name))
	return err
}

// sweepDatabases drops what failed and killed tests left on a server that outlives them, a day later.
func (s *server) sweepDatabases(ctx context.Context, conn *pgx.Conn) error {
	rows, err := conn.Query(ctx, `SELECT datname FROM pg_database WHERE starts_with(datname, $1)`, testPrefix)
	if err != nil {
		return err
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	for _, name := range names {
		if old(name, time.Now()) {
			s.dropAnyway(ctx, name)
		}
	}
	return nil
}

// old reads the time out of a test database's name.
func old(name string, now time.Time) bool {
	at, _, _ := strings.Cut(strings.TrimPrefix(name, testPrefix), "_")
	made, err := strconv.ParseInt(at, 10, 64)
	return err == nil && now.Sub(time.Unix(made, 0)) > keepFor
}
