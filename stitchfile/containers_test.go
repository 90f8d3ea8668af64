package stitchfile

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/stitch"
)

type entry struct {
	name string
	b    []byte
}

func makeZip(t testing.TB, entries ...entry) []byte {
	t.Helper()
	var buf bytes.Buffer
	z := zip.NewWriter(&buf)
	for _, e := range entries {
		w, err := z.Create(e.name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write(e.b); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func makeGzip(t testing.TB, b []byte) []byte {
	t.Helper()
	var buf bytes.Buffer
	z := gzip.NewWriter(&buf)
	if _, err := z.Write(b); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestAZipGivesItsDesignsAndSkipsTheRest(t *testing.T) {
	b := makeZip(t,
		entry{"readme.txt", []byte("not a design")},
		entry{"a/cap.dst", dstRun(5, dstEnd)},
		entry{"__MACOSX/a/._cap.dst", []byte("resource fork")},
		entry{"a/bad.dst", []byte("cut")},
		entry{"noextension", makePES(makePEC([]byte{1}, 1, 1, 0xFF, 0))},
		entry{"b/small.exp", []byte{1, 1}},
	)
	path := filepath.Join(t.TempDir(), "orders.zip")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	got, err := ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		name, format string
	}{{"a/cap.dst", "dst"}, {"a/bad.dst", ""}, {"noextension", "pes"}, {"b/small.exp", "exp"}}
	if len(got) != len(want) {
		t.Fatalf("%+v", got)
	}
	for i, w := range want {
		f := got[i]
		if f.Name != path+"/"+w.name || (f.Design == nil) != (f.Err != nil) {
			t.Errorf("%+v", f)
		}
		if w.format == "" {
			if fe := (*FormatError)(nil); !errors.As(f.Err, &fe) ||
				!strings.HasSuffix(fe.File, "orders.zip/a/bad.dst") {
				t.Errorf("%s: %v", w.name, f.Err)
			}
		} else if f.Design == nil || f.Design.Format != w.format || f.Counts != f.Design.Count() {
			t.Errorf("%s: %+v", w.name, f)
		}
	}
}

func TestAGzipHoldsOneDesign(t *testing.T) {
	got, err := DecodeAll(makeGzip(t, []byte{1, 1, 2, 2}), "cap.exp.gz")
	if err != nil || len(got) != 1 || got[0].Name != "cap.exp.gz" || got[0].Design.Format != "exp" ||
		len(got[0].Design.Records) != 2 || got[0].Counts.Stitches != 2 {
		t.Errorf("%+v, %v", got, err)
	}
}

// A file alone is counted as it is read, in every format that can be written.
func TestWhatIsReadIsCounted(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{{DX: 20}, {DX: 20, DY: 5}, {Op: stitch.ColourStop}, {DX: 10, Op: stitch.Jump}, {DX: -7, DY: 30}, {DY: 4}}}
	for _, f := range formats {
		if f.encode == nil {
			continue
		}
		var b bytes.Buffer
		if err := Encode(&b, d, f.name); err != nil {
			t.Fatal(f.name, err)
		}
		got, err := DecodeAll(b.Bytes(), "a."+f.name)
		if err != nil || got[0].Counts != got[0].Design.Count() || got[0].Counts.Stitches < 4 || got[0].Counts.ColourStops != 1 {
			t.Errorf("%s: %+v, %v", f.name, got, err)
		}
	}
}

func TestContainersThatAreUnsoundAreErrors(t *testing.T) {
	gz := makeGzip(t, dstRun(500, dstEnd))
	z := makeZip(t, entry{"a.dst", dstRun(500, dstEnd)})
	for _, c := range []struct {
		name string
		b    []byte
	}{
		{"cut.gz", gz[:len(gz)/2]}, {"head.gz", gz[:4]}, {"twice.gz", makeGzip(t, gz)},
		{"cut.zip", z[:len(z)/2]}, {"empty.zip", makeZip(t)}, {"nothing.zip", makeZip(t, entry{"a.txt", nil})},
	} {
		got, err := DecodeAll(c.b, c.name)
		if err == nil || !strings.Contains(err.Error(), c.name) || len(got) != 0 {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
	}
	if _, err := Decode(z, "a.zip"); err == nil {
		t.Error("Decode read a container as one design")
	}
}

func TestAContainerThatUnpacksToTooMuchIsRefused(t *testing.T) {
	most := Limits{FileBytes: 10_000, TotalBytes: 20_000, Entries: 5}
	big, fits := make([]byte, most.FileBytes+1), make([]byte, most.FileBytes)
	ue := (*UnsupportedError)(nil)
	if _, err := most.DecodeAll(makeGzip(t, big), "bomb.gz"); !errors.As(err, &ue) {
		t.Errorf("gz: %v", err)
	}
	if _, err := most.DecodeAll(makeGzip(t, fits), "fits.exp.gz"); err != nil {
		t.Errorf("gz: %v", err)
	}
	// One entry over the limit is that entry's error.
	got, err := most.DecodeAll(makeZip(t, entry{"a.exp", big}, entry{"b.exp", []byte{1, 1}}), "bomb.zip")
	if err != nil || len(got) != 2 || !errors.As(got[0].Err, &ue) || got[1].Err != nil {
		t.Errorf("zip: %+v, %v", got, err)
	}
	// Together over the limit: those that were read are given, with the error.
	got, err = most.DecodeAll(makeZip(t, entry{"a.exp", fits}, entry{"b.exp", fits}, entry{"c.exp", fits}), "bomb.zip")
	if !errors.As(err, &ue) || len(got) != 2 || got[1].Err != nil {
		t.Errorf("zip: %d designs, %v", len(got), err)
	}
	many := make([]entry, most.Entries+1)
	if _, err = most.DecodeAll(makeZip(t, many...), "many.zip"); !errors.As(err, &ue) {
		t.Errorf("entries: %v", err)
	}
	if _, err = most.DecodeAll(big, "a.exp"); !errors.As(err, &ue) {
		t.Errorf("plain: %v", err)
	}
}

// TestADesignOfTooMuchIsRefused: what a design has counts, not how small its file is; of a container's designs each by itself.
func TestADesignOfTooMuchIsRefused(t *testing.T) {
	sew, stop, jump := []byte{1, 1}, []byte{0x80, 0x01, 0, 0}, []byte{0x80, 0x04, 1, 1}
	of := func(parts ...[]byte) []byte { return bytes.Join(parts, nil) }
	trim := of(jump, jump, jump, sew)
	most := Limits{FileBytes: 1000, TotalBytes: 2000, Entries: 9, Stitches: 5, Colours: 2, Rests: 3}
	for _, c := range []struct {
		b    []byte
		says string
	}{
		{bytes.Repeat(sew, 5), ""}, {bytes.Repeat(sew, 6), "6 stitches, more than the 5"},
		{of(sew, stop, sew, stop, sew), ""}, {of(sew, stop, sew, stop, sew, stop, sew), "3 colour stops, more than the 2"},
		{of(sew, trim, trim, trim), ""}, {of(sew, trim, trim, trim, stop, sew), "4 trims and stops, more than the 3"},
		{of(sew, trim, trim, trim, jump, jump, sew), ""},
	} {
		for name, b := range map[string][]byte{"a.exp": c.b, "a.exp.gz": makeGzip(t, c.b)} {
			got, err := most.DecodeAll(b, name)
			if c.says == "" && (err != nil || len(got) != 1) || c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says) || len(got) != 0) {
				t.Errorf("%s of %x: %d, %v; want %q", name, c.b, len(got), err, c.says)
			}
		}
		got, err := most.DecodeAll(makeZip(t, entry{"a.exp", c.b}, entry{"b.exp", sew}), "a.zip")
		if err != nil || len(got) != 2 || got[1].Err != nil || (got[0].Err != nil) != (c.says != "") || (got[0].Design != nil) != (c.says == "") {
			t.Errorf("in a container %x: %+v, %v", c.b, got, err)
		}
		if _, err := DecodeAll(c.b, "a.exp"); err != nil {
			t.Errorf("without limits of one's own: %v", err)
		}
	}
	much := bytes.Repeat(of(sew, stop), 9)
	for _, alone := range []Limits{{Stitches: 5}, {Colours: 2}, {Rests: 3}} {
		alone.FileBytes, alone.TotalBytes, alone.Entries = most.FileBytes, most.TotalBytes, most.Entries
		if _, err := alone.DecodeAll(much, "a.exp"); err == nil {
			t.Errorf("%+v takes nine stitches and nine colour stops in", alone)
		}
	}
}

func TestReadFileSaysWhatIsWrongWithThePath(t *testing.T) {
	if _, err := ReadFile(filepath.Join(t.TempDir(), "none.dst")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("%v", err)
	}
	if _, err := ReadFile(t.TempDir()); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("%v", err)
	}
}

func TestFormatsAreListedByName(t *testing.T) {
	var names, writers []string
	for _, f := range Formats() {
		names = append(names, f.Name)
		if f.Writes {
			writers = append(writers, f.Name)
		}
		if len(f.Extensions) == 0 || !HasExtension("X"+strings.ToUpper(f.Extensions[0])) {
			t.Errorf("%+v", f)
		}
	}
	if strings.Join(names, " ") != "dst exp jef pec pes vp3" || strings.Join(writers, " ") != "dst exp jef pes vp3" {
		t.Errorf("%v, writes %v", names, writers)
	}
	if HasExtension("notes.txt") || !HasExtension("a.zip") {
		t.Error("HasExtension")
	}
}
