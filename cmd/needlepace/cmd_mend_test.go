package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/stitchfile"
)

func mendJSON(t *testing.T, args ...string) mendRow {
	t.Helper()
	out, stderr, code := invoke(t, append([]string{"mend", "--json"}, args...)...)
	if code != exitOK {
		t.Fatalf("status %d: %s", code, stderr)
	}
	var row mendRow
	if err := json.Unmarshal([]byte(out), &row); err != nil {
		t.Fatal(err)
	}
	return row
}

func TestMendWritesABetterFileAndLeavesTheInput(t *testing.T) {
	in := designs + "larkess-ferry.dst"
	before, err := os.ReadFile(in)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(t.TempDir(), "ferry.dst")
	row := mendJSON(t, in, "-o", out, "--release", "4")
	if !row.Written || row.Saved < 5 || row.After.ColourStops >= row.Before.ColourStops || !row.Search.Optimal {
		t.Errorf("%+v", row)
	}
	if row.Proof.DigestBefore != row.Proof.DigestAfter || row.Proof.Points == 0 {
		t.Errorf("proof %+v", row.Proof)
	}
	if after, _ := os.ReadFile(in); !bytes.Equal(before, after) {
		t.Error("the input was changed")
	}
	// The clock command must agree about the new file.
	text, _, _ := invoke(t, "clock", "--json", "-m", "single-15-light", out)
	var clocked struct {
		Seconds  float64
		Stitches int
	}
	if err := json.Unmarshal([]byte(text), &clocked); err != nil || clocked.Seconds != row.After.Seconds || clocked.Stitches != row.After.Stitches {
		t.Errorf("clock says %+v, mend said %v s, %d stitches", clocked, row.After.Seconds, row.After.Stitches)
	}
	// A second mend finds nothing, writes nothing and says so.
	again := filepath.Join(filepath.Dir(out), "again.dst")
	names := make([]string, len(row.Colours))
	for k, c := range row.Colours {
		names[k] = c.Thread
	}
	if second := mendJSON(t, out, "-o", again, "--threads", strings.Join(names, ",")); second.Written || second.Saved != 0 {
		t.Errorf("a second mend: %+v", second)
	}
	if _, err := os.Stat(again); err == nil {
		t.Error("nothing was mended and a file was written")
	}
}

func TestMendKeepsTheThreadTableInStep(t *testing.T) {
	out := filepath.Join(t.TempDir(), "ferry.dst")
	row := mendJSON(t, designs+"larkess-ferry.dst", "-o", out)
	files, err := stitchfile.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	threads := files[0].Design.Threads
	if len(threads) != len(row.Colours) {
		t.Fatalf("%d threads in the file, %d colours", len(threads), len(row.Colours))
	}
	for k, c := range row.Colours {
		if threads[k].Name != c.Thread {
			t.Errorf("block %d: %q in the file, %q in the answer", k+1, threads[k].Name, c.Thread)
		}
	}
}

func TestMendNeverOverwritesItsInputByAnotherName(t *testing.T) {
	dir := t.TempDir()
	b, err := os.ReadFile(designs + "larkess-ferry.dst")
	if err != nil {
		t.Fatal(err)
	}
	in, link, hard := filepath.Join(dir, "in.dst"), filepath.Join(dir, "link.dst"), filepath.Join(dir, "hard.dst")
	if err := os.WriteFile(in, b, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(in, link); err != nil {
		t.Skipf("no symbolic links here: %v", err)
	}
	if err := os.Link(in, hard); err != nil {
		t.Skipf("no links here: %v", err)
	}
	for _, out := range []string{link, hard, filepath.Join(dir, ".", "in.dst")} {
		if _, stderr, code := invoke(t, "mend", "--overwrite", in, "-o", out); code != exitUsage || !strings.Contains(stderr, "never overwrites") {
			t.Errorf("-o %s: status %d, %s", out, code, stderr)
		}
	}
	if got, _ := os.ReadFile(in); !bytes.Equal(got, b) {
		t.Error("the input was changed")
	}
}

func TestMendThatIsInterruptedGivesTheBestSoFar(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out.dst")
	ctx, cancel := context.WithCancel(context.Background())
	cancel() // Ctrl-C at once
	var stdout, stderr bytes.Buffer
	code := run(ctx, strings.NewReader(""), &stdout, &stderr, []string{"mend", designs + "larkess-ferry.dst", "-o", out, "--release", "4"})
	if code != exitOK {
		t.Fatalf("status %d: %s", code, stderr.String())
	}
	if files, err := stitchfile.ReadFile(out); err != nil || files[0].Design.Count().Stitches != 3960 {
		t.Errorf("%v", err)
	}
}

// TestManyThreadsAreNames: a list is names however long it is, not a file's name.
func TestManyThreadsAreNames(t *testing.T) {
	list := strings.Repeat("a colour with a long name,", 40) + "navy"
	names, from, err := threadNames(list)
	if err != nil || len(names) != 41 || from != "--threads" {
		t.Errorf("%d names from %q: %v", len(names), from, err)
	}
}

func TestMendTakesThreadsFromAFile(t *testing.T) {
	dir := t.TempDir()
	list := filepath.Join(dir, "threads.txt")
	if err := os.WriteFile(list, []byte("# the ferry\nnavy\nwhite\nNavy\nred\n red \nfoam\nwhite # again\nnavy\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	a := mendJSON(t, designs+"larkess-ferry.dst", "-o", filepath.Join(dir, "a.dst"), "--threads", list)
	b := mendJSON(t, designs+"larkess-ferry.dst", "-o", filepath.Join(dir, "b.dst"), "--threads", "navy,white,navy,red,red,foam,white,navy")
	if a.Saved != b.Saved || a.ThreadsFrom != list || a.Saved == 0 {
		t.Errorf("from the file %v s, from the list %v s", a.Saved, b.Saved)
	}
	none := mendJSON(t, designs+"larkess-ferry.dst", "-o", filepath.Join(dir, "c.dst"), "--threads", "?,?,?,?,?,?,?,?")
	if none.After.ColourStops != none.Before.ColourStops {
		t.Error("a colour stop went although no threads are known to be the same")
	}
}
