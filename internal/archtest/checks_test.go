package archtest

import (
	"fmt"
	"go/ast"
	"go/token"
	"path"
	"slices"
	"strconv"
	"strings"
)

// A check reads the sources and says what is wrong, a line each.
type check func([]source) []string

func checkArrows(all []source) (wrong []string) {
	for _, s := range all {
		may, known := arrows[s.room]
		if !known {
			wrong = append(wrong, fmt.Sprintf("%s: %s is no room; give it a row in the table of arrows", s.path, s.room))
			continue
		}
		if s.test {
			may = append(reach(s.room), testArrows...)
		}
		for imported, pos := range s.imports {
			room, ours := local(imported)
			if !ours || room == s.room || slices.Contains(may, room) && !isApart(s.room, room) {
				continue
			}
			wrong = append(wrong, fmt.Sprintf("%s: %s must not import %s", s.at(pos), s.room, room))
		}
	}
	return wrong
}

// reach lists every room that can be come to by arrows.
func reach(room string) []string {
	var found []string
	next := slices.Clone(arrows[room])
	for len(next) > 0 {
		r := next[0]
		next = next[1:]
		if !slices.Contains(found, r) {
			found = append(found, r)
			next = append(next, arrows[r]...)
		}
	}
	return found
}

func isApart(a, b string) bool {
	return slices.Contains(apart, [2]string{a, b}) || slices.Contains(apart, [2]string{b, a})
}

func checkLibraries(all []source) (wrong []string) {
	for _, s := range all {
		if s.test {
			continue
		}
		for imported, pos := range s.imports {
			if _, ours := local(imported); ours {
				continue
			}
			if slices.Contains(pure, s.room) && !mayUse(s.room, imported) {
				wrong = append(wrong, fmt.Sprintf("%s: %s is pure and must not use %s", s.at(pos), s.room, imported))
			}
			for library, rooms := range adapters {
				if under(imported, library) && !slices.Contains(rooms, s.room) {
					wrong = append(wrong, fmt.Sprintf("%s: %s must not use %s; it belongs to %s", s.at(pos), s.room, imported, strings.Join(rooms, ", ")))
				}
			}
		}
	}
	return wrong
}

func mayUse(room, imported string) bool {
	below := func(base string) bool { return under(imported, base) }
	if standard(imported) {
		return slices.ContainsFunc(harmless, below) || !slices.ContainsFunc(impure, below)
	}
	return slices.ContainsFunc(pureModules[room], below)
}

func checkBarredCalls(all []source) (wrong []string) {
	for _, s := range all {
		if s.test || s.generated {
			continue
		}
		names := packageNames(s)
		ast.Inspect(s.ast, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			x, ok := sel.X.(*ast.Ident)
			if !ok {
				return true
			}
			for _, b := range barred {
				if names[x.Name] == b.pkg && b.name.MatchString(sel.Sel.Name) && !slices.Contains(b.allowed, s.room) {
					wrong = append(wrong, fmt.Sprintf("%s: %s must not use %s.%s: %s", s.at(sel.Pos()), s.room, b.pkg, sel.Sel.Name, b.instead))
				}
			}
			return true
		})
		for _, spec := range s.ast.Imports {
			for _, b := range barred {
				if spec.Name != nil && spec.Name.Name == "." && spec.Path.Value == strconv.Quote(b.pkg) {
					wrong = append(wrong, fmt.Sprintf("%s: a dot import hides %s", s.at(spec.Pos()), b.pkg))
				}
			}
		}
	}
	return wrong
}

// packageNames maps the names that a file uses for its imports to their paths, so that a renamed import hides nothing.
func packageNames(s source) map[string]string {
	names := map[string]string{}
	for _, spec := range s.ast.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			continue
		}
		name := path.Base(p)
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = p
	}
	return names
}

func checkSelectStar(all []source) (wrong []string) {
	for _, s := range all {
		if s.test || s.generated {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING && barredSQL.MatchString(lit.Value) {
				wrong = append(wrong, fmt.Sprintf("%s: name the columns instead of SELECT *", s.at(lit.Pos())))
			}
			return true
		})
	}
	return wrong
}

// checkSkips finds tests that step aside. A test that needs something says so and fails.
func checkSkips(all []source) (wrong []string) {
	for _, s := range all {
		if !s.test {
			continue
		}
		ast.Inspect(s.ast, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			sel, ok := call.Fun.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			x, _ := sel.X.(*ast.Ident)
			switch name := sel.Sel.Name; {
			case name == "SkipNow", name == "Skipf",
				name == "Skip" && x != nil && slices.Contains([]string{"t", "b", "f", "tb", "rt", "a"}, x.Name),
				name == "Short" && x != nil && x.Name == "testing":
				wrong = append(wrong, fmt.Sprintf("%s: a test must not step aside with %s", s.at(call.Pos()), name))
			}
			return true
		})
	}
	return wrong
}

func checkLength(all []source) (wrong []string) {
	for _, s := range all {
		if !s.test && !s.generated && s.lines > lineLimit {
			wrong = append(wrong, fmt.Sprintf("%s: %d lines; split it, the limit is %d", s.path, s.lines, lineLimit))
		}
	}
	return wrong
}

func checkPackages(all []source) (wrong []string) {
	documented := map[string]bool{}
	for _, s := range all {
		dir := path.Dir(s.path)
		if slices.Contains(barredNames, s.ast.Name.Name) || slices.Contains(barredNames, path.Base(dir)) {
			wrong = append(wrong, fmt.Sprintf("%s: a package named %s says nothing of what it is for", s.path, s.ast.Name.Name))
		}
		if s.test {
			continue
		}
		want := "Package " + s.ast.Name.Name
		if s.ast.Name.Name == "main" {
			want = "Command "
		}
		documented[dir] = documented[dir] || s.generated || strings.HasPrefix(s.ast.Doc.Text(), want)
	}
	for dir, ok := range documented {
		if !ok {
			wrong = append(wrong, fmt.Sprintf("%s: no comment says what the package is for", dir))
		}
	}
	return wrong
}
