package main

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5"
)

// asCommand makes this test program the command itself.
const asCommand = "WITHPG_TEST_COMMAND"

func TestMain(m *testing.M) {
	if os.Getenv(asCommand) != "" {
		os.Exit(run(os.Args[1:]))
	}
	os.Exit(m.Run())
}

func withpg(args ...string) *exec.Cmd {
	cmd := exec.Command(os.Args[0], args...)
	// A server of its own, also when these tests run under withpg themselves.
	cmd.Env = append(os.Environ(), asCommand+"=1", "MIDDEN_TEST_DATABASE_URL=", "MIDDEN_TEST_PG=")
	return cmd
}

func TestTheCommandSeesTheServerAndItsExitCodeComesBack(t *testing.T) {
	t.Parallel()
	out, err := withpg("sh", "-c", `printf %s "$MIDDEN_TEST_DATABASE_URL"; exit 3`).Output()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != 3 {
		t.Errorf("exit says %v, want 3", err)
	}
	dsn := string(out)
	if !strings.HasPrefix(dsn, "postgres://") {
		t.Fatalf("the command saw %q", dsn)
	}
	if conn, err := pgx.Connect(t.Context(), dsn); err == nil {
		t.Errorf("the server is still up after the command: %v", conn.Close(t.Context()))
	}
}

func TestASignalReachesTheCommand(t *testing.T) {
	t.Parallel()
	cmd := withpg("sh", "-c", `trap 'kill $!; exit 7' TERM; sleep 600 & echo "$MIDDEN_TEST_DATABASE_URL"; wait`)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	dsn, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), strings.TrimSpace(dsn))
	if err != nil {
		t.Fatal(err)
	}
	if err := conn.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	var exit *exec.ExitError
	if err := cmd.Wait(); !errors.As(err, &exit) || exit.ExitCode() != 7 {
		t.Errorf("exit says %v, want 7", err)
	}
}

func TestWithoutACommandItSaysHowToUseIt(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{nil, {"-keep"}} {
		out, err := withpg(args...).CombinedOutput()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != 2 || !strings.Contains(string(out), "usage") {
			t.Errorf("%v: %v, %q", args, err, out)
		}
	}
}

func TestACommandThatIsNotThereIs127(t *testing.T) {
	t.Parallel()
	err := withpg("no-such-command-anywhere").Run()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != 127 {
		t.Errorf("exit says %v, want 127", err)
	}
}
