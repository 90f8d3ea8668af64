package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"needlepace/machine"
)

// machines runs `needlepace machines …` as a user would.
func machines(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), strings.NewReader(""), &o, &e, append([]string{"machines"}, args...))
	return o.String(), e.String(), code
}

func TestMachinesListsEveryClassAndConstant(t *testing.T) {
	out, errs, code := machines(t)
	if code != exitOK || errs != "" {
		t.Fatalf("status %d: %s", code, errs)
	}
	for _, s := range machine.Classes() {
		if !strings.Contains(out, "\n"+s.Name+" ") || !strings.Contains(out, s.Class) {
			t.Errorf("the list lacks %s", s.Name)
		}
	}
	for k := range machine.Classes()[0].Constants() {
		if !strings.Contains(out, "\n"+k.Path+" ") && k.Path != "heads" && k.Path != "needles" && k.Path != "max_speed" {
			t.Errorf("the list lacks %s", k.Path)
		}
	}
	for _, line := range strings.Split(out, "\n") {
		if n := cells(line); n > 100 {
			t.Errorf("%d columns: %q", n, line)
		}
	}
}

func TestMachinesJSONHoldsEveryConstant(t *testing.T) {
	out, _, code := machines(t, "--json")
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if code != exitOK || len(lines) != len(machine.Classes()) {
		t.Fatalf("status %d, %d lines", code, len(lines))
	}
	for i, s := range machine.Classes() {
		var got sheetJSON
		if err := json.Unmarshal([]byte(lines[i]), &got); err != nil {
			t.Fatal(err)
		}
		if got.Name != s.Name || len(got.Constants) != len(slices.Collect(s.Constants())) {
			t.Errorf("line %d is %s with %d constants", i+1, got.Name, len(got.Constants))
		}
		for k := range s.Constants() {
			if c := got.Constants[k.Path]; c.Value != k.Get(s) || c.SD != s.SD[k.Path] || c.Basis != machine.Assumed || c.Unit != k.Unit {
				t.Errorf("%s: %s is %+v", s.Name, k.Path, c)
			}
		}
	}
}

func TestMachinesShowPrintsASheetThatCheckTakes(t *testing.T) {
	for _, s := range machine.Classes() {
		out, errs, code := machines(t, "show", s.Name, "--name", `Bay "2" – Zoë`)
		if code != exitOK {
			t.Fatalf("%s: status %d: %s", s.Name, code, errs)
		}
		file := filepath.Join(t.TempDir(), "bay2.toml")
		if err := os.WriteFile(file, []byte(out), 0o644); err != nil {
			t.Fatal(err)
		}
		out, errs, code = machines(t, "check", file)
		if code != exitOK || errs != "" || !strings.Contains(out, `a valid sheet of Bay "2" – Zoë`) || !strings.Contains(out, "25 assumed") {
			t.Errorf("%s: status %d: %s%s", s.Name, code, out, errs)
		}
	}
}

func TestMachinesCheckSaysWhatIsWrongAndChecksTheRest(t *testing.T) {
	dir := t.TempDir()
	good, bad := filepath.Join(dir, "good.toml"), filepath.Join(dir, "bad.toml")
	s, _ := machine.Class("multi-6")
	text := string(s.TOML())
	for file, b := range map[string]string{good: text, bad: strings.Replace(text, "accel_x = 18600", "acel_x = 18.6", 1)} {
		if err := os.WriteFile(file, []byte(b), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	out, errs, code := machines(t, "check", bad, filepath.Join(dir, "none.toml"), good)
	if code != exitPartial || !strings.Contains(out, "good.toml: a valid sheet") {
		t.Errorf("status %d: %s", code, out)
	}
	for _, want := range []string{"bad.toml: 2 problems", "line 1", "did you mean frame.accel_x?", "100 to 500000 mm/s²", "none.toml"} {
		if !strings.Contains(errs, want) {
			t.Errorf("errors lack %q:\n%s", want, errs)
		}
	}
}

func TestMachinesUsageErrors(t *testing.T) {
	for _, args := range [][]string{{"show"}, {"show", "multi-7"}, {"show", "home-1", "--name", strings.Repeat("x", 201)}, {"check"}} {
		if out, errs, code := machines(t, args...); code != exitUsage || out != "" || errs == "" {
			t.Errorf("%v: status %d, %q, %q", args, code, out, errs)
		}
	}
}
