package archtest

import (
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"testing"
)

const root = "../.."

func sources(t *testing.T) []source {
	t.Helper()
	all, err := load(os.DirFS(root))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 20 {
		t.Fatalf("only %d files found: is this the module's root?", len(all))
	}
	return all
}

func TestTheHouseIsInOrder(t *testing.T) {
	t.Parallel()
	all := sources(t)
	for name, c := range map[string]check{
		"every import follows an arrow":                 checkArrows,
		"libraries stay in their rooms":                 checkLibraries,
		"clock, context and output stay in their rooms": checkBarredCalls,
		"statements name their columns":                 checkSelectStar,
		"no test steps aside":                           checkSkips,
		"no file is too long":                           checkLength,
		"every package says what it is for":             checkPackages,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			wrong := c(all)
			slices.Sort(wrong)
			for _, line := range wrong {
				t.Error(line)
			}
		})
	}
}

func TestMigrationsNameTheirColumns(t *testing.T) {
	t.Parallel()
	files, err := fs.Glob(os.DirFS(root), "migrations/*.sql")
	if err != nil || len(files) == 0 {
		t.Fatalf("%d migrations, %v", len(files), err)
	}
	for _, name := range files {
		text, err := os.ReadFile(path.Join(root, name))
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(text), "\n") {
			code, _, _ := strings.Cut(line, "--")
			if barredSQL.MatchString(code) {
				t.Errorf("%s:%d: name the columns instead of SELECT *", name, i+1)
			}
		}
	}
}

func TestTheTableOfArrowsIsSound(t *testing.T) {
	t.Parallel()
	for room, may := range arrows {
		for _, r := range may {
			if _, known := arrows[r]; !known {
				t.Errorf("%s may import %s, which is no room", room, r)
			}
		}
		if slices.Contains(reach(room), room) {
			t.Errorf("the arrows lead from %s back to itself", room)
		}
	}
	for _, room := range pure {
		for _, r := range reach(room) {
			if !slices.Contains(pure, r) {
				t.Errorf("%s is pure and reaches %s, which is not", room, r)
			}
		}
	}
}
