package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/labstack/echo/v4"

	"midden/internal/auth"
	"midden/internal/measure"
	"midden/internal/service"
)

// errand is what the bare handler does for each request.
type errand struct {
	Trips [][]string `json:"trips"`
	Body  []byte     `json:"body"`
}

// startBare watches what Midden sends to answer a bin's state once it is warm,
// and starts a process that sends the same and answers the same bytes, with no
// sign-in, no contract, no permission and no arithmetic.
func (b *bench) startBare(ctx context.Context) (*process, error) {
	p := b.gardens[0]
	ask := func() error {
		_, err := b.svc.BinState(ctx, service.Actor{AccountID: p.account}, p.garden, p.bin, measure.Day{})
		return err
	}
	if err := ask(); err != nil {
		return nil, err
	}
	trips, err := b.trace.watch(ask)
	if err != nil {
		return nil, err
	}
	e := errand{}
	conn, err := pgx.Connect(ctx, b.appDSN)
	if err != nil {
		return nil, err
	}
	defer conn.Close(ctx)
	w := &writer{conn: conn}
	for _, trip := range trips {
		var statements []string
		for _, s := range trip {
			text, err := w.statement(ctx, s)
			if err != nil {
				return nil, err
			}
			statements = append(statements, text)
		}
		e.Trips = append(e.Trips, statements)
	}
	if e.Body, err = b.stateBody(ctx, p); err != nil {
		return nil, err
	}
	return b.startBareProcess(ctx, e)
}

// stateBody is what Midden answers.
func (b *bench) stateBody(ctx context.Context, p place) ([]byte, error) {
	token, _, err := auth.NewSigner(b.keys, b.parties).Sign(time.Now(), p.account, uuid.New())
	if err != nil {
		return nil, err
	}
	l := &loader{url: b.server.url, tokens: []string{token}}
	req, err := l.state(ctx, 0)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Authorization", "Bearer "+token)
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode != http.StatusOK {
		err = fmt.Errorf("%s: %s", res.Status, body)
	}
	return body, err
}

func (b *bench) startBareProcess(ctx context.Context, e errand) (*process, error) {
	input, err := json.Marshal(e)
	if err != nil {
		return nil, err
	}
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	addr, err := freeAddress()
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, self, "bare", "-listen", addr, "-database", b.appDSN)
	cmd.Stdin = bytes.NewReader(input)
	return start(ctx, cmd, "http://"+addr, "/probe")
}

// bareCommand is the bare handler's process.
func bareCommand(ctx context.Context, args []string) error {
	flags := flag.NewFlagSet("bare", flag.ContinueOnError)
	listen := flags.String("listen", "", "address")
	dsn := flags.String("database", "", "address of the database")
	if err := flags.Parse(args); err != nil {
		return err
	}
	var e errand
	if err := json.NewDecoder(os.Stdin).Decode(&e); err != nil {
		return err
	}
	cfg, err := pgxpool.ParseConfig(*dsn)
	if err != nil {
		return err
	}
	cfg.MaxConns = clients
	pool, err := pgxpool.NewWithConfig(ctx, cfg)
	if err != nil {
		return err
	}
	defer pool.Close()
	h := echo.New()
	h.HideBanner, h.HidePort = true, true
	h.GET("/probe", func(c echo.Context) error { return c.NoContent(http.StatusOK) })
	h.GET("/v1/gardens/:garden/bins/:bin/state", func(c echo.Context) error {
		if err := e.run(c.Request().Context(), pool); err != nil {
			return err
		}
		return c.JSONBlob(http.StatusOK, e.Body)
	})
	server := &http.Server{Addr: *listen, Handler: h, ReadHeaderTimeout: time.Minute}
	context.AfterFunc(ctx, func() { _ = server.Close() })
	if err := server.ListenAndServe(); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}

// run sends the statements and reads every row as text.
func (e errand) run(ctx context.Context, pool *pgxpool.Pool) error {
	for _, trip := range e.Trips {
		batch := &pgx.Batch{}
		for _, s := range trip {
			batch.Queue(s).Query(func(rows pgx.Rows) error {
				for rows.Next() {
					rows.RawValues()
				}
				return rows.Err()
			})
		}
		if err := pool.SendBatch(ctx, batch).Close(); err != nil {
			return err
		}
	}
	return nil
}
