// Command midden is the whole program: it serves the API, and looks after the
// database behind it. One file a subcommand; what they do is in package app.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"

	"midden/internal/app"
)

// Exit codes. A failure of ours and a finding of `check` are both 1; a command
// that was not understood is 2.
const (
	exitOK      = 0
	exitFailure = 1
	exitUsage   = 2
)

// commands is the command line, in the order that help shows.
type commands struct {
	Serve      serveCommand      `cmd:"" help:"Serve the API until interrupted."`
	Migrate    migrateCommand    `cmd:"" help:"Bring the database's schema up or down, or tell its version."`
	Account    accountCommand    `cmd:"" help:"Make accounts."`
	Demo       demoCommand       `cmd:"" help:"Make and show an invented garden, and serve it."`
	Check      checkCommand      `cmd:"" help:"Recompute every balance from the entries and report what differs."`
	Plan       planCommand       `cmd:"" help:"Work out a plan for the bins, or solve and check planning problems."`
	Import     importCommand     `cmd:"" help:"Take in a log of scraps received, all of it or nothing."`
	Openapi    openapiCommand    `cmd:"" help:"Print the contract of the API."`
	SigningKey signingKeyCommand `cmd:"" help:"Print a new key for MIDDEN_SIGNING_KEYS."`
	Config     configCommand     `cmd:"" help:"Print every setting, without its secrets."`
	Version    versionCommand    `cmd:"" help:"Print what this program was built from."`
}

// surroundings are what a command may touch.
type surroundings struct {
	ctx    context.Context
	stdout io.Writer
	stderr io.Writer
	lookup func(string) (string, bool) // the environment
}

// open reads what every command that works on a database needs.
func (s *surroundings) open(embedded bool) (cfg app.Config, o app.Options, err error) {
	if cfg, err = app.LoadConfig(s.lookup); err != nil {
		return cfg, app.Options{}, err
	}
	return cfg, app.Options{Embedded: embedded, Log: app.NewLogger(cfg, s.stderr)}, nil
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	// A second signal ends the program at once.
	context.AfterFunc(ctx, stop)
	s := &surroundings{ctx: ctx, stdout: os.Stdout, stderr: os.Stderr, lookup: os.LookupEnv}
	os.Exit(run(s, os.Args[1:]))
}

// errFindings ends a command that worked and found something amiss, which it
// has printed itself.
var errFindings = errors.New("findings")

// usageError is a mistake in an argument that the parser can't see.
type usageError struct{ message string }

func (e usageError) Error() string { return e.message }

type helpShown struct{}

func run(s *surroundings, args []string) (code int) {
	defer func() {
		switch r := recover().(type) {
		case nil:
		case helpShown:
			code = exitOK
		default:
			panic(r)
		}
	}()
	var c commands
	parser, err := kong.New(&c, kong.Name("midden"), kong.Writers(s.stdout, s.stderr),
		kong.Description("Midden keeps the worm bins of a community garden. Settings come from the environment: see midden config."),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		// Help is printed in the middle of parsing; there is nothing to go on with.
		kong.Exit(func(int) { panic(helpShown{}) }))
	if err != nil {
		fmt.Fprintln(s.stderr, "midden:", err)
		return exitFailure
	}
	chosen, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(s.stderr, "midden: %v; see midden --help\n", err)
		return exitUsage
	}
	var usage usageError
	switch err := chosen.Run(s, &c); {
	case err == nil:
		return exitOK
	case errors.As(err, &usage):
		fmt.Fprintln(s.stderr, "midden:", err)
		return exitUsage
	case errors.Is(err, errFindings):
		return exitFailure
	default:
		fmt.Fprintln(s.stderr, "midden:", err)
		return exitFailure
	}
}
