package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// One lot of 10 kg and one bin with room for 4 kg today and 3 kg tomorrow: at
// 10 a gram for food left and 1 a gram for a crowded bin's last fifth, the
// least cost is 3,000 g × 10 + 1,400 g × 1.
const twoDays = `{"days": 2, "unit_g": 1, "nearest_bins": 0, "thaw_days": 1, "first_thaw_day": 1,
 "prices": {"overflow_cost_per_unit": 10, "decline_cost_per_unit": 9, "still_frozen_cost_per_unit": 5, "freeze_cost_per_unit": 0,
  "hold_cost_per_unit_night": 1, "thaw_cost_per_unit": 1, "carry_cost_per_unit_km": 0, "stand_in_cost_per_unit": 1},
 "load_steps": [{"up_to_pct": 80, "cost_per_unit": 0}, {"up_to_pct": 100, "cost_per_unit": 1}],
 "groups": [{"id": "plain", "max_pct_of_room": 100}],
 "sites": [{"id": "shed", "place": {"x_m": 0, "y_m": 0}, "bedding_ready_units": [20000]}],
 "bins": [{"id": "one", "site": "shed", "room_units": [4000, 3000], "weekly_max_units": [7000]}],
 "lots": [{"id": "apples", "site": "shed", "group": "plain", "kind": "on_hand", "mass_units": 10000, "arrive_day": 0, "latest_day": 1}]}`

func written(t *testing.T, name, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAPlanningProblemIsSolvedAndCheckedFromFiles(t *testing.T) {
	t.Parallel()
	problem := written(t, "problem.json", twoDays)
	solved := midden(t, nil, "plan", "solve", problem)
	if solved.code != exitOK || !strings.Contains(solved.stdout, `"value": 31400`) || !strings.Contains(solved.stdout, `"lower_bound": 31400`) {
		t.Fatalf("%+v", solved)
	}
	checked := midden(t, nil, "plan", "check", problem, written(t, "result.json", solved.stdout))
	if checked.code != exitOK || !strings.Contains(checked.stdout, "faults: 0") {
		t.Errorf("%+v", checked)
	}
	overfed := strings.Replace(solved.stdout, `"mass_units": 4000`, `"mass_units": 4001`, 1)
	checked = midden(t, nil, "plan", "check", problem, written(t, "overfed.json", overfed))
	if checked.code != exitFailure || strings.Contains(checked.stdout, "faults: 0") {
		t.Errorf("an overfed bin passes: %+v", checked)
	}
}

func TestAFaultyPlanningProblemIsRefusedByField(t *testing.T) {
	t.Parallel()
	for content, says := range map[string]string{
		"{": "planning problem",
		strings.Replace(twoDays, `"mass_units": 10000`, `"mass_units": -1`, 1): "lots[0].mass_units: must be between 0",
		strings.Replace(twoDays, `"days": 2`, `"days": 2, "hours": 1`, 1):      `unknown field "hours"`,
	} {
		problem := written(t, "problem.json", content)
		for _, args := range [][]string{{"plan", "solve", problem}, {"plan", "check", problem, problem}} {
			if got := midden(t, nil, args...); got.code != exitFailure || !strings.Contains(got.stderr, says) {
				t.Errorf("%v: %+v, want %q", args[:2], got, says)
			}
		}
	}
}
