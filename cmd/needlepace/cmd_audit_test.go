package main

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"needlepace/audit"
)

const designs = "../../demo/designs/"

func keysOf(v any) string {
	var k []string
	for name := range v.(map[string]any) {
		k = append(k, name)
	}
	slices.Sort(k)
	return strings.Join(k, " ")
}

func TestAuditJSONKeysAreTheContract(t *testing.T) {
	out, _, code := invoke(t, "audit", "--json", "--pieces", "30", "-m", "multi-12", designs+"wheel-badge.dst")
	if code != exitOK {
		t.Fatalf("status %d", code)
	}
	var row map[string]any
	if err := json.Unmarshal([]byte(out), &row); err != nil {
		t.Fatal(err)
	}
	if got, want := keysOf(row), "caveats design file findings kept_stops label machine not_looked_at off pieces runs seconds stitches threads_from total total_seconds verdict warnings"; got != want {
		t.Errorf("keys:\n got %s\nwant %s", got, want)
	}
	findings := row["findings"].([]any)
	if len(findings) == 0 {
		t.Fatal("no findings in a design full of them")
	}
	one := slices.IndexFunc(findings, func(f any) bool { return f.(map[string]any)["places"] == nil }) // others gather several
	if got, want := keysOf(findings[max(one, 0)]), "alone_seconds ask block count from from_stitch kind number order_seconds radius_mm risk seconds severity split_seconds stitch_kind to to_stitch what x x_mm y y_mm"; got != want {
		t.Errorf("keys of a finding:\n got %s\nwant %s", got, want)
	}
	if row["runs"].(float64) != 3 { // 30 pieces on 12 heads
		t.Errorf("runs %v", row["runs"])
	}
	for _, key := range []string{"not_looked_at", "warnings"} {
		if _, ok := row[key].([]any); !ok {
			t.Errorf("%s is %v, want a list", key, row[key])
		}
	}
}

func TestAuditCSVIsSafeForSpreadsheets(t *testing.T) {
	dir := t.TempDir()
	b, err := os.ReadFile(designs + "wheel-badge.dst")
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(dir, "=cmd.dst")
	copy(b[3:19], "=HYPERLINK(1)   ") // the label in the header
	if err := os.WriteFile(name, b, 0o600); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	out, _, code := invoke(t, "audit", "--csv", "=cmd.dst")
	if code != exitOK {
		t.Fatalf("status %d", code)
	}
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil || len(rows) < 8 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, r := range rows[1:] {
		for _, c := range r {
			if c != "" && strings.ContainsRune("=+@", rune(c[0])) {
				t.Fatalf("a cell begins with %q: %q", c[0], c)
			}
		}
		if r[0] != "'=cmd" || r[1] != "'=cmd.dst" {
			t.Fatalf("design %q, file %q", r[0], r[1])
		}
	}
}

func TestAuditPicturesAreWritten(t *testing.T) {
	dir := t.TempDir()
	marks, heat := filepath.Join(dir, "marks.svg"), filepath.Join(dir, "heat.png")
	if _, stderr, code := invoke(t, "audit", designs+"wheel-badge.dst", "--picture", marks, "--heat", heat); code != exitOK {
		t.Fatalf("status %d: %s", code, stderr)
	}
	if b, err := os.ReadFile(marks); err != nil || !strings.HasPrefix(string(b), "<svg") || !strings.Contains(string(b), "no lock stitches") {
		t.Errorf("marked picture: %v", err)
	}
	if b, err := os.ReadFile(heat); err != nil || !strings.HasPrefix(string(b), "\x89PNG") {
		t.Errorf("heat picture: %v", err)
	}
}

func TestAuditLimitsCanBeSet(t *testing.T) {
	out, _, code := invoke(t, "audit", "--show-thresholds")
	if code != exitOK {
		t.Fatalf("status %d", code)
	}
	if _, err := audit.ParseLimits("shown", []byte(out)); err != nil {
		t.Errorf("what --show-thresholds prints is no file of thresholds: %v", err)
	}
	file := filepath.Join(t.TempDir(), "limits.toml")
	if err := os.WriteFile(file, []byte("[limits]\ntrim_way = 0\ncovered_way = 0\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, _, code = invoke(t, "audit", "--thresholds", file, designs+"ostrel-light-trims.dst")
	if code != exitOK || strings.Contains(out, "needless trims") {
		t.Errorf("status %d: with no way short enough there is no needless trim:\n%s", code, out)
	}
}

func TestAuditAndMendRefuseBadCommandLines(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "out.dst")
	bad := filepath.Join(dir, "bad.toml")
	if err := os.WriteFile(bad, []byte("[limits]\ntrim_way = 500\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	rubbish := filepath.Join(dir, "rubbish.dst")
	if err := os.WriteFile(rubbish, []byte("not a stitch file"), 0o600); err != nil {
		t.Fatal(err)
	}
	f := designs + "larkess-ferry.dst"
	for _, tt := range []struct {
		args string
		code int
		says string
	}{
		{"audit", exitUsage, "name a stitch file"},
		{"audit --json --csv " + f, exitUsage, "choose one"},
		{"audit --pieces 0 " + f, exitUsage, "--pieces"},
		{"audit --hoop 10 " + f, exitUsage, "--hoop"},
		{"audit --hoop 10xNaN " + f, exitUsage, "--hoop"},
		{"audit --threads a,b " + f, exitUsage, "8 colour blocks"},
		{"audit --thresholds nosuch.toml " + f, exitUsage, "--thresholds"},
		{"audit --thresholds " + bad + " " + f, exitUsage, "bad.toml:2"},
		{"audit -m nosuch " + f, exitUsage, "nosuch"},
		{"audit nosuch.dst", exitPartial, "nosuch.dst"},
		{"audit " + rubbish, exitPartial, "rubbish.dst"},
		{"audit --picture x.gif " + f, exitUsage, ".svg or .png"},
		{"mend " + f, exitUsage, "out"},
		{"mend -o " + filepath.Join(dir, "x.pec") + " " + f, exitUsage, ".dst"},
		{"mend -o " + dir + " " + f, exitUsage, "must end in"},
		{"mend -o " + rubbish + " " + f, exitUsage, "there already"},
		{"mend --overwrite -o " + f + " " + f, exitUsage, "never overwrites its input"},
		{"mend --seconds 0 -o " + out + " " + f, exitUsage, "--seconds"},
		{"mend --speed 3 -o " + out + " " + f, exitUsage, "speed"},
		{"mend -o " + filepath.Join(dir, "no", "such", "out.dst") + " " + f, exitPartial, "--output"},
		{"mend -o " + out + " " + rubbish, exitPartial, "rubbish.dst"},
	} {
		_, stderr, code := invoke(t, strings.Fields(tt.args)...)
		if code != tt.code || !strings.Contains(stderr, tt.says) {
			t.Errorf("%s: status %d, %q", tt.args, code, stderr)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("a refused mend wrote a file")
	}
}
