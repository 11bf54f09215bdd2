package planner

import (
	"bufio"
	"context"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// glpsol minimises with GLPK's own simplex and reads the value from its
// solution file: the line "s bas ROWS COLS PRIMAL DUAL VALUE".
func glpsol(t *testing.T, bin, text string) int64 {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "garden.lp"), filepath.Join(dir, "garden.sol")
	if err := os.WriteFile(in, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if log, err := exec.Command(bin, "--lp", in, "--write", out).CombinedOutput(); err != nil {
		t.Fatalf("glpsol: %v\n%s", err, log)
	}
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		w := strings.Fields(lines.Text())
		if len(w) == 7 && w[0] == "s" && w[1] == "bas" {
			if w[4] != "f" || w[5] != "f" {
				t.Fatalf("glpsol did not prove its answer: %s", lines.Text())
			}
			v, err := strconv.ParseFloat(w[6], 64)
			if err != nil || v != float64(int64(v)) {
				t.Fatalf("glpsol's value is no whole number: %s", w[6])
			}
			return int64(v)
		}
	}
	t.Fatal("glpsol wrote no value")
	return 0
}

// The reference is GLPK's glpsol, given the inequalities, not the network.
// Without glpsol the values are checked against gonum and the stored proofs
// only, unless MIDDEN_NEED_GLPSOL=1 says it must be there.
func TestGardensCostWhatGLPKFinds(t *testing.T) {
	t.Parallel()
	bin, err := exec.LookPath("glpsol")
	if err != nil {
		if os.Getenv("MIDDEN_NEED_GLPSOL") == "1" {
			t.Fatal("glpsol is not in PATH; install GLPK's command-line solver (Debian: glpk-utils)")
		}
		t.Log("glpsol is not in PATH: compared with gonum and the stored proofs only")
		return
	}
	same := func(name string, p *Problem) {
		t.Helper()
		got, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if want := glpsol(t, bin, formulate(p).cplexLP()); got.Value != want {
			t.Errorf("%s: value %d, GLPK %d", name, got.Value, want)
		}
	}
	cases := 60
	if n, err := strconv.Atoi(os.Getenv("MIDDEN_GLPSOL_CASES")); err == nil {
		cases = max(30, n)
	}
	for seed, compared := uint64(1), 0; compared < cases; seed++ {
		p := smallGarden(rand.New(rand.NewPCG(seed, 11)), 8, 25, 17)
		if len(p.Lots) == 0 {
			continue // a costless file proves nothing
		}
		compared++
		same("seed "+strconv.FormatUint(seed, 10), p)
	}
	for _, name := range []string{"small1", "small2", "slack1"} {
		same(name, readInstance(t, name).problem())
	}
	same("town", bigGarden(3, 12, 60, 16, 3, 6, 5))
}
