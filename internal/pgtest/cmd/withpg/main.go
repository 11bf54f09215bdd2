// Command withpg runs a command with one Postgres server for all the tests in it:
//
//	withpg [-keep] go test ./...
//
// It finds or starts the server as package pgtest does, sets MIDDEN_TEST_DATABASE_URL, hands on signals, stops the server
// when the command ends, and ends with the command's exit code. With -keep, a failed command leaves the server up until a signal comes, so that one can look
// into the databases of failed tests.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"syscall"

	"midden/internal/pgtest"
)

func main() { os.Exit(run(os.Args[1:])) }

func run(args []string) int {
	keep := len(args) > 0 && args[0] == "-keep"
	if keep {
		args = args[1:]
	}
	if len(args) == 0 {
		fmt.Fprintln(os.Stderr, "usage: withpg [-keep] COMMAND [ARGUMENT…]")
		return 2
	}
	// Caught from the start: a server must not be left behind because a signal came while it started.
	signals := make(chan os.Signal, 8)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM, syscall.SIGHUP, syscall.SIGQUIT)
	dsn, stop, err := pgtest.Serve(context.Background())
	if err != nil {
		fmt.Fprintln(os.Stderr, "withpg:", err)
		return 2
	}
	code := command(args, dsn, keep, signals)
	if keep && code != 0 {
		fmt.Fprintf(os.Stderr, "withpg: the server stays until Ctrl-C: psql %q\n", dsn)
		<-signals
	}
	if err := stop(); err != nil {
		fmt.Fprintln(os.Stderr, "withpg: stop the server:", err)
		return max(code, 1)
	}
	return code
}

func command(args []string, dsn string, keep bool, signals <-chan os.Signal) int {
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
	cmd.Env = append(os.Environ(), pgtest.EnvURL+"="+dsn, pgtest.EnvLeg+"=env")
	if !keep {
		cmd.Env = append(cmd.Env, pgtest.EnvKeep+"=no")
	}
	if err := cmd.Start(); err != nil {
		fmt.Fprintln(os.Stderr, "withpg:", err)
		return 127
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	for {
		select {
		case sig := <-signals:
			_ = cmd.Process.Signal(sig) // it may have just ended, which is what the signal asked for
		case err := <-done:
			return exitCode(err)
		}
	}
}

// exitCode is the command's own, or as shells have it 128 and the signal's number.
func exitCode(err error) int {
	if err == nil {
		return 0
	}
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		fmt.Fprintln(os.Stderr, "withpg:", err)
		return 1
	}
	if ws, ok := exit.Sys().(syscall.WaitStatus); ok && ws.Signaled() {
		return 128 + int(ws.Signal())
	}
	return exit.ExitCode()
}
