package app

import (
	"bytes"
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/service"
)

// planted is a garden with one kept bin and 8 kg of apples, on noon of
// Monday 5 October 2026.
func planted(t *testing.T, db *pgtest.DB) (p *Program, garden uuid.UUID) {
	t.Helper()
	p = New(settingsOf(t, db), Options{Now: func() time.Time { return time.Date(2026, 10, 5, 12, 0, 0, 0, time.UTC) }})
	if err := p.Open(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	s, ctx := p.Service(), t.Context()
	account, err := s.NewAccount(ctx, "maren@lowfield.example", "Maren Holt", "three damp sponges", true)
	if err != nil {
		t.Fatal(err)
	}
	a := service.Actor{AccountID: account.ID}
	g, err := s.CreateGarden(ctx, a, service.GardenNew{Name: "Lowfield Terrace Garden", TimeZone: "Europe/Lisbon", Hemisphere: farm.North,
		Units: measure.Metric}, service.Once{})
	if err != nil {
		t.Fatal(err)
	}
	garden = g.Value.ID
	_, me, err := s.Garden(ctx, a, garden)
	if err != nil {
		t.Fatal(err)
	}
	shed, err := s.CreateSite(ctx, a, garden, farm.Site{Name: "Potting shed", Kind: farm.Shed}, service.Once{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.CreateBin(ctx, a, garden, farm.Bin{Name: "Bin 3", SiteID: shed.Value.ID, Method: farm.Wedge, Ventilation: farm.AirHoles,
		Shape:   farm.Shape{Kind: farm.Box, LengthMM: 1200, WidthMM: 600, DepthMM: 450},
		Species: farm.Eisenia, Status: farm.BinInUse, Keepers: []uuid.UUID{me.ID}}, service.Once{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.TakeIn(ctx, a, garden, service.Intake{Material: "apples", SiteID: shed.Value.ID, Status: farm.LotAccepted,
		Mass: farm.Entered{Method: farm.ByScale, Gross: measure.Quantity{Value: "8", Unit: measure.Kilogram}}}, service.Once{})
	if err != nil {
		t.Fatal(err)
	}
	return p, garden
}

func TestAnOperatorSeesAPlanByDayAndKeepsNothing(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	p, garden := planted(t, db)
	var out bytes.Buffer
	opt := Options{Now: p.now}
	if err := Plan(t.Context(), settingsOf(t, db), opt, &out, PlanRequest{Garden: garden, Days: 7, Expected: true}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Plan from 2026-10-05 for 7 days", "Monday 2026-10-05", "Potting shed", "Maren Holt", "apples", "Bin 3",
		"supply 8.000 kg", "gap 0.0000 %", "proven best", "No bedding is on the books"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	var plans int
	if err := db.Owner.QueryRow(context.WithoutCancel(t.Context()), `SELECT count(*) FROM midden.plans`).Scan(&plans); err != nil || plans != 0 {
		t.Errorf("%d plans are kept; %v", plans, err)
	}
	if err := Plan(t.Context(), settingsOf(t, db), opt, &out, PlanRequest{Garden: uuid.New(), Days: 7}); farm.CodeOf(err) != "garden.not_found" {
		t.Errorf("another garden: %v", err)
	}
	if err := Plan(t.Context(), settingsOf(t, db), opt, &out, PlanRequest{Garden: garden, Days: 7, From: "yesterday"}); err == nil {
		t.Error("a plan from a day that is none")
	}
}

// The JSON of a preview is what solve takes and what check agrees with.
func TestAPreviewCanBeSolvedAndCheckedAgain(t *testing.T) {
	t.Parallel()
	db := pgtest.New(t)
	p, garden := planted(t, db)
	var out, solved bytes.Buffer
	if err := Plan(t.Context(), settingsOf(t, db), Options{Now: p.now}, &out, PlanRequest{Garden: garden, Days: 7, JSON: true}); err != nil {
		t.Fatal(err)
	}
	var parts map[string]json.RawMessage
	if err := json.Unmarshal(out.Bytes(), &parts); err != nil {
		t.Fatal(err)
	}
	if err := SolvePlan(t.Context(), &solved, parts["problem"]); err != nil {
		t.Fatal(err)
	}
	for _, result := range [][]byte{parts["result"], solved.Bytes()} {
		var lines bytes.Buffer
		if faults, err := CheckPlan(&lines, parts["problem"], result); err != nil || faults != 0 {
			t.Errorf("%d faults, %v: %s", faults, err, lines.String())
		}
	}
}
