package store

import (
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
)

var (
	_ = refuseOn("plans_one_published", "plan.taken", "", "another plan was published at the same moment; read the garden's plan again")
	_ = refuseOn("feedings_plan_task_fkey", "plan_task.not_found", "/plan_task_id", "plan_task_id: no plan of this garden has this task for this bin")
)

// PlanRecord is a plan with all that is kept of it but its tasks.
type PlanRecord struct {
	farm.Plan
	Bindings []farm.PlanBinding
	Notes    []string
}

// PlanWork is what a plan was worked out from and what came out, to the byte.
type PlanWork struct {
	Problem []byte
	Result  []byte
}

type planRow struct {
	ID           uuid.UUID  `db:"plan_id"`
	State        string     `db:"state"`
	From         date       `db:"from_day"`
	Days         int        `db:"days"`
	Nearest      int        `db:"nearest_bins"`
	Expected     bool       `db:"expected"`
	AsOf         date       `db:"as_of"`
	SHA          []byte     `db:"input_sha256"`
	Engine       string     `db:"engine"`
	Value        int64      `db:"value"`
	Bound        int64      `db:"bound"`
	GapPPM       int64      `db:"gap_ppm"`
	Controllable int64      `db:"controllable_gap_ppm"`
	Optimal      bool       `db:"optimal"`
	Stopped      string     `db:"stopped"`
	Pivots       int64      `db:"pivots"`
	Supply       int64      `db:"supply_g"`
	Fed          int64      `db:"fed_g"`
	Frozen       int64      `db:"frozen_g"`
	Overflow     int64      `db:"overflow_g"`
	Declined     int64      `db:"declined_g"`
	Bedding      int64      `db:"bedding_g"`
	Visits       int        `db:"visits"`
	ComputedAt   time.Time  `db:"computed_at"`
	ComputedBy   uuid.UUID  `db:"computed_by"`
	PublishedAt  *time.Time `db:"published_at"`
	PublishedBy  *uuid.UUID `db:"published_by"`
	Bindings     []byte     `db:"bindings"`
	Notes        []byte     `db:"notes"`
}

func (r planRow) plan() (PlanRecord, error) {
	out := PlanRecord{Plan: farm.Plan{
		ID: r.ID, State: farm.PlanState(r.State), AsOf: r.AsOf.Day,
		Request: farm.PlanRequest{From: r.From.Day, Days: r.Days, Nearest: r.Nearest, Expected: r.Expected},
		Totals: farm.PlanTotals{Supply: measure.Grams(r.Supply), Fed: measure.Grams(r.Fed), Frozen: measure.Grams(r.Frozen),
			Overflow: measure.Grams(r.Overflow), Declined: measure.Grams(r.Declined), Bedding: measure.Grams(r.Bedding), Visits: r.Visits},
		Proof: farm.PlanProof{Value: r.Value, Bound: r.Bound, GapPPM: r.GapPPM, ControllablePPM: r.Controllable,
			Optimal: r.Optimal, Stopped: r.Stopped, Pivots: r.Pivots, Engine: r.Engine},
		ComputedAt: r.ComputedAt.UTC(), ComputedBy: r.ComputedBy, PublishedAt: timeOf(r.PublishedAt), PublishedBy: idOf(r.PublishedBy),
	}}
	copy(out.Proof.InputSHA256[:], r.SHA)
	if err := json.Unmarshal(r.Bindings, &out.Bindings); err != nil {
		return out, err
	}
	return out, json.Unmarshal(r.Notes, &out.Notes)
}

const (
	planColumns = `p.plan_id, p.state, p.from_day, p.days, p.nearest_bins, p.expected, p.as_of, p.input_sha256, p.engine, p.value,
	       p.bound, p.gap_ppm, p.controllable_gap_ppm, p.optimal, p.stopped, p.pivots, p.supply_g, p.fed_g, p.frozen_g,
	       p.overflow_g, p.declined_g, p.bedding_g, p.visits, p.computed_at, p.computed_by, p.published_at, p.published_by`
	selectPlan = `SELECT ` + planColumns + `, p.bindings, p.notes FROM midden.plans p WHERE p.garden_id = midden.garden()`
)

// Plan asks for one plan.
func (b *Batch) Plan(id uuid.UUID) *Row[PlanRecord] {
	return fetchOne(b, planRow.plan, selectPlan+` AND p.plan_id = $1`, id)
}

// PublishedPlan asks for the garden's plan.
func (b *Batch) PublishedPlan() *Row[PlanRecord] {
	return fetchOne(b, planRow.plan, selectPlan+` AND p.state = 'published'`)
}

// LockPlan is Plan with every publication of the garden held back until the
// transaction ends.
func (tx *Tx) LockPlan(id uuid.UUID) *Row[PlanRecord] {
	tx.queue(`SELECT 1 FROM midden.gardens WHERE garden_id = midden.garden() FOR NO KEY UPDATE`)
	return tx.Plan(id)
}

type planWorkRow struct {
	Problem []byte `db:"problem"`
	Result  []byte `db:"result"`
}

// PlanWork asks for the problem and the result of a plan.
func (b *Batch) PlanWork(id uuid.UUID) *Row[PlanWork] {
	return fetchOne(b, func(r planWorkRow) (PlanWork, error) { return PlanWork(r), nil },
		`SELECT problem, result FROM midden.plans WHERE garden_id = midden.garden() AND plan_id = $1`, id)
}

// Plans asks for plans in short, the latest first; an empty state is any.
func (b *Batch) Plans(state farm.PlanState, p Page) *Paged[PlanRecord] {
	return paged(b, "plans", state, p, func(at []string, limit int) *Rows[PlanRecord] {
		return fetchAll(b, planRow.plan, `SELECT `+planColumns+`, '[]'::jsonb AS bindings, '[]'::jsonb AS notes FROM midden.plans p
			WHERE p.garden_id = midden.garden() AND ($1::text IS NULL OR p.state = $1)
			  AND ($2::timestamptz IS NULL OR (p.computed_at, p.plan_id) < ($2, $3::uuid))
			ORDER BY p.computed_at DESC, p.plan_id DESC LIMIT $4`,
			orNull(string(state)), timeKey(at, 0), keyAt(at, 1), limit)
	}, func(x PlanRecord) []string { return []string{x.ComputedAt.Format(time.RFC3339Nano), x.ID.String()} })
}

type planTaskRow struct {
	ID       uuid.UUID   `db:"task_id"`
	Kind     string      `db:"kind"`
	Day      date        `db:"day"`
	Lot      *uuid.UUID  `db:"lot_id"`
	Pledge   *uuid.UUID  `db:"pledge_id"`
	Expected string      `db:"expected"`
	Material string      `db:"material"`
	Bin      *uuid.UUID  `db:"bin_id"`
	Section  *uuid.UUID  `db:"section_id"`
	Site     *uuid.UUID  `db:"site_id"`
	Mass     int64       `db:"mass_g"`
	Bedding  int64       `db:"bedding_g"`
	Batch    *uuid.UUID  `db:"bedding_batch_id"`
	Keepers  []uuid.UUID `db:"keeper_ids"`
	Why      string      `db:"why"`
	DoneBy   *uuid.UUID  `db:"done_by"`
}

func (r planTaskRow) task() (farm.PlanTask, error) {
	return farm.PlanTask{ID: r.ID, Kind: farm.TaskKind(r.Kind), Day: r.Day.Day, LotID: idOf(r.Lot), PledgeID: idOf(r.Pledge),
		Expected: r.Expected, Material: r.Material, BinID: idOf(r.Bin), SectionID: idOf(r.Section), SiteID: idOf(r.Site),
		Mass: measure.Grams(r.Mass), Bedding: measure.Grams(r.Bedding), BatchID: idOf(r.Batch), KeeperIDs: r.Keepers,
		Why: r.Why, DoneBy: idOf(r.DoneBy)}, nil
}

const selectPlanTask = `
	SELECT t.task_id, t.kind, t.day, t.lot_id, t.pledge_id, t.expected, t.material, t.bin_id, t.section_id, t.site_id,
	       t.mass_g, t.bedding_g, t.bedding_batch_id, t.keeper_ids, t.why,
	       (SELECT f.feeding_id FROM midden.feedings f
	         WHERE f.garden_id = midden.garden() AND f.plan_task_id = t.task_id
	           AND NOT EXISTS (SELECT FROM midden.entries r WHERE r.garden_id = midden.garden() AND r.reverses = f.entry_id)
	         ORDER BY f.fed_at DESC, f.feeding_id DESC LIMIT 1) AS done_by
	  FROM midden.plan_tasks t`

// PlanTasks asks for the tasks of a plan, in its order.
func (b *Batch) PlanTasks(plan uuid.UUID) *Rows[farm.PlanTask] {
	return fetchAll(b, planTaskRow.task, selectPlanTask+` WHERE t.garden_id = midden.garden() AND t.plan_id = $1 ORDER BY t.position`, plan)
}

// PublishedTasks asks for the tasks of the garden's plan, in its order.
func (b *Batch) PublishedTasks() *Rows[farm.PlanTask] {
	return fetchAll(b, planTaskRow.task, selectPlanTask+`
		JOIN midden.plans p ON p.garden_id = t.garden_id AND p.plan_id = t.plan_id
		WHERE t.garden_id = midden.garden() AND p.garden_id = midden.garden() AND p.state = 'published' ORDER BY t.position`)
}

// InsertPlan writes a new plan with its tasks.
func (tx *Tx) InsertPlan(p PlanRecord, w PlanWork, tasks []farm.PlanTask) error {
	bindings, err := json.Marshal(p.Bindings)
	if err != nil {
		return err
	}
	notes, err := json.Marshal(p.Notes)
	if err != nil {
		return err
	}
	x, t := p.Proof, p.Totals
	tx.queue(`
		INSERT INTO midden.plans (garden_id, plan_id, state, from_day, days, nearest_bins, expected, as_of, problem, input_sha256,
		       engine, result, value, bound, gap_ppm, controllable_gap_ppm, optimal, stopped, pivots, supply_g, fed_g, frozen_g,
		       overflow_g, declined_g, bedding_g, visits, bindings, notes, computed_at, computed_by)
		VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21,
		       $22, $23, $24, $25, $26, $27, $28, $29)`,
		p.ID, string(p.State), dayArg(p.Request.From), p.Request.Days, p.Request.Nearest, p.Request.Expected, dayArg(p.AsOf),
		w.Problem, x.InputSHA256[:], x.Engine, w.Result, x.Value, x.Bound, x.GapPPM, x.ControllablePPM, x.Optimal, x.Stopped,
		x.Pivots, int64(t.Supply), int64(t.Fed), int64(t.Frozen), int64(t.Overflow), int64(t.Declined), int64(t.Bedding),
		t.Visits, bindings, notes, p.ComputedAt, p.ComputedBy)
	for i, task := range tasks {
		keepers := task.KeeperIDs
		if keepers == nil {
			keepers = []uuid.UUID{}
		}
		tx.queue(`
			INSERT INTO midden.plan_tasks (garden_id, task_id, plan_id, position, kind, day, lot_id, pledge_id, expected, material,
			       bin_id, section_id, site_id, mass_g, bedding_g, bedding_batch_id, keeper_ids, why)
			VALUES (midden.garden(), $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)`,
			task.ID, p.ID, i, string(task.Kind), dayArg(task.Day), idOrNull(task.LotID), idOrNull(task.PledgeID), task.Expected,
			task.Material, idOrNull(task.BinID), idOrNull(task.SectionID), idOrNull(task.SiteID), int64(task.Mass),
			int64(task.Bedding), idOrNull(task.BatchID), keepers, task.Why)
	}
	return nil
}

// PublishPlan makes a plan the garden's; the one before it is replaced. The
// plan must have been locked.
func (tx *Tx) PublishPlan(id, by uuid.UUID, at time.Time) {
	tx.queue(`UPDATE midden.plans SET state = 'replaced' WHERE garden_id = midden.garden() AND state = 'published'`)
	tx.queue(`UPDATE midden.plans SET state = 'published', published_at = $2, published_by = $3
		WHERE garden_id = midden.garden() AND plan_id = $1`, id, at, by)
}
