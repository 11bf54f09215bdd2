package planner

import (
	"bufio"
	"context"
	"fmt"
	"math"
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
		if len(w) == 6 && w[0] == "s" && w[1] == "mip" {
			v, err := strconv.ParseFloat(w[5], 64)
			if w[4] != "o" || err != nil || math.Abs(v-math.Round(v)) > 1e-3 {
				t.Fatalf("glpsol did not prove a whole number: %s", lines.Text())
			}
			return int64(math.Round(v))
		}
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

// The same with a price on visits and with whole containers, of one size or
// several: GLPK's branch and cut gets binaries and whole numbers, nothing of how
// this package rounds capacities.
func TestVisitsAndContainersCostWhatGLPKFinds(t *testing.T) {
	t.Parallel()
	bin, err := exec.LookPath("glpsol")
	if err != nil {
		if os.Getenv("MIDDEN_NEED_GLPSOL") == "1" {
			t.Fatal("glpsol is not in PATH; install GLPK's command-line solver (Debian: glpk-utils)")
		}
		t.Log("glpsol is not in PATH: compared with the stored proofs only")
		return
	}
	cases := 40
	if n, err := strconv.Atoi(os.Getenv("MIDDEN_GLPSOL_CASES")); err == nil {
		cases = max(30, n)
	}
	kinds, exact := map[string]int{}, 0
	for seed, compared := uint64(1), 0; compared < cases; seed++ {
		r := rand.New(rand.NewPCG(seed, 17))
		p := smallGarden(r, 4, 10, 9)
		if len(p.Lots) == 0 || len(p.Bins) == 0 {
			continue
		}
		kind := refineGarden(r, p)
		got, err := Solve(context.Background(), p, Options{})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		compared++
		kinds[kind]++
		want := glpsol(t, bin, formulate(p).choices(p))
		if got.Bound > want || got.Value < want {
			t.Errorf("seed %d, %s: bound %d, value %d, GLPK %d", seed, kind, got.Bound, got.Value, want)
		}
		if got.Value == want {
			exact++
		}
		if got.Status == Proven && got.Value != want {
			t.Errorf("seed %d, %s: proven at %d, GLPK %d", seed, kind, got.Value, want)
		}
		if got.Status != Proven && kind == "visits" {
			t.Errorf("seed %d, %s: not proven, stopped by %s", seed, kind, got.StoppedBy)
		}
	}
	t.Logf("%v; %d of %d plans are the cheapest", kinds, exact, cases)
}

// choices adds the binaries and whole numbers to the inequalities.
func (m *linear) choices(p *Problem) string {
	size := map[string]int64{}
	for _, g := range p.Groups {
		size[g.ID] = max(1, p.ContainerUnits)
		if g.ContainerUnits > 0 {
			size[g.ID] = g.ContainerUnits
		}
	}
	var whole, binary []int
	multiple := func(name string, q int64) {
		if v, ok := m.byName[name]; ok && q > 1 {
			z := m.variable("whole "+name, 0, -1)
			whole = append(whole, z)
			m.row(map[int]int64{v: 1, z: -q}, true, 0)
		}
	}
	for i, l := range p.Lots {
		multiple(fmt.Sprint("freeze", i), size[l.Group])
		for b := range p.Bins {
			for d := range p.Days {
				multiple(fmt.Sprint("feed", i, "/", b, "/", d), size[l.Group])
			}
		}
	}
	for d := range p.Days {
		for b := range p.Bins {
			for _, g := range p.Groups {
				multiple(fmt.Sprint("thaw", d, "/", b, "/", g.ID), size[g.ID])
			}
			if p.Prices.Visit > 0 {
				y := m.variable(fmt.Sprint("visit", b, "/", d), p.Prices.Visit, 1)
				binary = append(binary, y)
				link := map[int]int64{y: -p.Bins[b].Room[d]}
				for k := range p.Load {
					link[m.byName[fmt.Sprint("load", b, "/", d, "/", k)]] = 1
				}
				m.row(link, false, 0)
			}
		}
	}
	text := strings.TrimSuffix(m.cplexLP(), "End\n")
	section := func(name string, vars []int) {
		if len(vars) > 0 {
			text += name + "\n"
			for _, v := range vars {
				text += fmt.Sprintf(" x%d\n", v)
			}
		}
	}
	section("General", whole)
	section("Binary", binary)
	return text + "End\n"
}
