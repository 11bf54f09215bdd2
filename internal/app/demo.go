package app

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"

	"midden/internal/auth"
	"midden/internal/config"
	"midden/internal/demo"
	"midden/internal/pgrun"
	"midden/internal/service"
	"midden/internal/store"
)

// DemoRequest is how the invented garden is wanted.
type DemoRequest struct {
	Seed  uint64
	Weeks int
	Print bool // end after printing
}

// told stands in the data folder once the garden is told to its end.
const told = "demo-garden"

// Demo makes the invented garden on a private Postgres of its own, unless the
// folder holds it already, checks its ledger, prints it to out and serves it
// until ctx ends. It touches no database that the settings name.
func Demo(ctx context.Context, cfg Config, o Options, r DemoRequest, out, progress io.Writer) (err error) {
	if cfg, err = demoSettings(cfg); err != nil {
		return err
	}
	fresh, err := isEmpty(cfg.DataDir)
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(cfg.DataDir, told)); err != nil && !fresh {
		return fmt.Errorf("demo: %s holds something else than a demo garden that was loaded to its end; "+
			"set MIDDEN_DATA_DIR to another folder, or remove this one if a load into it was cut short", cfg.DataDir)
	}
	if r.Print { // nobody will call
		cfg.Listen = "127.0.0.1:0"
	}
	o.Embedded = true
	p := New(cfg, o)
	complete := false
	defer func() {
		err = errors.Join(err, p.Close())
		if fresh && !complete { // half a garden is no use to anybody
			err = errors.Join(err, os.RemoveAll(cfg.DataDir))
		}
	}()
	if err := p.Open(ctx); err != nil {
		return err
	}
	garden, logins, err := p.demoGarden(ctx, r, fresh, progress)
	if err != nil {
		return err
	}
	complete = true
	if err := p.showDemo(ctx, garden, out); err != nil {
		return err
	}
	if r.Print {
		return nil
	}
	if err := p.greet(out, garden, logins); err != nil {
		return err
	}
	return p.Serve(ctx)
}

// demoSettings put the demo into a folder of its own, beside the usual one.
func demoSettings(cfg config.Config) (config.Config, error) {
	cfg.DatabaseURL, cfg.MigrateURL = "", ""
	if cfg.DataDir == "" {
		usual, err := pgrun.DefaultDataDir()
		if err != nil {
			return cfg, err
		}
		cfg.DataDir = filepath.Join(filepath.Dir(usual), "midden-demo")
	}
	return cfg, nil
}

func isEmpty(dir string) (bool, error) {
	list, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return true, nil
	}
	return len(list) == 0, err
}

// demoGarden loads the garden, or finds it, and gives who can sign in.
func (p *Program) demoGarden(ctx context.Context, r DemoRequest, fresh bool, progress io.Writer) (service.Actor, []demo.Login, error) {
	if fresh {
		return p.loadDemo(ctx, r, progress)
	}
	if _, err := fmt.Fprintf(progress, "The demo garden is in %s already; it is not loaded again. Remove the folder for a fresh one.\n", p.db.dataDir); err != nil {
		return service.Actor{}, nil, err
	}
	logins := demo.Logins()
	var lead service.Actor
	for i := range logins {
		logins[i].Password = auth.GeneratePassword()
		account, err := p.service.ResetPassword(ctx, logins[i].Email, logins[i].Password)
		if err != nil {
			return lead, nil, err
		}
		if i == 0 {
			lead.AccountID = account.ID
		}
	}
	return lead, logins, nil
}

func (p *Program) loadDemo(ctx context.Context, r DemoRequest, progress io.Writer) (_ service.Actor, _ []demo.Login, err error) {
	// Nobody loses anything when the power fails meanwhile: the load begins again.
	dsn, err := url.Parse(p.db.appDSN)
	if err != nil {
		return service.Actor{}, nil, errors.New("demo: the private Postgres has no address")
	}
	q := dsn.Query()
	q.Set("synchronous_commit", "off")
	dsn.RawQuery = q.Encode()
	st, err := store.Open(ctx, dsn.String(), store.Options{MaxConns: 2})
	if err != nil {
		return service.Actor{}, nil, err
	}
	defer st.Close()
	growing, err := p.watchGrowth(ctx)
	if err != nil {
		return service.Actor{}, nil, err
	}
	defer func() { err = errors.Join(err, growing.conn.Close(context.WithoutCancel(ctx))) }()
	began := p.now()
	clock := &demo.Clock{}
	detailed := service.Options{Store: st, Clock: clock.Now, IDs: demo.IDs(r.Seed, clock), PlanSlots: 1}
	bulk := detailed
	bulk.Bulk = true
	done, err := demo.Load(ctx, demo.Options{
		Bulk:    service.New(bulk),
		Service: service.New(detailed),
		Clock:   clock, Now: began, Seed: r.Seed, Weeks: r.Weeks, Password: auth.GeneratePassword,
		Tell: func(x demo.Progress) {
			growing.reached(ctx, x.Percent)
			fmt.Fprintf(progress, "%3d %%  %s  %s\n", x.Percent, x.Day, x.What)
		},
	})
	if err != nil {
		return service.Actor{}, nil, err
	}
	if _, err := fmt.Fprintf(progress, "100 %%  %s  told: %d writes in %s\n", done.Last, done.Writes, p.now().Sub(began).Round(100*time.Millisecond)); err != nil {
		return service.Actor{}, nil, err
	}
	if err := os.WriteFile(filepath.Join(p.db.dataDir, told), fmt.Appendf(nil, "seed %d, %s to %s\n", r.Seed, done.First, done.Last), 0o600); err != nil {
		return service.Actor{}, nil, err
	}
	return done.Coordinator, done.Logins, nil
}

// growth has Postgres look at its tables again while they grow from nothing:
// what it plans for empty ones reads all rows of a garden for one of them, and
// its own look comes round only every minute.
type growth struct {
	conn *pgx.Conn
	done int // looks so far
}

// growthMarks are the percents of a load at which to look.
var growthMarks = [...]int{0, 1, 4, 9, 16, 30, 50, 75}

func (p *Program) watchGrowth(ctx context.Context) (*growth, error) {
	conn, err := pgx.Connect(ctx, p.db.ownerDSN)
	return &growth{conn: conn}, err
}

func (g *growth) reached(ctx context.Context, percent int) {
	if g.done == len(growthMarks) || percent < growthMarks[g.done] {
		return
	}
	g.done++
	// Without it the load is slower, and that is all.
	_, _ = g.conn.Exec(ctx, "ANALYZE")
}

// showDemo checks the ledger and prints the garden.
func (p *Program) showDemo(ctx context.Context, lead service.Actor, out io.Writer) error {
	faults, err := p.service.CheckLedger(ctx, lead, demo.GardenID)
	if err != nil {
		return err
	}
	if len(faults) > 0 {
		return fmt.Errorf("demo: the ledger check found %d faults; the first: %s", len(faults), faults[0])
	}
	if _, err := fmt.Fprintln(out, "Ledger check passed: every stock, roll-up and digest comes out of the entries again."); err != nil {
		return err
	}
	return demo.Show(ctx, out, p.service, lead, demo.GardenID)
}

// greet says where the garden is served and who may sign in.
func (p *Program) greet(out io.Writer, _ service.Actor, logins []demo.Login) error {
	text := fmt.Appendf(nil, "\nServing at http://%s\ngarden    %s\n", p.Addr(), demo.GardenID)
	for _, l := range logins {
		text = fmt.Appendf(text, "\n%s (%s)\nemail     %s\npassword  %s\n", l.Name, l.Role, l.Email, l.Password)
	}
	_, err := out.Write(append(text, "\nEverything here is invented. Ctrl-C stops.\n"...))
	return err
}
