package main

import (
	"os"

	"github.com/google/uuid"

	"midden/internal/app"
)

type planCommand struct {
	Preview planPreviewCommand `cmd:"" default:"withargs" help:"Work out a plan from a garden's records and print it; nothing is kept."`
	Solve   planSolveCommand   `cmd:"" help:"Solve a planning problem from a file and print the result. Needs no database."`
	Check   planCheckCommand   `cmd:"" help:"Add a plan up again against its problem. Needs no database."`
}

type planPreviewCommand struct {
	Garden      string `required:"" placeholder:"ID" help:"The garden's id."`
	Days        int    `default:"14" help:"Days to plan, 1 to 60."`
	From        string `placeholder:"DAY" help:"First day, YYYY-MM-DD; the garden's today when left out."`
	NearestBins int    `help:"Bins that a lot considers; as many as is sensible when left out."`
	NoExpected  bool   `help:"Leave out scraps that nobody pledged."`
	JSON        bool   `name:"json" help:"Print the problem and the result as JSON."`
	Embedded    bool   `help:"The private Postgres on this computer; Midden must not be running on it."`
}

func (c planPreviewCommand) Run(s *surroundings) error {
	garden, err := uuid.Parse(c.Garden)
	if err != nil {
		return usageError{"--garden: must be a garden's id, such as 0198c0de-0000-7000-8000-000000000002"}
	}
	cfg, o, err := s.open(c.Embedded)
	if err != nil {
		return err
	}
	return app.Plan(s.ctx, cfg, o, s.stdout, app.PlanRequest{Garden: garden, From: c.From, Days: c.Days, Nearest: c.NearestBins,
		Expected: !c.NoExpected, JSON: c.JSON})
}

type planSolveCommand struct {
	Problem string `arg:"" type:"existingfile" help:"A planning problem as JSON; docs/planner.md says what each field means."`
}

func (c planSolveCommand) Run(s *surroundings) error {
	problem, err := os.ReadFile(c.Problem)
	if err != nil {
		return err
	}
	return app.SolvePlan(s.ctx, s.stdout, problem)
}

type planCheckCommand struct {
	Problem string `arg:"" type:"existingfile" help:"A planning problem as JSON."`
	Result  string `arg:"" type:"existingfile" help:"The result of solving it, as JSON."`
}

// Run ends with 1 when there is any fault.
func (c planCheckCommand) Run(s *surroundings) error {
	problem, err := os.ReadFile(c.Problem)
	if err != nil {
		return err
	}
	result, err := os.ReadFile(c.Result)
	if err != nil {
		return err
	}
	faults, err := app.CheckPlan(s.stdout, problem, result)
	if err == nil && faults > 0 {
		return errFindings
	}
	return err
}
