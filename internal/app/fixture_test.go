package app

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"midden/internal/auth"
	"midden/internal/config"
	"midden/internal/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m) }

// settings are those of an empty environment, but for what is given.
func settings(t *testing.T, env map[string]string) config.Config {
	t.Helper()
	given := map[string]string{"MIDDEN_LISTEN": "127.0.0.1:0", "MIDDEN_POOL_SIZE": "2", "MIDDEN_SIGNING_KEYS": auth.NewSeed()}
	for k, v := range env {
		given[k] = v
	}
	cfg, err := config.Load(func(name string) (string, bool) { v, ok := given[name]; return v, ok })
	if err != nil {
		t.Fatal(err)
	}
	return cfg
}

func settingsOf(t *testing.T, db *pgtest.DB) config.Config {
	t.Helper()
	return settings(t, map[string]string{"MIDDEN_DATABASE_URL": db.AppDSN, "MIDDEN_MIGRATE_URL": db.OwnerDSN})
}

// running is a program that serves until it is stopped.
type running struct {
	*Program
	url   string
	stop  context.CancelFunc
	ended chan error
}

// boot opens and serves; the program is stopped and closed when the test ends.
func boot(t *testing.T, p *Program) *running {
	t.Helper()
	if err := p.Open(t.Context()); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	r := &running{Program: p, url: "http://" + p.Addr().String(), stop: stop, ended: make(chan error, 1)}
	done := make(chan struct{})
	go func() { defer close(done); r.ended <- p.Serve(ctx) }()
	t.Cleanup(func() {
		stop()
		<-done
		if err := p.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return r
}

// status asks for a path over a connection of its own.
func (r *running) status(t *testing.T, path string) (int, error) {
	t.Helper()
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 20 * time.Second}
	resp, err := client.Get(r.url + path)
	if err != nil {
		return 0, err
	}
	return resp.StatusCode, resp.Body.Close()
}

// answering makes every request be handled by h.
func answering(p *Program, h http.HandlerFunc) *Program {
	p.edge = func(auth.Keys) (http.Handler, error) { return h, nil }
	return p
}

// dataFolder is not t.TempDir: that one is closed to the account which runs
// the private Postgres for root.
func dataFolder(t *testing.T) string {
	t.Helper()
	base := "/dev/shm"
	if _, err := os.Stat(base); err != nil {
		base = ""
	}
	dir, err := os.MkdirTemp(base, "midden-app-")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o711); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return filepath.Join(dir, "data")
}
