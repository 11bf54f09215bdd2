package main

import "midden/internal/app"

type serveCommand struct {
	Embedded bool `help:"Run a private Postgres on this computer, in MIDDEN_DATA_DIR."`
	Migrate  bool `help:"Bring the schema up first, with MIDDEN_MIGRATE_URL. Always done when embedded."`
}

func (c serveCommand) Run(s *surroundings) error {
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	o.Migrate = c.Migrate
	return app.New(cfg, o).Run(s.ctx)
}
