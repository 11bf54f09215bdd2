package app

import (
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"midden/internal/pgtest"
)

var walk = regexp.MustCompile("(?s)## From sign-in to a published plan\n.*?\n```\n(.*?)```")

// The walk of the README is typed by people who have just met Midden. Where
// curl or jq is missing only CI minds: it sees to it that they are there.
func TestTheReadmesWalkEndsWithAPublishedPlan(t *testing.T) {
	t.Parallel()
	for _, tool := range []string{"bash", "curl", "jq"} {
		if _, err := exec.LookPath(tool); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatal(err)
			}
			t.Logf("not walked: %v", err)
			return
		}
	}
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	block := walk.FindSubmatch(readme)
	if block == nil {
		t.Fatal("the README shows no walk from sign-in to a published plan")
	}
	db := pgtest.New(t)
	planted(t, db)
	r := boot(t, New(settingsOf(t, db), Options{Now: func() time.Time { return time.Date(2026, 10, 5, 12, 0, 0, 0, time.UTC) }}))
	script := string(block[1])
	for name, value := range map[string]string{"api": r.url, "email": "maren@lowfield.example", "password": "'three damp sponges'"} {
		line := regexp.MustCompile(`(?m)^` + name + `=.*$`)
		if !line.MatchString(script) {
			t.Fatalf("the walk does not say %s=", name)
		}
		script = line.ReplaceAllLiteralString(script, name+"="+value)
	}
	out, err := exec.CommandContext(t.Context(), "bash", "-euc", script).CombinedOutput()
	said := string(out)
	if err != nil || !strings.HasSuffix(strings.TrimSpace(said), `"published"`) {
		t.Fatalf("%v\n%s", err, said)
	}
	for _, want := range []string{`"mass_g": 8500`, `"why":`} { // 9.4 kg gross less 0.9 kg tare
		if !strings.Contains(said, want) {
			t.Errorf("the walk does not show %s:\n%s", want, said)
		}
	}
}
