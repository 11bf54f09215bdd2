package main

import (
	"fmt"

	"midden/internal/app"
)

type accountCommand struct {
	Create accountCreateCommand `cmd:"" help:"Make an account and print its first password, once."`
}

type accountCreateCommand struct {
	Email    string `required:"" placeholder:"ADDRESS" help:"Email address to sign in with."`
	Name     string `help:"Name to show; the address up to the @ when left out."`
	Founder  bool   `help:"May found gardens."`
	Embedded bool   `help:"The private Postgres on this computer; Midden must not be running on it."`
}

func (c accountCreateCommand) Run(s *surroundings) error {
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	password, err := app.CreateAccount(s.ctx, cfg, o, app.NewAccount{Email: c.Email, Name: c.Name, Founder: c.Founder})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.stdout, "email     %s\npassword  %s\nThe password is shown this once. Change it after signing in.\n", c.Email, password)
	return err
}
