// Package layout has no code: its test holds the module's packages to the order
// in which they may import each other (CONTRIBUTING.md).
package layout

import (
	"bytes"
	"fmt"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// order has the packages as data flows: each may import those that stand above
// it. One with /... means the packages below it too; the longest name counts.
var order = []string{
	"internal/mutate", "internal/release", "internal/layout", "internal/readback", "words", "internal/wordstest", "internal/tomlfile", "internal/cells", "internal/memo", "internal/hugepages",
	"stitch", "stitchfile", "thread", "machine", "clock", "learn/leastsq", "sound", "learn/doptimal", "learn/hier", "learn", "learn/zoo", "sound/synth", "audit/sequence", "audit",
	"floor", "money", "plan", "book", "rough", "trial/mixed", "trial", "telling",
	"ask", // the pure domain ends above it
	"picture", "learn/card", "paper",
	"docs", "help",
	"demo", "demo/digitize", "demo/gen", "demo/runs/make", "demo/shared/make", "learn/study", "learn/study/coverage", "learn/study/zoo", "learn/study/sound",
	"shop",
	"shop/accounts", "shop/changes", "shop/classes", "shop/designs", "shop/lists", "shop/machines", "shop/orders", "shop/phones", "shop/plans", "shop/settings", "shop/setups", "shop/timings", "shop/visits",
	"act",
	"internal/pgtest", "store/sqlite/migrations", "store/internal/dbstore", "store/sqlite", "store/postgres", "store", "store/storetest",
	"jobs", "jobs/parts", "recordings", "telling/mqtt", "web/door", "web/watch", "web/serve", "web/pages", "web/api", "web", "web/webtest", "web/browser", "web/shots",
	"cmd/needlepace",
}

// pure are the packages that do no I/O and know no database and no HTTP.
var pure = []string{"words", "stitch", "stitchfile", "thread", "machine", "clock", "sound", "learn", "audit", "floor", "money", "plan", "book", "rough", "trial", "telling", "ask"}

// outside are the standard packages with which a program touches the world.
var outside = []string{"os", "os/exec", "net", "net/http", "database/sql", "syscall", "log", "log/slog"}

// files may be read by name where a caller hands in a path.
var mayReadFiles = map[string]bool{"stitchfile": true}

const mostLines = 2000 // of a thing's package, tests left out

type imports map[string][]string // by package, without the module's name

// wrong says what in an import graph is against the layout.
func wrong(graph imports) (out []string) {
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	for from, all := range graph {
		i := slices.Index(order, from)
		if i < 0 {
			say("%s stands in no place of the layout: give it one", from)
			continue
		}
		thing := strings.HasPrefix(from, "shop/")
		for _, to := range all {
			local := slices.Contains(order, to)
			switch {
			case isPure(from) && slices.Contains(outside, to) && !mayReadFiles[from]:
				say("%s is of the pure domain and imports %s", from, to)
			case !local:
			case slices.Index(order, to) > i:
				say("%s imports %s, which stands below it", from, to)
			case thing && strings.HasPrefix(to, "shop/"):
				say("%s imports %s: things do not import each other; what needs two is an act", from, to)
			case (from == "shop" || thing) && slices.Contains([]string{"picture", "paper", "demo"}, to):
				say("%s imports %s: a thing draws nothing and prints nothing", from, to)
			case from == "ask" && !isPure(to) && !strings.HasPrefix(to, "internal/"):
				say("ask imports %s, which is not of the pure domain", to)
			case from == "web/api" && to == "web/pages":
				say("the API imports the pages")
			case strings.HasPrefix(from, "web") && strings.HasPrefix(to, "store/") && from != "web/webtest" && from != "web/shots":
				say("%s imports %s: the web knows no store", from, to)
			}
		}
	}
	slices.Sort(out)
	return out
}

func isPure(pkg string) bool {
	top, _, _ := strings.Cut(pkg, "/")
	return slices.Contains(pure, top) && pkg != "learn/card" && pkg != "telling/mqtt" && !strings.HasPrefix(pkg, "learn/study")
}

// read is the module's import graph without tests, and the lines of each package.
func read(t *testing.T) (imports, map[string]int) {
	t.Helper()
	const root, module = "../..", "needlepace/"
	graph, lines := imports{}, map[string]int{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if n := d.Name(); n == "testdata" || n == "node_modules" || len(n) > 2 && n[0] == '.' {
				return filepath.SkipDir
			}
			return nil
		}
		if path.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		b, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, b, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, filepath.Dir(file))
		if err != nil {
			return err
		}
		pkg := filepath.ToSlash(rel)
		lines[pkg] += bytes.Count(b, []byte("\n"))
		graph[pkg] = append(graph[pkg], []string{}...)
		for _, i := range f.Imports {
			p, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			graph[pkg] = append(graph[pkg], strings.TrimPrefix(p, module))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return graph, lines
}

func TestPackagesImportOnlyWhatStandsAboveThem(t *testing.T) {
	graph, lines := read(t)
	if len(graph) < 30 {
		t.Fatalf("only %d packages were found", len(graph))
	}
	for _, w := range wrong(graph) {
		t.Error(w)
	}
	for pkg, n := range lines {
		if strings.HasPrefix(pkg, "shop/") && n > mostLines {
			t.Errorf("%s has %d lines; a thing has at most %d", pkg, n, mostLines)
		}
	}
}

func TestTheLayoutIsHeld(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"shop/orders", "shop/designs", "things do not import each other"},
		{"shop/designs", "picture", "draws nothing"},
		{"ask", "shop", "stands below it"},
		{"ask", "picture", "stands below it"},
		{"clock", "os", "pure domain"},
		{"book", "net/http", "pure domain"},
		{"machine", "clock", "stands below it"},
		{"web/pages", "web/api", "stands below it"},
		{"web/api", "web/pages", "the API imports the pages"},
		{"web/pages", "store/sqlite", "knows no store"},
		{"shop", "act", "stands below it"},
		{"somewhere", "fmt", "in no place"},
	} {
		got := wrong(imports{c.from: {c.to}})
		if len(got) != 1 || !strings.Contains(got[0], c.want) {
			t.Errorf("%s importing %s: %q, want %q", c.from, c.to, got, c.want)
		}
	}
	if got := wrong(imports{"act": {"shop/orders", "shop/designs", "ask"}, "ask": {"plan", "internal/tomlfile", "time"}}); len(got) > 0 {
		t.Errorf("what may be imported is refused: %q", got)
	}
}
