package archtest

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"strconv"
	"strings"
)

// source is one Go file, whatever system it is built for.
type source struct {
	path      string // from the module's root, with slashes
	room      string
	test      bool
	generated bool
	lines     int
	ast       *ast.File
	fset      *token.FileSet
}

func (s source) at(pos token.Pos) string {
	return s.path + ":" + strconv.Itoa(s.fset.Position(pos).Line)
}

// imports lists import paths with their positions.
func (s source) imports(yield func(string, token.Pos) bool) {
	for _, spec := range s.ast.Imports {
		p, err := strconv.Unquote(spec.Path.Value)
		if err == nil && !yield(p, spec.Pos()) {
			return
		}
	}
}

// load parses every Go file of the module in root.
func load(root fs.FS) ([]source, error) {
	var all []source
	err := fs.WalkDir(root, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if p != "." && (strings.HasPrefix(d.Name(), ".") || strings.HasPrefix(d.Name(), "_") || d.Name() == "testdata") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(p, ".go") {
			return nil
		}
		text, err := fs.ReadFile(root, p)
		if err != nil {
			return err
		}
		fset := token.NewFileSet()
		file, err := parser.ParseFile(fset, p, text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		all = append(all, source{path: p, room: roomOf(path.Dir(p)), test: strings.HasSuffix(p, "_test.go"),
			generated: ast.IsGenerated(file), lines: bytes.Count(text, []byte("\n")), ast: file, fset: fset})
		return nil
	})
	return all, err
}

// roomOf names the room of a folder: internal/store and all below it is store, cmd/midden is cmd.
func roomOf(dir string) string {
	first, rest, _ := strings.Cut(dir, "/")
	if first == "internal" {
		first, _, _ = strings.Cut(rest, "/")
	}
	return first
}

// local splits an import of this module into its room; ok is false for others.
func local(importPath string) (room string, ok bool) {
	rest, ok := strings.CutPrefix(importPath, module+"/")
	if !ok {
		return "", importPath == module
	}
	return roomOf(rest), true
}

// standard says whether an import belongs to the standard library: its first element has no dot.
func standard(importPath string) bool {
	first, _, _ := strings.Cut(importPath, "/")
	return !strings.Contains(first, ".")
}

// under says whether an import is the package or module base or lies below it.
func under(importPath, base string) bool {
	return importPath == base || strings.HasPrefix(importPath, base+"/")
}
