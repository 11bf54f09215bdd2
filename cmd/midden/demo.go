package main

import "midden/internal/app"

type demoCommand struct {
	Print bool   `help:"Print the garden and end, instead of serving it."`
	Seed  uint64 `default:"7" help:"The same seed tells the same story."`
	Weeks int    `default:"104" help:"Weeks that the garden has behind it, 4 to 260."`
}

func (c demoCommand) Run(s *surroundings) error {
	if c.Weeks < 4 || c.Weeks > 260 {
		return usageError{"--weeks: must be between 4 and 260"}
	}
	cfg, o, err := s.open(true)
	if err != nil {
		return err
	}
	return app.Demo(s.ctx, cfg, o, app.DemoRequest{Seed: c.Seed, Weeks: c.Weeks, Print: c.Print}, s.stdout, s.stderr)
}
