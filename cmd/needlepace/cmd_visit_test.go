package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A visit holds a trial and what comes back to it; it says what the same files say on
// disk, goes to another shop as one file, and is erased.
func TestAVisitGoesTheWholeWay(t *testing.T) {
	dir := t.TempDir()
	data, other, file := filepath.Join(dir, "shop.db"), filepath.Join(dir, "other.db"), filepath.Join(dir, "visit.zip")
	visit := func(want int, args ...string) string {
		t.Helper()
		out, errs, code := invoke(t, append([]string{"visit"}, args...)...)
		if code != want {
			t.Fatalf("visit %v: status %d: %s%s", args, code, out, errs)
		}
		return out + errs
	}
	visit(exitOK, "begin", "Quay", "--client", "Pellsand Quay Stitchery", "--data", data, "--new")
	if out := visit(exitOK, "plan", "Quay", "autumn", demoTrial, "--data", data); !strings.Contains(out, "36 runs in 2 places") {
		t.Errorf("planned: %s", out)
	}
	if out := visit(exitOK, "return", "quay", "autumn", demoReturns, "--data", data); !strings.Contains(out, "Fast offer is first") {
		t.Errorf("returned: %s", out)
	}
	if out := visit(exitOK, "return", "Quay", "autumn", demoReturns, "--data", data); !strings.Contains(out, "is here already, as times-quay.csv") {
		t.Errorf("returned again: %s", out)
	}
	bad := filepath.Join(dir, "quay-1.jpg")
	if err := os.WriteFile(bad, []byte("none"), 0o600); err != nil {
		t.Fatal(err)
	}
	if out := visit(exitOK, "return", "Quay", "autumn", bad, "--data", data); !strings.Contains(out, "is none that can be read") {
		t.Errorf("a photograph that is none: %s", out)
	}
	var inVisit map[string]any
	if err := json.Unmarshal([]byte(visit(exitOK, "trial", "Quay", "autumn", "--json", "--data", data)), &inVisit); err != nil {
		t.Fatal(err)
	}
	onDisk := trialJSON(t, "read", demoTrial, demoReturns, "--json")
	same := func(key string) {
		a, _ := json.Marshal(inVisit[key])
		b, _ := json.Marshal(onDisk[key])
		if !bytes.Equal(a, b) || len(a) < 10 {
			t.Errorf("%s in the visit is %s, on disk %s", key, a, b)
		}
	}
	for _, key := range []string{"ranks", "cells", "money", "verdict", "agreement"} {
		same(key)
	}

	visit(exitOK, "export", "Quay", file, "--data", data)
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what, says string
		file       []byte
	}{
		{"torn", "cut off on its way", whole[:len(whole)-500]},
		{"another zip", "this zip is no visit", zipWith(t, nil, map[string]string{"a.txt": "a"})},
		{"a file changed", "is not what was put in", zipWith(t, whole, map[string]string{"trials/autumn/returns/times-quay.csv": "trial,place\n"})},
		{"a file put in", "somebody put it there", zipWith(t, whole, map[string]string{"notes/new.txt": "x"})},
		{"a file taken out", "is missing in the visit", zipWith(t, whole, map[string]string{"trials/autumn/returns/times-quay.csv": ""})},
		{"a name out of the folder", "is in none of the folders", zipWith(t, whole, map[string]string{"MANIFEST.json": `{"needlepace_visit":1,"visit":{"id":"a","name":"A"},"files":[{"name":"../../etc/x","bytes":1}]}`})},
		{"a newer form", "take a newer program", zipWith(t, whole, map[string]string{"MANIFEST.json": `{"needlepace_visit":2,"visit":{"id":"a","name":"A"}}`})},
	} {
		at := filepath.Join(dir, "bad.zip")
		if err := os.WriteFile(at, c.file, 0o600); err != nil {
			t.Fatal(err)
		}
		if out := visit(exitPartial, "import", at, "--data", data); !strings.Contains(out, c.says) {
			t.Errorf("%s: %s", c.what, out)
		}
	}
	if out := visit(exitPartial, "import", file, "--data", data); !strings.Contains(out, "is here already") {
		t.Errorf("imported twice: %s", out)
	}
	visit(exitOK, "import", file, "--data", other, "--new")
	moved := inVisit
	if err := json.Unmarshal([]byte(visit(exitOK, "trial", "Quay", "autumn", "--json", "--data", other)), &inVisit); err != nil {
		t.Fatal(err)
	}
	onDisk = moved
	same("ranks")
	visit(exitOK, "export", "Quay", filepath.Join(dir, "again.zip"), "--data", other)
	if again, err := os.ReadFile(filepath.Join(dir, "again.zip")); err != nil || !bytes.Equal(again, whole) {
		t.Errorf("from the other shop it is another file: %d and %d bytes, %v", len(again), len(whole), err)
	}
	visit(exitOK, "unpack", "Quay", filepath.Join(dir, "out"), "--data", other)
	onDisk = trialJSON(t, "read", filepath.Join(dir, "out/trials/autumn/TRIAL.toml"), filepath.Join(dir, "out/trials/autumn/returns"), "--json")
	same("ranks")

	if out := visit(exitPartial, "erase", "Quay", "--data", data); !strings.Contains(out, "put the visit away first") {
		t.Errorf("erased at once: %s", out)
	}
	visit(exitOK, "away", "Quay", "--data", data)
	if out := visit(exitPartial, "put", "Quay", "notes", bad, "--data", data); !strings.Contains(out, "put it back first") {
		t.Errorf("put into one that is away: %s", out)
	}
	visit(exitOK, "erase", "Quay", "--data", data)
	if out := visit(exitPartial, "show", "Quay", "--data", data); !strings.Contains(out, "there is no visit") {
		t.Errorf("shown: %s", out)
	}
}

// zipWith is a zip with some files changed or added; empty: taken out.
func zipWith(t *testing.T, whole []byte, change map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	put := func(name string, content []byte) {
		f, err := w.Create(name)
		if err == nil {
			_, err = f.Write(content)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if whole != nil {
		r, err := zip.NewReader(bytes.NewReader(whole), int64(len(whole)))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range r.File {
			x, ok := change[f.Name]
			delete(change, f.Name)
			if ok && x == "" {
				continue
			}
			content := []byte(x)
			if !ok {
				if content, err = fs.ReadFile(r, f.Name); err != nil {
					t.Fatal(err)
				}
			}
			put(f.Name, content)
		}
	}
	for name, content := range change {
		put(name, []byte(content))
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
