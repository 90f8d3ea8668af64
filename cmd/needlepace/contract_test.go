package main

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// invoke runs the command as main does and gives what it printed.
func invoke(t testing.TB, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	return invokeWith(t, "", args...)
}

func invokeWith(t testing.TB, in string, args ...string) (stdout, stderr string, code int) {
	t.Helper()
	var out, err bytes.Buffer
	code = run(context.Background(), strings.NewReader(in), &out, &err, args)
	return out.String(), err.String(), code
}

// The keys of clock --json, stable from the first day.
func TestJSONKeysAreTheContract(t *testing.T) {
	out, _, code := invoke(t, "clock", "--json", "-m", "multi-12", "../../demo/designs/ostrel-light.dst")
	if code != exitOK {
		t.Fatalf("status %d", code)
	}
	var row map[string]any
	if err := json.Unmarshal([]byte(out), &row); err != nil {
		t.Fatal(err)
	}
	keys := func(v any) string {
		var k []string
		for name := range v.(map[string]any) {
			k = append(k, name)
		}
		slices.Sort(k)
		return strings.Join(k, " ")
	}
	for _, c := range []struct {
		what, want string
		in         any
	}{
		{"object", "caveats colour_stops design file height_mm held_speed interval jumps label long_stitches_by machine naive_seconds overall_speed parts rated_speed rethreads revolutions seconds set_speed stitches thread trims verdict warnings width_mm", row},
		{"interval", "high level low", row["interval"]},
		{"thread", "bobbin_m top_g top_m top_m_by_block", row["thread"]},
		{"parts", "at_set_speed colour_stops control long_stitches ramps start_end stops travel trims", row["parts"]},
		{"long_stitches_by", "frame_x frame_y ladder turn", row["long_stitches_by"]},
	} {
		if got := keys(c.in); got != c.want {
			t.Errorf("keys of %s:\n got %s\nwant %s", c.what, got, c.want)
		}
	}
	if _, ok := row["warnings"].([]any); !ok {
		t.Errorf("warnings is %v, want a list even where there are none", row["warnings"])
	}
	sum := 0.0
	for _, v := range row["parts"].(map[string]any) {
		sum += v.(float64)
	}
	if s := row["seconds"].(float64); math.Abs(sum-s) > 1e-9*s {
		t.Errorf("parts add up to %v, seconds are %v", sum, s)
	}
}

// The rows of a folder are those of its files, however it is cut up.
func TestSplittingAFolderChangesNothing(t *testing.T) {
	files, err := filepath.Glob("../../demo/designs/*.dst")
	if err != nil || len(files) < 6 {
		t.Fatalf("demo designs: %v %v", files, err)
	}
	rows := func(args ...string) []string {
		out, _, code := invoke(t, append([]string{"clock", "--json", "-m", "multi-6", "-m", "home-1"}, args...)...)
		if code != exitOK {
			t.Fatalf("status %d", code)
		}
		return strings.Split(strings.TrimSpace(out), "\n")
	}
	whole := rows(files...)
	if len(whole) != 2*len(files) {
		t.Fatalf("%d rows for %d files on two machines", len(whole), len(files))
	}
	var cut []string
	for i := 0; i < len(files); i += 3 {
		cut = append(cut, rows(files[i:min(i+3, len(files))]...)...)
	}
	if !slices.Equal(whole, cut) {
		t.Error("clocking the folder in three-file pieces gave other rows")
	}
	dir := t.TempDir()
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(f)), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for i, row := range rows(dir) {
		if strings.ReplaceAll(row, dir, "../../demo/designs") != whole[i] {
			t.Errorf("row %d of the folder differs from the file's", i)
		}
	}
}

func TestExitStatuses(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.jef")
	if err := os.WriteFile(bad, []byte("no"), 0o600); err != nil {
		t.Fatal(err)
	}
	good := "../../demo/designs/ostrel-light.dst"
	for _, c := range []struct {
		want int
		args []string
	}{
		{exitOK, []string{"clock", "-m", "multi-6", good}},
		{exitOK, []string{"--help"}},
		{exitOK, []string{}},
		{exitPartial, []string{"clock", "-m", "multi-6", good, bad}},
		{exitPartial, []string{"clock", "-m", "multi-6", bad}},
		{exitPartial, []string{"clock", "nowhere.dst"}},
		{exitUsage, []string{"clock"}},
		{exitUsage, []string{"no-such-command"}},
		{exitUsage, []string{"clock", "-m", "no-such-class", good}},
	} {
		if _, stderr, code := invoke(t, c.args...); code != c.want {
			t.Errorf("%v: status %d, want %d (%s)", c.args, code, c.want, stderr)
		}
	}
}

func TestCSVCellsAreNoFormulas(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+x": "'+x", "-2": "'-2", "@a": "'@a", "harbour": "harbour", "": "", "a=b": "a=b",
	} {
		if got := cell(in); got != want {
			t.Errorf("cell(%q) = %q, want %q", in, got, want)
		}
	}
}

// A cancelled command stops between machines, prints no half a result as a
// whole one, and says so in its status.
func TestCancelledClockStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var out, errs bytes.Buffer
	code := run(ctx, strings.NewReader(""), &out, &errs, []string{"clock", "--json", "../../demo/designs"})
	if code != exitPartial || out.Len() > 0 || !strings.Contains(errs.String(), "stopped") {
		t.Errorf("status %d, printed %q and %q", code, out.String(), errs.String())
	}
}

func TestNamesCannotSteerTheTerminal(t *testing.T) {
	for in, want := range map[string]string{
		"harbour.dst": "harbour.dst", "höhe 1.dst": "höhe 1.dst",
		"esc\x1b[31m.dst": `"esc\x1b[31m.dst"`, "two\nlines": `"two\nlines"`,
	} {
		if got := printable(in); got != want {
			t.Errorf("printable(%q) = %s, want %s", in, got, want)
		}
	}
}
