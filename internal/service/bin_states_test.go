package service_test

import (
	"context"
	"fmt"
	"reflect"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/service"
	"midden/internal/store"
	"midden/internal/vermi"
)

// keptBin is a bin in use with its feeding section.
type keptBin struct {
	farm.Bin
	face uuid.UUID
}

func (p *plot) keptBin(name string) keptBin {
	p.t.Helper()
	made, err := p.svc.CreateBin(p.t.Context(), p.founder, p.garden, farm.Bin{Name: name, SiteID: p.site, Method: farm.Batch,
		Shape: farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 450}, Species: farm.Eisenia, Ventilation: farm.AirHoles,
		Status: farm.BinSetUp}, service.Once{})
	p.must(err)
	list, err := p.svc.Sections(p.t.Context(), p.founder, p.garden, made.Value.ID, service.Page{})
	p.must(err)
	return keptBin{made.Value, list.Items[0].ID}
}

// worms brings worms from outside, in grams, so many days ago.
func (p *plot) worms(b keptBin, grams string, daysAgo int) {
	p.t.Helper()
	_, err := p.svc.MoveWorms(p.t.Context(), p.founder, p.garden, service.WormMove{OccurredAt: p.clock().AddDate(0, 0, -daysAgo),
		From: farm.WormEnd{Outside: "Fenwick plot"}, To: farm.WormEnd{BinID: b.ID, SectionID: b.face}, Reason: farm.ForGift,
		Worms: farm.WormAmount{Method: farm.WormsWeighed, LiveMass: measure.Quantity{Value: grams, Unit: measure.Gram}}}, service.Once{})
	p.must(err)
}

// feeds gives apples, in kilograms, so many days ago, and gives the entry.
func (p *plot) feeds(b keptBin, kilos string, daysAgo int) uuid.UUID {
	p.t.Helper()
	fed, err := p.svc.Feed(p.t.Context(), p.founder, p.garden, service.FeedIn{OccurredAt: p.clock().AddDate(0, 0, -daysAgo), BinID: b.ID, SectionID: b.face,
		Unrecorded: []service.Unrecorded{{Material: "apples", Mass: kg(kilos)}}}, service.Once{})
	p.must(err)
	return fed.Value.EntryID
}

func (p *plot) checks(b keptBin, daysAgo int, c farm.Check) {
	p.t.Helper()
	c.BinID, c.OccurredAt = b.ID, p.clock().AddDate(0, 0, -daysAgo)
	if c.Kind == "" {
		c.Kind = farm.QuickCheck
	}
	_, err := p.svc.RecordCheck(p.t.Context(), p.founder, p.garden, c, service.Once{})
	p.must(err)
}

func (p *plot) state(b keptBin) vermi.State {
	p.t.Helper()
	s, err := p.svc.BinState(p.t.Context(), p.founder, p.garden, b.ID, measure.Day{})
	p.must(err)
	return s.State
}

func TestABinIsTheSameAloneAndAmongAllOthers(t *testing.T) {
	t.Parallel()
	p := setup(t)
	one, two := p.keptBin("One"), p.keptBin("Two")
	bed := 18.5
	p.worms(one, "2000", 60)
	p.worms(two, "900", 40)
	for i := range 8 {
		p.feeds(one, "1.5", 50-6*i)
		p.feeds(two, "0.6", 40-5*i)
		p.checks(one, 48-6*i, farm.Check{FoodLeft: farm.LeftLittle, BedC: &bed, SqueezeTop: 3, SqueezeBottom: 3, Smell: farm.SmellEarth})
	}
	depth := 210
	p.checks(two, 3, farm.Check{Kind: farm.FullCheck, Pests: []farm.Pest{farm.RatsOrMice},
		Sections: []farm.SectionLook{{SectionID: two.face, DepthMM: &depth, Worms: farm.SomeWorms}}})
	_, err := p.svc.RecordCare(t.Context(), p.founder, p.garden, farm.CareEvent{BinID: one.ID, Kind: farm.Watered,
		Water: measure.Quantity{Value: "2", Unit: measure.Litre}}, service.Once{})
	p.must(err)
	all, err := p.svc.BinsToday(t.Context(), p.founder, p.garden)
	p.must(err)
	if len(all) != 2 {
		t.Fatalf("%d bins", len(all))
	}
	for _, got := range all {
		if alone := p.state(keptBin{Bin: got.Bin}); !reflect.DeepEqual(alone, got.State) {
			t.Errorf("%s alone %+v\namong all %+v", got.Bin.Name, alone, got.State)
		}
	}
	if all[0].Bin.ID != two.ID || all[0].State.Needs[0].Code != "rats_mice" {
		t.Errorf("the bin with rats must come first; got %s with %+v", all[0].Bin.Name, all[0].State.Needs)
	}
	if s := all[1].State; !s.WormsRecorded || s.TempC != bed || s.TempFrom != vermi.TempMeasured || s.Appetite.Rate.ChecksFor == 0 {
		t.Errorf("the checks of One did not come in: %+v", s)
	}
	if s := all[0].State; !s.FillMeasured {
		t.Errorf("the depth of Two did not come in: %+v", s)
	}
}

func TestWhatWasUndoneIsNoPartOfABinsRecord(t *testing.T) {
	t.Parallel()
	p := setup(t)
	b := p.keptBin("One")
	p.worms(b, "2000", 20)
	before := p.state(b)
	fed := p.feeds(b, "3", 2)
	if s := p.state(b); s.Backlog.TotalG <= before.Backlog.TotalG {
		t.Fatalf("3 kg fed left %g g", s.Backlog.TotalG)
	}
	_, err := p.svc.ReverseEntry(t.Context(), p.founder, p.garden, fed, service.Undo{Reason: "The other bin."}, service.Once{})
	p.must(err)
	if s := p.state(b); !reflect.DeepEqual(s, before) {
		t.Errorf("after the reversal %+v\nbefore the feeding %+v", s, before)
	}
}

func TestWormsOfLongAgoAreTakenFromTheBooks(t *testing.T) {
	t.Parallel()
	p := setup(t)
	b := p.keptBin("One")
	p.worms(b, "1500", 700)
	p.feeds(b, "1", 690)
	records, err := p.svc.BinRecords(t.Context(), p.founder, p.garden)
	p.must(err)
	r := records[b.ID]
	if len(r.Transfers) != 1 || r.Transfers[0].Grams != 1500 || r.AsOf-r.Transfers[0].On < 399 || r.AsOf-r.Transfers[0].On > 402 {
		t.Errorf("the window opens with %+v", r.Transfers)
	}
	if len(r.Feedings) != 0 {
		t.Errorf("read %d feedings of two years ago", len(r.Feedings))
	}
	if s := p.state(b); !s.WormsRecorded || s.Worms.Mean <= 0 {
		t.Errorf("worms %+v", s.Worms)
	}
}

func TestAFoodRemovalMakesTheBacklogLess(t *testing.T) {
	t.Parallel()
	p := setup(t)
	b := p.keptBin("One")
	p.worms(b, "500", 20)
	p.feeds(b, "4", 1)
	before := p.state(b).Backlog.TotalG
	out := kg("3")
	_, err := p.svc.RecordCare(t.Context(), p.founder, p.garden, farm.CareEvent{BinID: b.ID, SectionID: b.face, Kind: farm.FoodRemoved,
		Material: "apples", To: farm.RemovedToLandfill, Entered: &out}, service.Once{})
	p.must(err)
	if after := p.state(b).Backlog.TotalG; !(after < before-2500) {
		t.Errorf("backlog %g g after 3 kg of %g g were taken out", after, before)
	}
	p.sound()
}

// sent counts round trips and the statements in them.
type sent struct{ trips, statements atomic.Int64 }

func (c *sent) TraceBatchStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceBatchStartData) context.Context {
	c.trips.Add(1)
	return ctx
}
func (c *sent) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {
	c.statements.Add(1)
}
func (c *sent) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData) {}
func (c *sent) TraceQueryStart(ctx context.Context, _ *pgx.Conn, _ pgx.TraceQueryStartData) context.Context {
	c.trips.Add(1)
	c.statements.Add(1)
	return ctx
}
func (c *sent) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func TestABinsStateIsOneRoundTripAndAllBinsAreNoMoreStatements(t *testing.T) {
	t.Parallel()
	p := setup(t)
	cfg, err := pgxpool.ParseConfig(p.db.AppDSN)
	p.must(err)
	c := &sent{}
	cfg.MaxConns, cfg.ConnConfig.Tracer = 1, c
	pool, err := pgxpool.NewWithConfig(t.Context(), cfg)
	p.must(err)
	t.Cleanup(pool.Close)
	svc := service.New(service.Options{Store: store.New(pool, store.Options{}), Clock: p.clock})
	one := p.keptBin("One")
	p.worms(one, "800", 5)
	measured := func(do func()) (trips, statements int64) {
		do() // the first run also prepares the statements
		t0, s0 := c.trips.Load(), c.statements.Load()
		do()
		return c.trips.Load() - t0, c.statements.Load() - s0
	}
	state := func() { _, err := svc.BinState(t.Context(), p.founder, p.garden, one.ID, measure.Day{}); p.must(err) }
	today := func() { _, err := svc.BinsToday(t.Context(), p.founder, p.garden); p.must(err) }
	if trips, n := measured(state); trips != 1 {
		t.Errorf("a state took %d round trips with %d statements", trips, n)
	}
	trips, few := measured(today)
	for i := range 4 {
		b := p.keptBin(fmt.Sprintf("Bin %d", i))
		p.worms(b, "300", 4)
		p.feeds(b, "0.5", 1)
	}
	more, many := measured(today)
	if trips != 1 || more != 1 || few != many {
		t.Errorf("one bin: %d trips, %d statements; five bins: %d trips, %d statements", trips, few, more, many)
	}
}

func TestAStateOfADayAheadIsRefused(t *testing.T) {
	t.Parallel()
	p := setup(t)
	b := p.keptBin("One")
	today := measure.DayIn(p.clock(), time.UTC)
	_, err := p.svc.BinState(t.Context(), p.founder, p.garden, b.ID, today.Add(1))
	wantCode(t, err, "day.future")
	p.worms(b, "800", 5)
	past, err := p.svc.BinState(t.Context(), p.founder, p.garden, b.ID, today.Add(-6))
	p.must(err)
	if past.State.WormsRecorded {
		t.Errorf("worms of the next day count: %+v", past.State.Worms)
	}
}

func BenchmarkBinsTodayOfTwentyBinsOverAYear(b *testing.B) {
	p := setup(b)
	bed := 18.0
	for i := range 20 {
		x := p.keptBin(fmt.Sprintf("Bin %d", i))
		p.worms(x, "1500", 365)
		for d := 360; d > 0; d -= 14 {
			p.feeds(x, "2", d)
			p.checks(x, d-5, farm.Check{FoodLeft: farm.LeftLittle, BedC: &bed, SqueezeTop: 3})
		}
	}
	for b.Loop() {
		if _, err := p.svc.BinsToday(b.Context(), p.founder, p.garden); err != nil {
			b.Fatal(err)
		}
	}
}

func TestAPlanGivesMoreToTheBinThatEatsMore(t *testing.T) {
	t.Parallel()
	p := setup(t)
	many, few := p.keptBin("Many"), p.keptBin("Few")
	p.worms(many, "3000", 30)
	p.worms(few, "150", 30)
	for _, b := range []keptBin{many, few} {
		_, err := p.svc.UpdateBin(t.Context(), p.founder, p.garden, b.ID, 1, func(x *farm.Bin) {
			x.Status, x.Keepers = farm.BinInUse, []uuid.UUID{p.member}
		})
		p.must(err)
	}
	p.takeIn(kg("40"))
	plan, err := p.svc.ComputePlan(t.Context(), p.founder, p.garden, farm.PlanRequest{Days: 14}, service.Once{})
	p.must(err)
	fed := map[uuid.UUID]measure.Grams{}
	for _, task := range plan.Value.Tasks {
		fed[task.BinID] += task.Mass
	}
	if fed[many.ID] <= 2*fed[few.ID] {
		t.Errorf("3 kg of worms get %d g, 150 g of worms get %d g", fed[many.ID], fed[few.ID])
	}
}
