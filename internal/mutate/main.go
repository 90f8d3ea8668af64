// Command mutate breaks the guarded rules of the project on purpose, one small
// mistake at a time, and counts how many of the mistakes a test notices
// (`./dev mutate`). The mistakes are made by gremlins; this command chooses the
// files (targets.txt), sets aside the mistakes that change nothing
// (equivalent.txt) and those that do not compile, and prints a table.
package main

import (
	"bufio"
	_ "embed"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// gremlins is the tool, pinned. It is run by its version and stands in no
// go.mod, because nothing of the program needs it.
const gremlins = "github.com/go-gremlins/gremlins/cmd/gremlins@v0.6.0"

// wanted is the least share of mistakes, in percent, that tests must notice in
// each target.
const wanted = 80

// patience is how many times as long as the package's tests a mistake may keep
// them busy until it counts as noticed: it made a loop endless.
const patience = "20"

//go:embed targets.txt
var targetsText string

//go:embed equivalent.txt
var equivalentText string

func main() {
	verbose := flag.Bool("v", false, "show the tool's own lines while it works")
	flag.Parse()
	if err := run(os.Stdout, os.Stderr, flag.Args(), *verbose); err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(1)
	}
}

// target is the files of one package that hold one guarded rule.
type target struct {
	rule, pkg string
	files     []string
}

// mutant is one mistake and what became of it.
type mutant struct {
	Type   string `json:"type"`
	Status string `json:"status"`
	Line   int    `json:"line"`
	Column int    `json:"column"`
	file   string // from the module's root
	source string // its line, the operator between « and »
}

func run(out, log io.Writer, only []string, verbose bool) error {
	targets, err := readTargets(targetsText)
	if err != nil {
		return err
	}
	equivalent, err := readEquivalent(equivalentText)
	if err != nil {
		return err
	}
	if targets = choose(targets, only); len(targets) == 0 {
		return fmt.Errorf("no target for %s: give a package or a file, as plan or plan/promise.go",
			strings.Join(only, " "))
	}
	fmt.Fprintln(out, "| rule | files | mistakes | noticed | lived | not covered | change nothing | noticed, % |")
	fmt.Fprintln(out, "|---|---|--:|--:|--:|--:|--:|--:|")
	var below []string
	var lived []mutant
	for _, t := range targets {
		all, err := t.mutate(log, verbose)
		if err != nil {
			return err
		}
		count := map[string]int{}
		for _, m := range all {
			status := m.Status
			switch {
			case equivalent[m.file+"\t"+m.Type+"\t"+m.source] && status != "KILLED":
				status = "EQUIVALENT"
			case status == "LIVED" || status == "NOT COVERED":
				lived = append(lived, m)
			}
			count[status]++
		}
		noticed := count["KILLED"] + count["TIMED OUT"]
		sum := noticed + count["LIVED"] + count["NOT COVERED"]
		share := 100.0
		if sum > 0 {
			share = 100 * float64(noticed) / float64(sum)
		}
		if share < wanted {
			below = append(below, t.rule)
		}
		fmt.Fprintf(out, "| %s | %s | %d | %d | %d | %d | %d | %.0f |\n", t.rule, t.names(), sum, noticed,
			count["LIVED"], count["NOT COVERED"], count["EQUIVALENT"], share)
	}
	if len(lived) > 0 {
		fmt.Fprintln(out, "\nNot noticed:")
		for _, m := range lived {
			fmt.Fprintf(out, "%s:%d\t%s\t%s\t%s\n", m.file, m.Line, m.Status, m.Type, m.source)
		}
	}
	if len(below) > 0 {
		return fmt.Errorf("below %d %%: %s", wanted, strings.Join(below, ", "))
	}
	return nil
}

// readTargets reads lines of rule, package and files, with tabs between them.
func readTargets(text string) (out []target, err error) {
	for line, f := range rows(text) {
		if len(f) != 3 {
			return nil, fmt.Errorf("targets.txt, line %d: want rule, package and files, with tabs between", line)
		}
		t := target{f[0], f[1], strings.Fields(f[2])}
		for _, name := range t.files {
			if _, err := os.Stat(filepath.Join(t.pkg, name)); err != nil {
				return nil, fmt.Errorf("targets.txt, line %d: %w; name the files as they are now", line, err)
			}
		}
		out = append(out, t)
	}
	return out, nil
}

// readEquivalent reads lines of file, kind of mistake, source line and reason,
// with tabs between them.
func readEquivalent(text string) (map[string]bool, error) {
	out := map[string]bool{}
	for line, f := range rows(text) {
		if len(f) != 4 || !strings.Contains(f[2], "«") {
			return nil, fmt.Errorf("equivalent.txt, line %d: want file, kind, source line with the operator in « » and reason, with tabs between", line)
		}
		out[strings.Join(f[:3], "\t")] = true
	}
	return out, nil
}

// rows are the fields of each line that is neither empty nor a comment, by the
// line's number.
func rows(text string) func(yield func(int, []string) bool) {
	return func(yield func(int, []string) bool) {
		for i, line := range strings.Split(text, "\n") {
			if line = strings.TrimSpace(line); line != "" && line[0] != '#' && !yield(i+1, strings.Split(line, "\t")) {
				return
			}
		}
	}
}

// choose keeps the targets that were asked for by package or by file; all
// without a wish.
func choose(targets []target, only []string) (out []target) {
	for _, t := range targets {
		if len(only) == 0 || slices.Contains(only, t.pkg) {
			out = append(out, t)
			continue
		}
		var files []string
		for _, f := range t.files {
			if slices.Contains(only, t.pkg+"/"+f) {
				files = append(files, f)
			}
		}
		if len(files) > 0 {
			out = append(out, target{t.rule, t.pkg, files})
		}
	}
	return out
}

func (t *target) names() string {
	return "`" + t.pkg + "/" + strings.Join(t.files, "`, `") + "`"
}

// mutate runs the tool on the target's files and reads what it found.
func (t *target) mutate(log io.Writer, verbose bool) ([]mutant, error) {
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	result := filepath.Join(dir, "result.json")
	args := []string{"run", gremlins, "unleash", "--workers", "1", "--timeout-coefficient", patience, "-o", result}
	others, err := t.others()
	if err != nil {
		return nil, err
	}
	for _, name := range others {
		args = append(args, "-E", "^"+regexp.QuoteMeta(name)+"$")
	}
	cmd := exec.Command("go", append(args, "./"+t.pkg)...)
	// The long tests would be run once for each mistake.
	cmd.Env = append(os.Environ(), "GOFLAGS="+strings.TrimSpace(os.Getenv("GOFLAGS")+" -short"))
	tail := &lastLines{}
	cmd.Stdout, cmd.Stderr = tail, tail
	if verbose {
		cmd.Stdout, cmd.Stderr = log, log
	}
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%s: gremlins: %w\n%s", t.pkg, err, tail.text)
	}
	text, err := os.ReadFile(result)
	if err != nil {
		return nil, err
	}
	var read struct {
		Files []struct {
			Name      string   `json:"file_name"`
			Mutations []mutant `json:"mutations"`
		}
	}
	if err := json.Unmarshal(text, &read); err != nil {
		return nil, err
	}
	var all []mutant
	for _, f := range read.Files {
		lines, err := readLines(filepath.Join(t.pkg, f.Name))
		if err != nil {
			return nil, err
		}
		for _, m := range f.Mutations {
			m.file = t.pkg + "/" + f.Name
			if m.Line < 1 || m.Line > len(lines) {
				return nil, fmt.Errorf("%s has no line %d: it was changed meanwhile", m.file, m.Line)
			}
			m.source = marked(lines[m.Line-1], m.Column)
			// Texts are added and cannot be subtracted, and the tool takes a build
			// that fails for a test that does.
			if m.Status != "LIVED" && strings.Contains(m.source, "«+»") && !m.try(dir, lines, "build") {
				continue
			}
			// The tool tries only what is counted as covered. The conditions of a
			// case and what stands outside of functions never are.
			if m.Status == "NOT COVERED" && !m.try(dir, lines, "test", "-short", "-failfast") {
				m.Status = "KILLED"
			}
			all = append(all, m)
		}
	}
	return all, nil
}

// others are the package's files that do not belong to the target, and those
// of packages below it.
func (t *target) others() (out []string, err error) {
	err = filepath.WalkDir(t.pkg, func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(t.pkg, path)
		if strings.HasSuffix(name, ".go") && !strings.HasSuffix(name, "_test.go") && !slices.Contains(t.files, name) {
			out = append(out, name)
		}
		return nil
	})
	return out, err
}

var operator = regexp.MustCompile(`^(<=|>=|==|!=|\+\+|--|\+=|-=|\*=|/=|&&|\|\||[-+*/%<>])`)

// marked is a source line with the operator at a column (from 1, in bytes)
// between « and ».
func marked(line string, column int) string {
	if column < 1 || column > len(line) {
		return strings.TrimSpace(line)
	}
	before, rest := line[:column-1], line[column-1:]
	op := operator.FindString(rest)
	return strings.TrimSpace(before + "«" + op + "»" + rest[len(op):])
}

// instead are the operators that each kind of mistake puts for others.
var instead = map[string]map[string]string{
	"ARITHMETIC_BASE":       {"+": "-", "-": "+", "*": "/", "/": "*", "%": "*"},
	"CONDITIONALS_BOUNDARY": {"<": "<=", "<=": "<", ">": ">=", ">=": ">"},
	"CONDITIONALS_NEGATION": {"==": "!=", "!=": "==", "<": ">=", "<=": ">", ">": "<=", ">=": "<"},
	"INVERT_NEGATIVES":      {"-": "+"},
	"INCREMENT_DECREMENT":   {"++": "--", "--": "++"},
}

// try makes the mistake beside the tree and reports whether the go command
// then succeeds on the package.
func (m *mutant) try(dir string, lines []string, command ...string) bool {
	changed := slices.Clone(lines)
	l := changed[m.Line-1]
	op := operator.FindString(l[m.Column-1:])
	changed[m.Line-1] = l[:m.Column-1] + instead[m.Type][op] + l[m.Column-1+len(op):]
	file, overlay := filepath.Join(dir, "changed.go"), filepath.Join(dir, "overlay.json")
	abs, err := filepath.Abs(m.file)
	if err != nil {
		return true
	}
	replace, _ := json.Marshal(map[string]map[string]string{"Replace": {abs: file}})
	if os.WriteFile(file, []byte(strings.Join(changed, "\n")), 0o600) != nil ||
		os.WriteFile(overlay, replace, 0o600) != nil {
		return true
	}
	args := append(command, "-overlay", overlay, "./"+filepath.Dir(m.file))
	var failed *exec.ExitError
	return !errors.As(exec.Command("go", args...).Run(), &failed)
}

func readLines(path string) ([]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var out []string
	s := bufio.NewScanner(f)
	for s.Scan() {
		out = append(out, s.Text())
	}
	return out, s.Err()
}

// lastLines keeps the end of what a command says, for its error.
type lastLines struct{ text []byte }

// Write never fails.
func (l *lastLines) Write(b []byte) (int, error) {
	l.text = append(l.text, b...)
	l.text = l.text[max(0, len(l.text)-4000):]
	return len(b), nil
}
