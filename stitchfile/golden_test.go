package stitchfile

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/stitch"
)

var update = flag.Bool("update", false, "write testdata/*.txt anew from what the readers say; review the difference")

// twin is a design as text: the header's part, the warnings, a record a line.
func twin(d *stitch.Design) string {
	var b strings.Builder
	fmt.Fprintf(&b, "format %s\nname %q\n", d.Format, d.Name)
	for _, t := range d.Threads {
		if t.Known {
			fmt.Fprintf(&b, "thread #%02X%02X%02X %q\n", t.R, t.G, t.B, t.Name)
		} else {
			fmt.Fprintf(&b, "thread unknown\n")
		}
	}
	for _, w := range d.Warnings {
		fmt.Fprintf(&b, "warning %s at byte %d: %s\n", w.Code, w.Offset, w.Text)
	}
	for _, r := range d.Records {
		fmt.Fprintf(&b, "%v %d %d\n", r.Op, r.DX, r.DY)
	}
	return b.String()
}

// The files of testdata are our own: the handmade ones of hand_test.go and a
// few with the faults that real files have. Each has a twin in words.
func TestEveryFileOfTestdataReadsAsItsTwin(t *testing.T) {
	made := map[string][]byte{
		// A header of 513 bytes, as one with a number too long for its field.
		"misaligned.dst": append(fmt.Appendf(nil, "%-513s", "LA:OUT OF STEP     \rST:     41\rCO:1000\r"),
			dstRun(40, dstEnd)[512:]...),
		"cut.dst":     append(dstRun(4), 0x81),
		"trailer.jef": makeJEF([]uint32{0, 5}, 4, 4, 0x80, 1, 9, 9, 4, 4, 0x80, 0x10, 1, 2, 3, 4),
		"empty.pes":   makePES(append(makePEC([]byte{1})[:pecFixed], 0xFF, 0)),
	}
	for _, h := range handmades {
		made[h.name] = h.bytes
	}
	if *update {
		for name, b := range made {
			if err := os.WriteFile(filepath.Join("testdata", name), b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	n := 0
	paths, err := filepath.Glob(filepath.Join("testdata", "*.*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range paths {
		if filepath.Ext(path) == ".txt" {
			continue
		}
		n++
		got, err := ReadFile(path)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		have := twin(got[0].Design)
		if *update {
			if err := os.WriteFile(path+".txt", []byte(have), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path + ".txt")
		if err != nil {
			t.Errorf("%s has no twin: %v", path, err)
			continue
		}
		w, h := strings.Split(string(want), "\n"), strings.Split(have, "\n")
		for i := range max(len(w), len(h)) {
			if i >= len(w) || i >= len(h) || w[i] != h[i] {
				t.Errorf("%s: line %d differs:\nwant %q\nhave %q", path, i+1, w[min(i, len(w)-1)], h[min(i, len(h)-1)])
				break
			}
		}
	}
	if n != len(made) {
		t.Errorf("%d files, want %d", n, len(made))
	}
}
