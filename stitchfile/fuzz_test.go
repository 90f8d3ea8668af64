package stitchfile

import (
	"errors"
	"strings"
	"testing"

	"needlepace/stitch"
)

// sane decodes bytes that may be anything and checks what is promised of
// anything: no panic, an error of ours or a design, memory of the order of the
// file, offsets inside it.
func sane(t *testing.T, b []byte, name string) *stitch.Design {
	d, err := Decode(b, name)
	if err != nil {
		checkErr(t, err, len(b))
		return nil
	}
	// A displacement of a .vp3 of 6 bytes makes two records, of a .pec of 3
	// too, a block's head of over 40 at most a dozen: a byte never makes more
	// than one.
	if len(d.Records) > len(b) || cap(d.Records) > 2*len(b)+2048 {
		t.Fatalf("%d records (room for %d) from %d bytes", len(d.Records), cap(d.Records), len(b))
	}
	if len(d.Threads) > len(b) || len(d.Warnings) > len(b)+8 {
		t.Fatalf("%d threads, %d warnings from %d bytes", len(d.Threads), len(d.Warnings), len(b))
	}
	for _, w := range d.Warnings {
		if w.Code == "" || w.Text == "" || strings.Contains(w.Text, "%!") || w.Offset < -1 || w.Offset > int64(len(b)) {
			t.Fatalf("%+v in %d bytes", w, len(b))
		}
	}
	return d
}

func checkErr(t *testing.T, err error, size int) {
	var fe *FormatError
	var ue *UnsupportedError
	switch {
	case errors.As(err, &fe):
		if fe.Offset < -1 || fe.Offset > int64(size) || fe.Text == "" || fe.Remedy == "" {
			t.Fatalf("%+v in %d bytes", *fe, size)
		}
	case errors.As(err, &ue):
		if ue.Text == "" || ue.Remedy == "" {
			t.Fatalf("%+v", *ue)
		}
	default:
		t.Fatalf("an error of no type of ours: %v", err)
	}
}

// rewrite writes what was read and reads it again.
func rewrite(t *testing.T, d *stitch.Design) {
	if d == nil {
		return
	}
	for _, f := range writers() {
		back, done, err := written(t, d, f, Readers{})
		if err != nil {
			continue
		}
		want, got := d.Count(), back.Count()
		if want.Stitches != got.Stitches || want.ColourStops != got.ColourStops || want.Bounds != got.Bounds ||
			want.End != got.End && !done.Tail {
			t.Fatalf("%s: %+v became %+v", f, want, got)
		}
		if len(done.Added) == 0 && cuts(d, trimJumps) != cuts(back, trimJumps) {
			t.Fatalf("%s: %d trims became %d", f, cuts(d, trimJumps), cuts(back, trimJumps))
		}
	}
}

func FuzzDST(f *testing.F) {
	f.Add(dstRun(3, dstStop, dstSew, dstEnd))
	f.Add(dstFile([3]byte{0, 4, 0x83}, [3]byte{0, 4, 0x83}, [3]byte{0, 4, 0x83}, [3]byte{0, 0, 0x43})[:523])
	f.Add(append([]byte{' '}, dstRun(30, dstEnd)...))
	f.Fuzz(func(t *testing.T, b []byte) {
		d := sane(t, b, "a.dst")
		if len(b) >= 512 {
			fast, want := scanDST(b[512:]), []stitch.Record(nil)
			if want, _ = scanDSTSimple(b[512:]); len(want) != len(fast.records) {
				t.Fatalf("%d records, want %d", len(fast.records), len(want))
			}
		}
		rewrite(t, d)
	})
}

// FuzzFormats reads anything as each of the formats.
func FuzzFormats(f *testing.F) {
	for _, h := range handmades {
		f.Add(h.bytes, extension(h.name))
		f.Add(h.bytes[:len(h.bytes)-len(h.bytes)/9], extension(h.name))
	}
	f.Add([]byte{1, 1, 0x80, 0x80, 7, 0, 0x80}, "exp")
	f.Fuzz(func(t *testing.T, b []byte, ext string) {
		if byExtension(ext) != nil {
			rewrite(t, sane(t, b, "a."+ext))
		}
	})
}

// FuzzAll has no name to go by: detection and containers.
func FuzzAll(f *testing.F) {
	for _, h := range handmades {
		f.Add(h.bytes)
	}
	f.Add(makeZip(f, entry{"a.dst", dstRun(3, dstEnd)}, entry{"b", handmades[3].bytes}))
	f.Add(makeGzip(f, handmades[1].bytes))
	f.Fuzz(func(t *testing.T, b []byte) {
		sane(t, b, "")
		got, err := DecodeAll(b, "a")
		if err != nil {
			checkErr(t, err, len(b))
		}
		for _, g := range got {
			if (g.Design == nil) != (g.Err != nil) || g.Name == "" {
				t.Fatalf("%+v", g)
			}
		}
	})
}
