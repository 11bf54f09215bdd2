package httpapi

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"midden/internal/farm"
)

var update = flag.Bool("update", false, "write the golden files anew")

// refusing are the packages whose codes may leave by the API.
var refusing = []string{"auth", "exchange", "farm", "httpapi", "ledger", "season", "service", "store"}

// noCodes look like codes and are none.
var noCodes = regexp.MustCompile(`^(midden\.\w+|feed\.window)$`)

var codeForm = regexp.MustCompile(`^[a-z_]+\.[a-z_]+$`)

// codesInUse are the codes that the sources name, sorted. Rows of the table of
// statuses are no use of a code.
func codesInUse(t *testing.T) []string {
	t.Helper()
	var codes []string
	for _, pkg := range refusing {
		err := filepath.WalkDir(filepath.Join("..", pkg), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			found, err := codesOf(path)
			codes = append(codes, found...)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(codes)
	return slices.Compact(codes)
}

func codesOf(path string) ([]string, error) {
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	var codes []string
	ast.Inspect(file, func(n ast.Node) bool {
		switch x := n.(type) {
		case *ast.KeyValueExpr:
			return !isStatus(x.Value)
		case *ast.BasicLit:
			if s, err := strconv.Unquote(x.Value); err == nil && x.Kind == token.STRING && codeForm.MatchString(s) && !noCodes.MatchString(s) {
				codes = append(codes, s)
			}
		case *ast.CallExpr: // class.Code("not_found") speaks of every class of issue
			if f, ok := x.Fun.(*ast.SelectorExpr); ok && f.Sel.Name == "Code" && len(x.Args) == 1 {
				codes = append(codes, issueCodes(x.Args[0])...)
			}
		}
		return true
	})
	return codes, nil
}

func isStatus(e ast.Expr) bool {
	s, ok := e.(*ast.SelectorExpr)
	if !ok {
		return false
	}
	pkg, ok := s.X.(*ast.Ident)
	return ok && pkg.Name == "http" && strings.HasPrefix(s.Sel.Name, "Status")
}

func issueCodes(arg ast.Expr) (codes []string) {
	lit, ok := arg.(*ast.BasicLit)
	if !ok {
		return nil
	}
	reason, err := strconv.Unquote(lit.Value)
	if err != nil || strings.Contains(reason, ".") {
		return nil
	}
	for class := range farm.IssueKinds {
		codes = append(codes, string(class.Code(reason)))
	}
	return codes
}

// A code that is new, or that changes its status, shows in the golden list. A
// status of 422 that comes from no row of the table is thereby a choice.
func TestEveryCodeHasTheStatusThatWasReviewed(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	for _, code := range codesInUse(t) {
		row := "rule"
		if _, exact := exactStatus[farm.Code(code)]; exact {
			row = "code"
		} else if _, reason, _ := strings.Cut(code, "."); reasonStatus[reason] != 0 {
			row = "reason"
		}
		fmt.Fprintf(&b, "%s %d %s\n", code, statusOf(farm.Code(code)), row)
	}
	const path = "testdata/codes.golden"
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	golden, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	want, got := strings.Split(string(golden), "\n"), strings.Split(b.String(), "\n")
	for _, line := range got {
		if !slices.Contains(want, line) {
			t.Errorf("not in %s: %q; look at its status, then run with -update", path, line)
		}
	}
	for _, line := range want {
		if !slices.Contains(got, line) {
			t.Errorf("%s has %q, which is no longer so", path, line)
		}
	}
}

func TestTheTableOfStatusesHasNoRowThatNothingUses(t *testing.T) {
	t.Parallel()
	reasons := map[string]bool{}
	codes := codesInUse(t)
	for _, code := range codes {
		if _, exact := exactStatus[farm.Code(code)]; !exact {
			_, reason, _ := strings.Cut(code, ".")
			reasons[reason] = true
		}
	}
	for code := range exactStatus {
		if !slices.Contains(codes, string(code)) {
			t.Errorf("no source refuses with %s", code)
		}
	}
	for reason := range reasonStatus {
		if !reasons[reason] {
			t.Errorf("no source refuses with the reason %s", reason)
		}
	}
}

// Everything a status may be has a title.
func TestEveryStatusOfARefusalHasATitle(t *testing.T) {
	t.Parallel()
	for _, code := range codesInUse(t) {
		if s := statusOf(farm.Code(code)); titles[s] == "" {
			t.Errorf("%s: status %d has no title", code, s)
		}
	}
}
