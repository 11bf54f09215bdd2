package main

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/pgrun"
	"midden/internal/service"
	"midden/internal/store"
	"midden/migrations"
)

// bench is a database with gardens in it and Midden serving it.
type bench struct {
	appDSN  string
	pool    *pgxpool.Pool
	trace   *trace
	svc     *service.Service
	ids     *idMaker
	keys    auth.Keys
	parties auth.Parties
	server  *process
	gardens []place
}

// place is a garden to load: who acts and where. Every id carries the garden's
// number, so that a statement can be written for any of them.
type place struct{ garden, account, site, bin, section uuid.UUID }

// Kinds of id; the last 48 bits are the number.
const (
	kindGarden = iota + 0x9000
	kindAccount
	kindSite
	kindBin
	kindSection
	kindMember
	kindFresh
	kindLot
	kindMade // and the next ones: ids made while a use case is watched
)

const mostMade = 8

func numbered(kind int, n uint64) uuid.UUID {
	id := uuid.UUID{0x01, 0x90, 0, 0, 0, 0, 0x70}
	binary.BigEndian.PutUint16(id[8:], uint16(kind))
	var b [8]byte
	binary.BigEndian.PutUint64(b[:], n)
	copy(id[10:], b[2:])
	return id
}

// idMaker hands out what was queued, then ids of its own.
type idMaker struct {
	queued []uuid.UUID
	n      uint64
}

func (m *idMaker) next() uuid.UUID {
	if len(m.queued) > 0 {
		id := m.queued[0]
		m.queued = m.queued[1:]
		return id
	}
	m.n++
	return numbered(kindFresh, m.n)
}

const database = "midden_bench"

func open(ctx context.Context, program string, gardens int) (*bench, error) {
	super := os.Getenv("MIDDEN_TEST_DATABASE_URL")
	if super == "" {
		return nil, errors.New("MIDDEN_TEST_DATABASE_URL: must name a superuser on a Postgres to measure on; make bench starts one")
	}
	owner, app, err := prepare(ctx, super)
	if err != nil {
		return nil, err
	}
	if err := migrations.Up(ctx, owner); err != nil {
		return nil, err
	}
	b := &bench{appDSN: app, trace: &trace{}, ids: &idMaker{}}
	cfg, err := pgxpool.ParseConfig(app)
	if err != nil {
		return nil, err
	}
	cfg.ConnConfig.Tracer = b.trace
	cfg.ConnConfig.DefaultQueryExecMode = pgx.QueryExecModeCacheStatement
	if b.pool, err = pgxpool.NewWithConfig(ctx, cfg); err != nil {
		return nil, err
	}
	seed := auth.NewSeed()
	if b.keys, err = auth.ParseKeys(seed); err != nil {
		return nil, err
	}
	b.svc = service.New(service.Options{Store: store.New(b.pool, store.Options{}), Clock: time.Now, IDs: b.ids.next})
	for i := range gardens {
		if err := b.plant(ctx, uint64(i)); err != nil {
			return nil, fmt.Errorf("garden %d: %w", i, err)
		}
	}
	if err := b.season(ctx, owner); err != nil {
		return nil, err
	}
	b.server, err = startMidden(ctx, program, app, seed)
	if err != nil {
		return nil, err
	}
	b.parties = auth.Parties{Issuer: b.server.url, Audience: b.server.url}
	return b, nil
}

// lotsBefore is what each garden has taken in when the measuring begins.
const lotsBefore = 30

// season gives the tables content and has the server look at it: plans made on
// empty tables read them whole, and the throwaway server never looks by itself.
func (b *bench) season(ctx context.Context, owner string) error {
	for _, p := range b.gardens {
		for range lotsBefore {
			if _, err := b.svc.TakeIn(ctx, service.Actor{AccountID: p.account}, p.garden, lotOf(b.ids.next(), p.site), service.Once{}); err != nil {
				return err
			}
		}
	}
	conn, err := pgx.Connect(ctx, owner)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, `ANALYZE`)
	return errors.Join(err, conn.Close(ctx))
}

func (b *bench) close() {
	b.server.stop()
	b.pool.Close()
}

func prepare(ctx context.Context, super string) (owner, app string, err error) {
	if err := pgrun.Provision(ctx, super, pgrun.Passwords{}); err != nil {
		return "", "", err
	}
	conn, err := pgx.Connect(ctx, super)
	if err != nil {
		return "", "", err
	}
	_, err = conn.Exec(ctx, `DROP DATABASE IF EXISTS `+database)
	if err = errors.Join(err, conn.Close(ctx)); err != nil {
		return "", "", err
	}
	if err := pgrun.CreateDatabase(ctx, super, database); err != nil {
		return "", "", err
	}
	owner, err1 := pgrun.WithRole(super, pgrun.OwnerRole, "", database)
	app, err2 := pgrun.WithRole(super, pgrun.AppRole, "", database)
	return owner, app, errors.Join(err1, err2)
}

// plant founds one garden with a site and a bin that has half a year of records.
func (b *bench) plant(ctx context.Context, n uint64) error {
	p := place{numbered(kindGarden, n), numbered(kindAccount, n), numbered(kindSite, n), numbered(kindBin, n), numbered(kindSection, n)}
	b.ids.queued = append(b.ids.queued, p.account)
	if _, err := b.svc.NewAccount(ctx, fmt.Sprintf("coordinator%d@lowfield.example", n), "Maren Holt", "three damp sponges", true); err != nil {
		return err
	}
	a := service.Actor{AccountID: p.account}
	b.ids.queued = append(b.ids.queued, numbered(kindMember, n))
	_, err := b.svc.CreateGarden(ctx, a, service.GardenNew{ID: p.garden, Name: fmt.Sprintf("Garden %d", n), TimeZone: "Europe/Lisbon",
		Hemisphere: farm.North, Units: measure.Metric}, service.Once{})
	if err != nil {
		return err
	}
	if _, err := b.svc.CreateSite(ctx, a, p.garden, farm.Site{ID: p.site, Name: "Shed", Kind: farm.Shed}, service.Once{}); err != nil {
		return err
	}
	if err := b.plantBin(ctx, a, p); err != nil {
		return err
	}
	b.gardens = append(b.gardens, p)
	return nil
}

// process is a program under measurement.
type process struct {
	cmd *exec.Cmd
	url string
}

func (p *process) stop() {
	if p == nil {
		return
	}
	_ = p.cmd.Process.Signal(os.Interrupt)
	_ = p.cmd.Wait()
}

func freeAddress() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	return l.Addr().String(), l.Close()
}

func startMidden(ctx context.Context, program, dsn, seed string) (*process, error) {
	addr, err := freeAddress()
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, program, "serve")
	cmd.Env = append(os.Environ(), "MIDDEN_DATABASE_URL="+dsn, "MIDDEN_LISTEN="+addr, "MIDDEN_PUBLIC_URL=http://"+addr,
		"MIDDEN_SIGNING_KEYS="+seed, "MIDDEN_LOG_LEVEL=warn", fmt.Sprintf("MIDDEN_POOL_SIZE=%d", clients))
	return start(ctx, cmd, "http://"+addr, "/readyz")
}

// start runs a program and waits until it answers.
func start(ctx context.Context, cmd *exec.Cmd, url, probe string) (*process, error) {
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	p := &process{cmd, url}
	for range 300 {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, url+probe, nil)
		if err != nil {
			return nil, err
		}
		if res, err := http.DefaultClient.Do(req); err == nil {
			res.Body.Close()
			if res.StatusCode == http.StatusOK {
				return p, nil
			}
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.stop()
	return nil, fmt.Errorf("%s did not answer at %s", cmd.Path, url)
}
