package main

import (
	"github.com/google/uuid"

	"midden/internal/app"
)

type checkCommand struct {
	Embedded bool   `help:"The private Postgres on this computer; Midden must not be running on it."`
	Garden   string `help:"The id of one garden; all of them when left out."`
}

// Run ends with 1 when there is any finding.
func (c checkCommand) Run(s *surroundings) error {
	garden := uuid.Nil
	if c.Garden != "" {
		var err error
		if garden, err = uuid.Parse(c.Garden); err != nil {
			return usageError{"--garden: must be a garden's id, such as 0198c0de-0000-7000-8000-000000000002"}
		}
	}
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	findings, err := app.Check(s.ctx, cfg, o, s.stdout, garden)
	if err == nil && findings > 0 {
		return errFindings
	}
	return err
}
