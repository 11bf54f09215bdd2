package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"midden/internal/auth"
	"midden/internal/config"
	"midden/internal/service"
	"midden/internal/store"
)

// Options are what is decided on the command line, and what tests replace.
type Options struct {
	Embedded bool             // run a private Postgres
	Migrate  bool             // bring the schema up before serving; always done when embedded
	Log      *slog.Logger     // nil: silence
	Now      func() time.Time // nil: the clock
}

// Program is the whole of Midden in one process. Open, then Serve, then Close;
// Run does all three.
type Program struct {
	cfg config.Config
	opt Options
	log *slog.Logger
	now func() time.Time

	db       *Database
	store    *store.Store
	service  *service.Service
	listener net.Listener
	server   *http.Server
	cutOff   context.CancelFunc // ends requests that outlive a stop
	stopping atomic.Bool

	// edge makes what answers requests; tests of starting and stopping replace it.
	edge func(auth.Keys) (http.Handler, error)
}

// New starts nothing.
func New(cfg config.Config, o Options) *Program {
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	p := &Program{cfg: cfg, opt: o, log: o.Log, now: o.Now}
	p.edge = p.wire
	return p
}

// Run serves until ctx ends and the requests under way are answered.
func (p *Program) Run(ctx context.Context) (err error) {
	if err := p.Open(ctx); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, p.Close()) }()
	return p.Serve(ctx)
}

// Open brings everything up to the point of answering. After an error nothing
// is left open.
func (p *Program) Open(ctx context.Context) (err error) {
	defer func() {
		if err != nil {
			err = errors.Join(err, p.Close())
		}
	}()
	if err := p.openDatabase(ctx); err != nil {
		return err
	}
	keys, err := p.keys()
	if err != nil {
		return err
	}
	// Every server with the same keys reads the cursors of the others.
	cursors, err := keys.Derive("list cursors")
	if err != nil {
		return err
	}
	if err := p.openStore(ctx, cursors); err != nil {
		return err
	}
	handler, err := p.edge(keys)
	if err != nil {
		return err
	}
	p.newServer(handler)
	if err := schemaReady(ctx, p.store.Pool()); err != nil {
		p.log.WarnContext(ctx, "not ready to serve", slog.Any("error", err))
	}
	var lc net.ListenConfig
	if p.listener, err = lc.Listen(ctx, "tcp", p.cfg.Listen); err != nil {
		return fmt.Errorf("MIDDEN_LISTEN: %w", err)
	}
	return nil
}

// openDatabase finds or starts the database, and migrates when asked to.
func (p *Program) openDatabase(ctx context.Context) (err error) {
	if p.cfg.DatabaseURL == "" && !p.opt.Embedded {
		return ErrNoDatabase
	}
	if p.db, err = OpenDatabase(ctx, p.cfg, p.opt.Embedded, p.log); err != nil {
		return err
	}
	if p.opt.Embedded || p.opt.Migrate {
		if err := p.db.MigrateUp(ctx); err != nil {
			return err
		}
	}
	return nil
}

func (p *Program) openStore(ctx context.Context, cursorKey []byte) (err error) {
	o := store.Options{MaxConns: int32(p.cfg.PoolSize), CursorKey: cursorKey}
	if p.store, err = store.Open(ctx, p.db.appDSN, o); err != nil {
		return fmt.Errorf("MIDDEN_DATABASE_URL: %w", err)
	}
	return nil
}

// keys come from the settings, or are made once beside an embedded database.
func (p *Program) keys() (auth.Keys, error) {
	switch {
	case p.cfg.SigningKeys != "":
		keys, err := auth.ParseKeys(p.cfg.SigningKeys.Reveal())
		if err != nil {
			return auth.Keys{}, fmt.Errorf("MIDDEN_SIGNING_KEYS: %w", err)
		}
		return keys, nil
	case p.db.dataDir != "":
		return auth.LoadOrMakeKeys(p.db.dataDir)
	}
	return auth.Keys{}, errors.New("MIDDEN_SIGNING_KEYS: must hold a key to sign access tokens with; `midden signing-key` makes one")
}

// Service is the use cases that the API calls, for who fills a garden before
// it is served; nil before Open.
func (p *Program) Service() *service.Service { return p.service }

// Addr is the address that is listened on; nil before Open.
func (p *Program) Addr() net.Addr {
	if p.listener == nil {
		return nil
	}
	return p.listener.Addr()
}

// ready is what /readyz asks.
func (p *Program) ready(ctx context.Context) error {
	if p.stopping.Load() {
		return errors.New("the program is stopping")
	}
	return schemaReady(ctx, p.store.Pool())
}

// Close frees what Open opened, last first. It may be called again.
func (p *Program) Close() error {
	var faults []error
	if p.listener != nil {
		if err := p.listener.Close(); !errors.Is(err, net.ErrClosed) {
			faults = append(faults, err)
		}
	}
	if p.cutOff != nil {
		p.cutOff()
	}
	if p.store != nil {
		p.store.Close()
		p.store = nil
	}
	if p.db != nil {
		faults = append(faults, p.db.Close())
		p.db = nil
	}
	return errors.Join(faults...)
}
