package pgtest

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/testcontainers/testcontainers-go"
	"github.com/testcontainers/testcontainers-go/log"
)

const (
	image      = "postgres:17-alpine"
	dockerWait = 2 * time.Minute
)

// fromDocker starts a container on whichever engine the library finds.
func fromDocker(ctx context.Context) (*server, error) {
	return guarded(func() (*server, error) { return container(ctx) })
}

// guarded turns a panic into an error: the library panics in places where no Docker is to be found, and a machine without
// Docker must get the message that says what to install.
func guarded(start func() (*server, error)) (s *server, err error) {
	defer func() {
		if r := recover(); r != nil {
			s, err = nil, fmt.Errorf("docker: %v", r)
		}
	}()
	return start()
}

func container(ctx context.Context) (*server, error) {
	ctx, cancel := context.WithTimeout(ctx, dockerWait)
	defer cancel()
	log.SetDefault(log.NewNoopLogger()) // its errors come back as errors
	c, err := testcontainers.Run(ctx, image,
		testcontainers.WithEnv(map[string]string{"POSTGRES_PASSWORD": rolePassword}),
		testcontainers.WithExposedPorts("5432/tcp"),
		testcontainers.WithTmpfs(map[string]string{"/var/lib/postgresql/data": "rw"}),
		testcontainers.WithCmd("postgres", "-c", "fsync=off", "-c", "synchronous_commit=off", "-c", "full_page_writes=off",
			"-c", "autovacuum=off", "-c", "max_connections=300", "-c", "max_wal_size=4GB", "-c", "checkpoint_timeout=1h"),
	)
	stop := func() error { return testcontainers.TerminateContainer(c) }
	if err != nil {
		return nil, errors.Join(fmt.Errorf("start %s: %w", image, err), stop())
	}
	host, err := c.Host(ctx)
	if err != nil {
		return nil, errors.Join(err, stop())
	}
	port, err := c.MappedPort(ctx, "5432/tcp")
	if err != nil {
		return nil, errors.Join(err, stop())
	}
	dsn := url.URL{Scheme: "postgres", User: url.UserPassword("postgres", rolePassword),
		Host: net.JoinHostPort(host, fmt.Sprint(port.Num())), Path: "/postgres", RawQuery: "sslmode=disable"}
	if err := answers(ctx, dsn.String()); err != nil {
		return nil, errors.Join(fmt.Errorf("%s does not answer: %w", image, err), stop())
	}
	return &server{superDSN: dsn.String(), stop: stop}, nil
}

// answers waits until the server takes connections. The image's own first start listens on a socket only, so an answer
// over the network is the real server's.
func answers(ctx context.Context, dsn string) error {
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for {
		conn, err := pgx.Connect(ctx, dsn)
		if err == nil {
			return conn.Close(ctx)
		}
		select {
		case <-ctx.Done():
			return errors.Join(ctx.Err(), err)
		case <-tick.C:
		}
	}
}
