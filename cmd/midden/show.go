package main

import (
	"fmt"
	"runtime/debug"

	"midden/internal/app"
)

type openapiCommand struct{}

func (openapiCommand) Run(s *surroundings) error {
	_, err := s.stdout.Write(app.Contract())
	return err
}

type signingKeyCommand struct{}

func (signingKeyCommand) Run(s *surroundings) error {
	_, err := fmt.Fprintln(s.stdout, app.NewSigningKey())
	return err
}

type configCommand struct{}

func (configCommand) Run(s *surroundings) error {
	cfg, err := app.LoadConfig(s.lookup)
	if err != nil {
		return err
	}
	return cfg.Print(s.stdout)
}

type versionCommand struct{}

func (versionCommand) Run(s *surroundings) error {
	version, revision, goVersion := "(unknown)", "(unknown)", "(unknown)"
	if info, ok := debug.ReadBuildInfo(); ok {
		version, goVersion = info.Main.Version, info.GoVersion
		for _, setting := range info.Settings {
			if setting.Key == "vcs.revision" {
				revision = setting.Value
			}
		}
	}
	_, err := fmt.Fprintf(s.stdout, "midden %s\nrevision %s\nschema %d\n%s\n", version, revision, app.SchemaVersion(), goVersion)
	return err
}
