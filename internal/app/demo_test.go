package app

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestTheDemoIsLoadedOnceAndThenServed(t *testing.T) {
	t.Parallel()
	dir := dataFolder(t)
	demo := func(ctx context.Context, r DemoRequest) (out, progress string, err error) {
		var o, p bytes.Buffer
		err = Demo(ctx, settings(t, map[string]string{"MIDDEN_DATA_DIR": dir}), Options{}, r, &o, &p)
		return o.String(), p.String(), err
	}
	out, progress, err := demo(t.Context(), DemoRequest{Seed: 1, Weeks: 4, Print: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Ledger check passed", "the bins today", "The plan from", "The last seasons"} {
		if !strings.Contains(out, want) {
			t.Errorf("it does not print %q", want)
		}
	}
	if strings.Contains(out, "password") || !strings.Contains(progress, "100 %") {
		t.Errorf("printed only, it shows sign-in details, or no end of the load:\n%s", progress)
	}

	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var o untilServing
	var p bytes.Buffer
	o.stop = stop
	err = Demo(ctx, settings(t, map[string]string{"MIDDEN_DATA_DIR": dir}), Options{}, DemoRequest{Seed: 2, Weeks: 4}, &o, &p)
	if err != nil && ctx.Err() == nil {
		t.Fatal(err)
	}
	out, progress = o.String(), p.String()
	if !strings.Contains(progress, "not loaded again") {
		t.Errorf("the second start says %q", progress)
	}
	if strings.Count(out, "password") != 3 || !strings.Contains(out, "Serving at http://127.0.0.1:") {
		t.Errorf("the second start shows no three people to sign in as:\n%s", out)
	}
}

// untilServing stops the demo once it has told where it serves.
type untilServing struct {
	bytes.Buffer
	stop context.CancelFunc
}

func (w *untilServing) Write(b []byte) (int, error) {
	n, err := w.Buffer.Write(b)
	if strings.Contains(w.String(), "Serving at") {
		w.stop()
	}
	return n, err
}

func TestTheDemoKeepsOutOfAFolderThatHoldsARealGarden(t *testing.T) {
	t.Parallel()
	dir := dataFolder(t)
	cfg := settings(t, map[string]string{"MIDDEN_DATA_DIR": dir})
	if err := WithDatabase(t.Context(), cfg, Options{Embedded: true}, func(d *Database) error { return d.MigrateUp(t.Context()) }); err != nil {
		t.Fatal(err)
	}
	if _, err := CreateAccount(t.Context(), cfg, Options{Embedded: true}, NewAccount{Email: "ada@example.org", Founder: true}); err != nil {
		t.Fatal(err)
	}
	var out, progress bytes.Buffer
	err := Demo(t.Context(), cfg, Options{}, DemoRequest{Weeks: 4, Print: true}, &out, &progress)
	if err == nil || !strings.Contains(err.Error(), "MIDDEN_DATA_DIR") {
		t.Fatalf("got %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, told)); err == nil {
		t.Error("the folder was taken for the demo's")
	}
}

func TestALoadThatIsBrokenOffLeavesNothing(t *testing.T) {
	t.Parallel()
	dir := dataFolder(t)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out bytes.Buffer
	err := Demo(ctx, settings(t, map[string]string{"MIDDEN_DATA_DIR": dir}), Options{}, DemoRequest{Weeks: 40, Print: true}, &out, breaker(stop))
	if err == nil {
		t.Fatal("a load that was broken off came to its end")
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder is still there: %v", err)
	}
}

// breaker stops at the first word of progress.
type breaker func()

func (b breaker) Write(p []byte) (int, error) { b(); return len(p), nil }
