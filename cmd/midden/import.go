package main

import (
	"errors"
	"os"

	"github.com/google/uuid"

	"midden/internal/app"
)

type importCommand struct {
	File          string            `arg:"" placeholder:"FILE" help:"A CSV with a heading line: date, who, what, how much, unit."`
	Garden        string            `required:"" placeholder:"ID" help:"The garden's id."`
	As            string            `required:"" placeholder:"ADDRESS" help:"Address of the coordinator or keeper who imports it."`
	Site          string            `placeholder:"NAME" help:"Where the scraps came to; the garden's usual site, or its only one, when left out."`
	FedTo         string            `placeholder:"BIN" help:"A bin: everything was fed to it on the day it came. Else it is on hand."`
	BucketVolume  string            `default:"5gal" help:"What one bucket of the log holds."`
	BucketDensity string            `default:"3.8lb/gal" help:"Mass of a volume of scraps. Weigh a few full buckets of your own for a better figure."`
	DateFormat    string            `default:"YYYY-MM-DD" enum:"YYYY-MM-DD,DD/MM/YYYY,MM/DD/YYYY" help:"How dates are written: ${enum}."`
	Material      map[string]string `placeholder:"WORD=KEY" mapsep:"none" help:"What the log calls a material, and its key in the catalogue. May be given again."`
	DryRun        bool              `help:"Only tell what would happen."`
	Embedded      bool              `help:"The private Postgres on this computer; Midden must not be running on it."`
}

// Run ends with 1 when a row is at fault; then nothing was written.
func (c importCommand) Run(s *surroundings) error {
	garden, err := uuid.Parse(c.Garden)
	if err != nil {
		return usageError{"--garden: must be a garden's id, such as 0198c0de-0000-7000-8000-000000000002"}
	}
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	file, err := os.Open(c.File)
	if err != nil {
		return err
	}
	defer file.Close()
	err = app.ImportScrapLog(s.ctx, cfg, o, file, s.stdout, app.ScrapLogImport{Garden: garden, As: c.As, Site: c.Site, FedTo: c.FedTo,
		Bucket: c.BucketVolume, Density: c.BucketDensity, Dates: c.DateFormat, Materials: c.Material, DryRun: c.DryRun})
	if errors.Is(err, app.ErrFaults) {
		return errFindings
	}
	return err
}
