package main

import (
	"fmt"

	"midden/internal/app"
)

type migrateCommand struct {
	Embedded bool `help:"The private Postgres on this computer; Midden must not be running on it."`

	Up      migrateUpCommand      `cmd:"" help:"Bring the schema to what this program needs."`
	Down    migrateDownCommand    `cmd:"" help:"Take steps back. What they made is lost."`
	Version migrateVersionCommand `cmd:"" help:"Tell the schema's version and the one this program needs."`
}

type migrateUpCommand struct{}

func (migrateUpCommand) Run(s *surroundings, all *commands) error {
	return all.Migrate.with(s, func(d *app.Database) error { return d.MigrateUp(s.ctx) })
}

type migrateDownCommand struct {
	To uint `arg:"" help:"The version to go back to; 0 empties the database."`
	// Spelled out, so that nobody loses a garden to a slip.
	LoseData bool `required:"" help:"Says that what the steps made may be lost."`
}

func (c migrateDownCommand) Run(s *surroundings, all *commands) error {
	return all.Migrate.with(s, func(d *app.Database) error {
		now, _, err := d.Version(s.ctx)
		if err != nil {
			return err
		}
		if c.To >= now {
			return fmt.Errorf("down to %d: the schema is version %d already", c.To, now)
		}
		return d.MigrateTo(s.ctx, c.To)
	})
}

type migrateVersionCommand struct{}

func (migrateVersionCommand) Run(s *surroundings, all *commands) error {
	return all.Migrate.with(s, func(*app.Database) error { return nil })
}

// with opens the database for one piece of work, and tells the version after it.
func (c migrateCommand) with(s *surroundings, work func(*app.Database) error) error {
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	return app.WithDatabase(s.ctx, cfg, o, func(d *app.Database) error {
		if err := work(d); err != nil {
			return err
		}
		version, broken, err := d.Version(s.ctx)
		if err != nil {
			return err
		}
		state := ""
		if broken {
			state = ", broken off halfway"
		}
		_, err = fmt.Fprintf(s.stdout, "schema version %d%s; this program needs %d\n", version, state, app.SchemaVersion())
		return err
	})
}
