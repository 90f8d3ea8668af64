package web

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// scriptFolder is a folder with every script of the page as it is served, and
// with the tests of web/jscheck beside them.
func scriptFolder(t *testing.T) string {
	t.Helper()
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("node is not installed: ./dev test installs it")
	}
	dir := t.TempDir()
	put := func(name string, body []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), body, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, a := range assets() {
		if strings.HasPrefix(name, "js/") {
			put(filepath.Base(name), a.body)
		}
	}
	files, err := filepath.Glob("jscheck/*.js*")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range append(files, "../words/testdata/cases.json") {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		put(filepath.Base(f), b)
	}
	return dir
}

// TestScripts runs the tests of the page's scripts (web/jscheck).
func TestScripts(t *testing.T) {
	cmd := exec.Command("node", "--test", "--test-reporter=dot")
	cmd.Dir = scriptFolder(t)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}

// TestScriptTypes checks the types of the page's scripts and of their tests,
// which they state in their comments.
func TestScriptTypes(t *testing.T) {
	dir := scriptFolder(t)
	modules, err := filepath.Abs("jscheck/node_modules")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(modules); err != nil {
		t.Skip("the type checker is not installed: ./dev test installs it")
	}
	if err := os.Symlink(modules, filepath.Join(dir, "node_modules")); err != nil {
		t.Skipf("no symbolic links here: %v", err)
	}
	cmd := exec.Command("node", filepath.Join(modules, "typescript/bin/tsc"), "-p", dir)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
