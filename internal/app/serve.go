package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

const (
	headerTimeout = 5 * time.Second
	idleTimeout   = 2 * time.Minute
	headerBytes   = 32 << 10
	// answerTimeout is beyond the limit of a request, so that the handler's own refusal is what a person sees.
	answerTimeout = 15 * time.Second
)

// newServer bounds every phase of a connection: a client that trickles or
// never reads must not hold one forever.
func (p *Program) newServer(h http.Handler) {
	base, cancel := context.WithCancel(context.Background())
	p.cutOff = cancel
	p.server = &http.Server{
		Handler:           h,
		ReadHeaderTimeout: headerTimeout,
		ReadTimeout:       headerTimeout + p.cfg.RequestTimeout,
		WriteTimeout:      headerTimeout + p.cfg.RequestTimeout + answerTimeout,
		IdleTimeout:       idleTimeout,
		MaxHeaderBytes:    headerBytes,
		ErrorLog:          slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
		BaseContext:       func(net.Listener) context.Context { return base },
	}
}

// Serve answers until ctx ends, then takes no more connections and waits for
// the requests under way, at most MIDDEN_SHUTDOWN_TIMEOUT. It returns an error
// when some had to be cut off, or when it ended without being asked to.
func (p *Program) Serve(ctx context.Context) error {
	ended := make(chan error, 1)
	go func() { ended <- p.server.Serve(p.listener) }()
	p.log.InfoContext(ctx, "serving", slog.String("address", p.Addr().String()), slog.String("public_url", p.cfg.PublicURL),
		slog.Bool("embedded", p.db.private != nil))
	select {
	case err := <-ended:
		return fmt.Errorf("serve: %w", err)
	case <-p.db.lost():
		return errors.Join(errors.New("the private Postgres ended by itself; its log is in the data folder"), p.drain(ctx))
	case <-ctx.Done():
		return p.drain(ctx)
	}
}

func (p *Program) drain(ctx context.Context) error {
	p.stopping.Store(true)
	p.log.InfoContext(ctx, "stopping", slog.Duration("at_most", p.cfg.ShutdownTimeout))
	limit, cancel := context.WithTimeout(context.WithoutCancel(ctx), p.cfg.ShutdownTimeout)
	defer cancel()
	err := p.server.Shutdown(limit)
	if errors.Is(err, context.DeadlineExceeded) {
		p.cutOff()
		return errors.Join(fmt.Errorf("stop: requests under way after %s were cut off", p.cfg.ShutdownTimeout), p.server.Close())
	}
	p.log.InfoContext(ctx, "stopped")
	return err
}
