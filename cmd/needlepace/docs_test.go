package main

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write what the commands print into README and docs")

// TestDocsTellTheTruth runs every ```console block of README and docs/ and
// compares what the commands print with what stands there. `$ needlepace …`
// lines are run in order, in one folder a page, where demo/ is the demo shop;
// `> FILE` at the end keeps the output in a file. A line of … stands for any
// number of lines left out. After a change that is meant:
// go test ./cmd/needlepace -run Docs -update
func TestDocsTellTheTruth(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	pages, err := filepath.Glob(filepath.Join(root, "docs", "*.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, page := range append(pages, filepath.Join(root, "README.md")) {
		t.Run(filepath.Base(page), func(t *testing.T) {
			b, err := os.ReadFile(page)
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := os.Symlink(filepath.Join(root, "demo"), filepath.Join(dir, "demo")); err != nil {
				t.Skipf("no symbolic links here: %v", err)
			}
			t.Chdir(dir)
			got := rerun(t, string(b))
			if *update {
				if err := os.WriteFile(page, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			if got != string(b) {
				t.Errorf("the page differs from what the commands print (-page +commands):\n%s", cmp.Diff(string(b), got))
			}
		})
	}
}

// rerun gives the page with each console block as its commands print it now.
func rerun(t *testing.T, page string) string {
	var out strings.Builder
	lines := strings.SplitAfter(page, "\n")
	for i := 0; i < len(lines); i++ {
		out.WriteString(lines[i])
		if strings.TrimRight(lines[i], "\n") != "```console" {
			continue
		}
		for i++; i < len(lines) && !strings.HasPrefix(lines[i], "```"); {
			command := lines[i]
			out.WriteString(command)
			var old []string
			for i++; i < len(lines) && !strings.HasPrefix(lines[i], "```") && !strings.HasPrefix(lines[i], "$ "); i++ {
				old = append(old, lines[i])
			}
			args, ok := strings.CutPrefix(strings.TrimSpace(command), "$ needlepace ")
			if !ok {
				t.Errorf("only `$ needlepace …` lines can be checked, not %q", command)
				continue
			}
			out.WriteString(elide(printed(t, args), old))
		}
		if i < len(lines) {
			out.WriteString(lines[i])
		}
	}
	return out.String()
}

func printed(t *testing.T, line string) string {
	args, file, redirected := strings.Cut(line, " > ")
	var stdout bytes.Buffer
	if code := run(context.Background(), strings.NewReader(""), &stdout, &stdout, strings.Fields(args)); code != exitOK {
		t.Errorf("needlepace %s: status %d\n%s", args, code, stdout.String())
	}
	if redirected {
		if err := os.WriteFile(strings.TrimSpace(file), stdout.Bytes(), 0o600); err != nil {
			t.Error(err)
		}
		return ""
	}
	return stdout.String()
}

// elide cuts the output where the page has a line of …, keeping as many lines
// before and after it as the page has.
func elide(got string, old []string) string {
	lines := strings.SplitAfter(strings.TrimSuffix(got, "\n")+"\n", "\n")
	lines = lines[:len(lines)-1]
	if got == "" {
		lines = nil
	}
	for i, l := range old {
		if strings.TrimSpace(l) != "…" {
			continue
		}
		after := len(old) - i - 1
		if i+after < len(lines) {
			return strings.Join(lines[:i], "") + l + strings.Join(lines[len(lines)-after:], "")
		}
	}
	return strings.Join(lines, "")
}
