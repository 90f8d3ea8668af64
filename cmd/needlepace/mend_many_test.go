package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// customersFolder is a folder of a customer: a design, two in folders of one
// name, a container, rubbish and a note.
func customersFolder(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	put := func(name, from string) {
		t.Helper()
		b, err := os.ReadFile(designs + from)
		if err == nil {
			err = os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o755)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name), b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	put("ferry.dst", "larkess-ferry.dst")
	put("cap/logo.dst", "gull-cap.dst")
	put("chest/logo.dst", "whale-line.dst")
	old := zipOf(t, "wheel-badge.dst", "wheel-badge.dst", "saltmere-oars.dst", "saltmere-oars.dst")
	for name, content := range map[string][]byte{"old.zip": old, "rubbish.dst": []byte("no design"), "note.txt": nil} {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// zipOf is a container: of each entry its name, and the demo's design that it is.
func zipOf(t *testing.T, entries ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for e := range slices.Chunk(entries, 2) {
		content, err := os.ReadFile(designs + e[1])
		if err != nil {
			t.Fatal(err)
		}
		w, err := z.Create(e[0])
		if err == nil {
			_, err = w.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// contents is every file below a folder.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	if err := os.CopyFS(t.TempDir(), os.DirFS(dir)); err != nil { // all can be read
		t.Fatal(err)
	}
	err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		all[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestMendOfAFolderWritesNewFilesAndOverwritesNone(t *testing.T) {
	dir, out := customersFolder(t), filepath.Join(t.TempDir(), "new")
	before := contents(t, dir)
	if err := os.MkdirAll(out, 0o755); err != nil {
		t.Fatal(err)
	}
	const mine = "not to be touched"
	if err := os.WriteFile(filepath.Join(out, "ferry-mended.dst"), []byte(mine), 0o600); err != nil {
		t.Fatal(err)
	}
	text, stderr, code := invoke(t, "mend", "--json", "-m", "compact-8", "-o", out, dir)
	var a ask.MendManyAnswer
	if err := json.Unmarshal([]byte(text), &a); err != nil {
		t.Fatal(err)
	}
	if code != exitPartial || len(a.Designs) != 6 || a.Failed != 2 || a.Mended < 3 || a.Saved <= 0 {
		t.Fatalf("status %d, %s; %+v", code, stderr, a)
	}
	for _, want := range []string{"ferry-mended.dst is there already", "rubbish.dst"} {
		if !strings.Contains(stderr, want) {
			t.Errorf("it does not say %q: %s", want, stderr)
		}
	}
	for _, d := range a.Designs {
		if strings.HasSuffix(d.ID, "ferry.dst") && (d.Mend != nil || d.Before != 0) {
			t.Errorf("a name was taken, and its design was searched all the same: %+v", d)
		}
	}
	after := contents(t, out)
	if after["ferry-mended.dst"] != mine {
		t.Error("a file that was there was overwritten")
	}
	written := 1
	for _, d := range a.Designs {
		if d.Error != "" || !d.Changed {
			if d.Kept != "" {
				t.Errorf("%s: put in %s", d.ID, d.Kept)
			}
			continue
		}
		written++
		files, err := stitchfile.ReadFile(d.Kept)
		if err != nil || len(files) != 1 {
			t.Fatalf("%s: %v", d.Kept, err)
		}
		if got := files[0].Design.Count().Stitches; got != d.Mend.After.Stitches {
			t.Errorf("%s: %d stitches, said %d", d.Kept, got, d.Mend.After.Stitches)
		}
	}
	if len(after) != written {
		t.Errorf("%d files written, want %d", len(after), written)
	}
	for _, name := range []string{"cap/logo-mended.dst", "chest/logo-mended.dst"} {
		if after[name] == "" {
			t.Errorf("%s is not there", name)
		}
	}
	if got := contents(t, dir); len(got) != len(before) {
		t.Errorf("the customer's folder has %d files, had %d", len(got), len(before))
	} else {
		for name, was := range before {
			if got[name] != was {
				t.Errorf("%s was changed", name)
			}
		}
	}
	// Once more: nothing is mended twice into one name.
	if _, stderr, code := invoke(t, "mend", "--csv", "-m", "compact-8", "-o", out, dir); code != exitPartial ||
		strings.Count(stderr, "is there already") != written {
		t.Errorf("again: status %d, %s", code, stderr)
	}
}

// TestMendOfAContainerKeepsItsFolders, and leaves the output's folder by no name.
func TestMendOfAContainerKeepsItsFolders(t *testing.T) {
	dir, out := t.TempDir(), filepath.Join(t.TempDir(), "new")
	const gull = "gull-cap.dst"
	all := zipOf(t, "logo.dst", gull, "cap/logo.dst", gull, "cap/left/logo.dst", gull, "../logo.dst", gull, "../../etc/logo.dst", gull,
		"/abs/logo.dst", gull)
	if err := os.MkdirAll(filepath.Join(dir, "spring"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "spring", "all.zip"), all, 0o600); err != nil {
		t.Fatal(err)
	}
	if text, stderr, code := invoke(t, "mend", "--json", "-m", "compact-8", "--seconds", "0.2", "-o", out, dir); code != exitOK {
		t.Fatalf("status %d, %s %s", code, text, stderr)
	}
	got := slices.Sorted(maps.Keys(contents(t, filepath.Dir(out))))
	want := []string{"new/spring/cap/left/logo-mended.dst", "new/spring/cap/logo-mended.dst", "new/spring/logo-mended-2.dst",
		"new/spring/logo-mended-3.dst", "new/spring/logo-mended-4.dst", "new/spring/logo-mended.dst"}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestMendOfSeveralWithoutAFolderWritesNothing(t *testing.T) {
	dir := customersFolder(t)
	t.Chdir(dir)
	before := contents(t, dir)
	text, _, code := invoke(t, "mend", "-m", "compact-8", "ferry.dst", "cap/logo.dst", "old.zip")
	if code != exitOK {
		t.Fatalf("status %d, %s", code, text)
	}
	for _, want := range []string{"Picture equal: proved", "Order the best possible: proved", "saltmere-oars", "proved equal", "proved the best",
		"all with a new file", "nothing was written", "What the seconds are worth is missing"} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	if got := contents(t, dir); len(got) != len(before) {
		t.Errorf("%d files, were %d", len(got), len(before))
	}
	text, _, code = invoke(t, "mend", "-m", "../../demo/shop/gannet.toml", "ferry.dst")
	if code != exitUsage {
		t.Errorf("one design without --output: status %d, %s", code, text)
	}
}

func TestMendOnlyClearLeavesOperatorsStopsToALook(t *testing.T) {
	dir, out := customersFolder(t), t.TempDir()
	// The frame is driven 80 mm out, stops, and is driven back.
	d, _, err := readOne(filepath.Join(dir, "ferry.dst"))
	if err != nil {
		t.Fatal(err)
	}
	driveOut(d)
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, d, "dst"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "hand.dst"), b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	os.Remove(filepath.Join(dir, "rubbish.dst"))
	text, stderr, code := invoke(t, "mend", "--json", "--only-clear", "-m", "compact-8", "-o", out, dir)
	var a ask.MendManyAnswer
	if err := json.Unmarshal([]byte(text), &a); err != nil || code != exitOK {
		t.Fatalf("status %d, %s, %v", code, stderr, err)
	}
	i := slices.IndexFunc(a.Designs, func(d ask.MendedDesign) bool { return filepath.Base(d.ID) == "hand.dst" })
	if h := a.Designs[i]; h.Stops != 1 || h.Clear || !h.Equal || !h.Changed || h.Kept != "" {
		t.Errorf("%+v", h)
	}
	after := contents(t, out)
	if after["hand-mended.dst"] != "" || after["ferry-mended.dst"] == "" || len(after) != a.Clear {
		t.Errorf("%d files, %d are clear", len(after), a.Clear)
	}
}

// A file of another format, where the old one has what that has no form for, is
// not written: it says why, and what instead; the others are.
func TestMendOfAFolderWritesTheFormatThatIsAskedFor(t *testing.T) {
	dir, out := customersFolder(t), t.TempDir()
	os.Remove(filepath.Join(dir, "rubbish.dst"))
	d, _, err := readOne(filepath.Join(dir, "ferry.dst"))
	if err != nil {
		t.Fatal(err)
	}
	at := slices.IndexFunc(d.Records, func(r stitch.Record) bool { return r.Op == stitch.ColourStop })
	d.Records = slices.Insert(d.Records, at, stitch.Record{Op: stitch.Sequin, DX: 30})
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, d, "dst"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "sequin.dst"), b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	text, stderr, code := invoke(t, "mend", "--json", "--format", ".PES", "-m", "compact-8", "-o", out, dir)
	var a ask.MendManyAnswer
	if err := json.Unmarshal([]byte(text), &a); err != nil || code != exitPartial {
		t.Fatalf("status %d, %s, %v", code, stderr, err)
	}
	if a.Failed != 1 || a.Mended < 3 || !strings.Contains(stderr, "sequin.dst: ") ||
		!strings.Contains(stderr, "a .pes file has no sequin; write .dst, or take the sequins out") {
		t.Errorf("%d failed, %d mended: %s", a.Failed, a.Mended, stderr)
	}
	after := contents(t, out)
	if len(after) != a.Mended {
		t.Errorf("%d files, %d mended", len(after), a.Mended)
	}
	for name, content := range after {
		d, err := stitchfile.Decode([]byte(content), name)
		if err != nil || d.Format != "pes" || filepath.Ext(name) != ".pes" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// driveOut drives the frame 80 mm out before the second object, stops there,
// and drives it back.
func driveOut(d *stitch.Design) {
	at := slices.IndexFunc(d.Records, func(r stitch.Record) bool { return r.Op == stitch.ColourStop })
	var out []stitch.Record
	for _, dx := range []int16{-100, 100} {
		for range 8 {
			out = append(out, stitch.Record{Op: stitch.Jump, DX: dx})
		}
		if dx < 0 {
			out = append(out, stitch.Record{Op: stitch.ColourStop})
		}
	}
	d.Records = slices.Replace(d.Records, at, at+1, out...)
}

func TestMendOfManyRefusesWhatIsOfOne(t *testing.T) {
	dir := customersFolder(t)
	f := filepath.Join(dir, "ferry.dst")
	for _, tt := range []struct{ args, says string }{
		{"mend --threads a,b " + dir, "one design"},
		{"mend --release 1 " + dir, "one design"},
		{"mend --needles 1,2 " + dir, "one design"},
		{"mend --picture x.svg " + dir, "one design"},
		{"mend --overwrite -o x " + dir, "no file is ever overwritten"},
		{"mend --only-clear " + dir, "--output"},
		{"mend --workshop nosuch.toml " + dir, "--workshop"},
		{"mend -o " + f + " " + dir, "is a file"},
		{"mend --only-clear -o x.dst " + f, "many designs"},
		{"mend --workshop w.toml -o x.dst " + f, "many designs"},
		{"mend --csv -o x.dst " + f, "many designs"},
		{"mend --format pec -o x " + dir, "no .pec file can be written; ask for one of"},
		{"mend --format pes -o x.dst " + f, "let the name end in .pes"},
	} {
		if _, stderr, code := invoke(t, strings.Fields(tt.args)...); code != exitUsage || !strings.Contains(stderr, tt.says) {
			t.Errorf("%s: status %d, %q", tt.args, code, stderr)
		}
	}
}

// Two designs of one name, or one in two formats, both get a new file; the same names
// again where it is done again, so that none is mended twice.
func TestNewFilesThatWantOneNameAreNumbered(t *testing.T) {
	dir, out := customersFolder(t), t.TempDir()
	args := []string{"mend", "--csv", "-m", "compact-8", "-o", out, filepath.Join(dir, "cap", "logo.dst"),
		filepath.Join(dir, "chest", "logo.dst")}
	if text, stderr, code := invoke(t, args...); code != exitOK {
		t.Fatalf("status %d, %s%s", code, text, stderr)
	}
	if got := contents(t, out); len(got) != 2 || got["logo-mended.dst"] == "" || got["logo-mended-2.dst"] == "" {
		t.Errorf("%d new files: %v", len(got), slices.Sorted(maps.Keys(got)))
	}
	if _, stderr, code := invoke(t, args...); code != exitPartial || strings.Count(stderr, "is there already") != 2 {
		t.Errorf("again: status %d, %s", code, stderr)
	}
}

// A folder that cannot be written in is known before the first search, which may take long.
func TestMendOfManyLooksWhetherItCanWrite(t *testing.T) {
	dir := customersFolder(t)
	var from mendFolder
	from.output = filepath.Join(dir, "new")
	if err := from.folder(); err != nil {
		t.Fatal(err)
	}
	if left, err := os.ReadDir(from.output); err != nil || len(left) > 0 {
		t.Errorf("it leaves %v, %v", left, err)
	}
	from.output = "/proc/self" // nobody can make a file there, root neither
	if _, err := os.Stat(from.output); err != nil {
		t.Skip("no folder here that nobody can write in")
	}
	text, stderr, code := invoke(t, "mend", "-m", "compact-8", "-o", from.output, dir)
	if code == 0 || text != "" || !strings.Contains(stderr, "nothing can be written in /proc/self") {
		t.Errorf("status %d: %s %s", code, text, stderr)
	}
}

// A name that is taken between the look and the writing is left alone, a link too; and
// what is read back otherwise than it was written is told.
func TestANewFileTakesNoNamesPlace(t *testing.T) {
	dir := t.TempDir()
	there, link := filepath.Join(dir, "there.dst"), filepath.Join(dir, "link.dst")
	if err := os.WriteFile(there, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(there, link); err != nil {
		t.Skip(err)
	}
	for _, path := range []string{there, link} {
		if err := createNew(path, []byte("new")); err == nil || !strings.Contains(err.Error(), "no file is overwritten") {
			t.Errorf("%s: %v", path, err)
		}
	}
	if b, err := os.ReadFile(there); string(b) != "mine" {
		t.Errorf("it holds %q now, %v", b, err)
	}
	if err := readsBack(there, []byte("mine")); err != nil {
		t.Error(err)
	}
	for _, other := range []string{"mind", "mine, and more", "min"} {
		if readsBack(there, []byte(other)) == nil {
			t.Errorf("%q was written and %q is there: nothing is said", other, "mine")
		}
	}
}
