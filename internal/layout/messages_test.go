package layout

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// prefixed are the texts in a file's source that begin with the name of a
// package of ours and a colon. A panic is for programmers and may.
func prefixed(f *ast.File) (out []string) {
	var names []string
	for _, p := range order[:len(order)-1] { // the last is the program: its name stands before what it says
		names = append(names, path.Base(p))
	}
	begins := regexp.MustCompile(`^(` + strings.Join(names, "|") + `): `)
	ast.Inspect(f, func(n ast.Node) bool {
		if call, ok := n.(*ast.CallExpr); ok {
			if id, ok := call.Fun.(*ast.Ident); ok && id.Name == "panic" {
				return false
			}
		}
		if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
			if text, err := strconv.Unquote(lit.Value); err == nil && begins.MatchString(text) {
				out = append(out, text)
			}
		}
		return true
	})
	return out
}

// Whatever becomes text for people begins with what is wrong: no source of ours
// puts a package's name before it.
func TestNoMessageBeginsWithAPackagesName(t *testing.T) {
	files := 0
	err := filepath.WalkDir("../..", func(file string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && slices.Contains([]string{"testdata", "node_modules"}, d.Name()):
			return filepath.SkipDir
		case path.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go"):
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			return err
		}
		files++
		for _, text := range prefixed(f) {
			t.Errorf("%s: %q begins with a package's name", file, text)
		}
		return nil
	})
	if err != nil || files < 200 {
		t.Fatalf("%d files read: %v", files, err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), "x.go", "package x\nvar _ = New(\"audit: no\")\n"+
		"func f() { panic(\"audit: a fault\") }", 0)
	if err != nil || len(prefixed(f)) != 1 {
		t.Errorf("a name before a text is not seen, or one in a panic is: %v", err)
	}
}
