package stitchfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"needlepace/stitch"
)

// story is what a machine does with a design, in words that do not depend on
// the number of records: where the needle penetrates, what is cut between,
// where the frame travels to with the thread cut. Travel to where the frame
// stands already is no travel.
func story(d *stitch.Design) []string {
	var s []string
	pos := make([]stitch.Point, len(d.Records)+1)
	for i, r := range d.Records {
		pos[i+1] = stitch.Point{X: pos[i].X + int(r.DX), Y: pos[i].Y + int(r.DY)}
	}
	at := stitch.Point{}
	for e := range d.Events(trimJumps) {
		switch e.Kind {
		case stitch.Run:
			for i := e.From; i < e.To; i++ {
				if op := d.Records[i].Op; op.Penetrates() {
					s = append(s, fmt.Sprintf("%v at %v", op, pos[i+1]))
				}
			}
			at = pos[e.To]
		case stitch.TrimCut:
			s = append(s, "trim")
		case stitch.ColourCut:
			s = append(s, fmt.Sprintf("colour %d", e.Block))
		case stitch.OperatorStop:
			s = append(s, "stop")
		case stitch.Travel:
			at = stitch.Point{X: at.X + e.DX, Y: at.Y + e.DY}
			if e.DX != 0 || e.DY != 0 {
				s = append(s, fmt.Sprintf("travel to %v", at))
			}
		}
	}
	return append(s, fmt.Sprintf("end at %v", pos[len(d.Records)]))
}

// drawDesign makes records within reach of the format: sews and jumps of any
// length that one record or its lead-in can carry.
func drawDesign(t *rapid.T, most int, sequins bool) *stitch.Design {
	short := rapid.Int16Range(-121, 121)
	long := rapid.Int16Range(int16(-most), int16(most))
	var d stitch.Design
	n := rapid.IntRange(0, 60).Draw(t, "n")
	for range n {
		r := stitch.Record{DX: short.Draw(t, "dx"), DY: short.Draw(t, "dy")}
		switch k := rapid.IntRange(0, 11).Draw(t, "kind"); {
		case k < 5:
		case k < 8:
			r.Op = stitch.Jump
		case k == 8:
			r.Op = stitch.Trim
			if rapid.Bool().Draw(t, "bare") {
				r.DX, r.DY = 0, 0
			}
		case k == 9:
			r.Op = stitch.ColourStop
			r.DX, r.DY = long.Draw(t, "dx"), long.Draw(t, "dy")
		case k == 10 && sequins:
			r.Op = stitch.Sequin
		default:
			r.Op = rapid.SampledFrom([]stitch.Op{stitch.Sew, stitch.Jump}).Draw(t, "op")
			r.DX, r.DY = long.Draw(t, "dx"), long.Draw(t, "dy")
		}
		d.Records = append(d.Records, r)
	}
	return &d
}

// jumpsBeforeTrim reports whether jumps that are no trim of their own stand
// right before a trim record: .dst makes them part of the travel after it.
func jumpsBeforeTrim(d *stitch.Design) bool {
	for i, r := range d.Records {
		if r.Op == stitch.Trim && i > 0 && d.Records[i-1].Op == stitch.Jump {
			return true
		}
	}
	return false
}

// longStitches reports whether there are stitches that must be led in.
func longStitches(d *stitch.Design, step int) bool {
	for _, r := range d.Records {
		if r.Op.Penetrates() && pieces(int(r.DX), int(r.DY), step) > 1 {
			return true
		}
	}
	return false
}

func roundTrip(t interface{ Fatalf(string, ...any) }, d *stitch.Design, format string) (*stitch.Design, error) {
	var b bytes.Buffer
	if err := Encode(&b, d, format); err != nil {
		var ue *UnsupportedError
		if !errors.As(err, &ue) {
			t.Fatalf("%v is no UnsupportedError", err)
		}
		if b.Len() != 0 {
			t.Fatalf("an error and %d bytes", b.Len())
		}
		return nil, err
	}
	back, err := Decode(b.Bytes(), "x."+format)
	if err != nil {
		t.Fatalf("what was written cannot be read: %v", err)
	}
	for _, w := range back.Warnings {
		if w.Code != WarnNoStitch && w.Code != WarnSequins {
			t.Fatalf("what was written is warned of: %+v", w)
		}
	}
	return back, nil
}

func TestDSTWrittenAndReadTellsTheSameStory(t *testing.T) {
	drawn, wrote := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		drawn++
		d := drawDesign(t, 200, true)
		back, err := roundTrip(t, d, "dst")
		if err != nil {
			return
		}
		wrote++
		want, got := story(d), story(back)
		if jumpsBeforeTrim(d) || longStitches(d, dstMaxStep) { // the frame's way differs, nothing else
			want, got = withoutTravel(want), withoutTravel(got)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s", diff)
		}
		if a, b := d.Count(), back.Count(); a.Stitches != b.Stitches || a.ColourStops != b.ColourStops ||
			a.Sequins != b.Sequins {
			t.Fatalf("%+v became %+v", a, b)
		}
	})
	if 10*wrote < 3*drawn {
		t.Errorf("only %d of %d designs could be written: the test says little", wrote, drawn)
	}
}

func withoutTravel(s []string) []string {
	var out []string
	for _, x := range s {
		if !strings.HasPrefix(x, "travel") {
			out = append(out, x)
		}
	}
	return out
}

func TestDSTWithoutTrimRecordsComesBackRecordForRecord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDesign(t, 121, true)
		kept := d.Records[:0]
		for _, r := range d.Records {
			if r.Op != stitch.Trim {
				kept = append(kept, r)
			}
		}
		d.Records = kept
		back, err := roundTrip(t, d, "dst")
		if err != nil {
			t.Fatalf("%v", err)
		}
		if len(back.Records) != len(d.Records) {
			t.Fatalf("%d records became %d", len(d.Records), len(back.Records))
		}
		for i := range d.Records {
			if back.Records[i] != d.Records[i] {
				t.Fatalf("record %d: %+v became %+v", i, d.Records[i], back.Records[i])
			}
		}
	})
}

func TestEXPWrittenAndReadTellsTheSameStory(t *testing.T) {
	drawn, wrote := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		drawn++
		d := drawDesign(t, 200, false)
		back, err := roundTrip(t, d, "exp")
		if err != nil {
			return
		}
		wrote++
		want, got := story(d), story(back)
		if longStitches(d, expMaxStep) {
			want, got = withoutTravel(want), withoutTravel(got)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s", diff)
		}
	})
	if 10*wrote < 3*drawn {
		t.Errorf("only %d of %d designs could be written: the test says little", wrote, drawn)
	}
}

func TestATrimIsThreeJumpsInDST(t *testing.T) {
	sew := rec(stitch.Sew, 10, 0)
	for _, c := range []struct {
		name string
		in   []stitch.Record
		want []stitch.Record
	}{
		{"no travel: out and back", []stitch.Record{sew, rec(stitch.Trim, 0, 0), sew},
			[]stitch.Record{sew, rec(stitch.Jump, 2, 2), rec(stitch.Jump, -4, -4), rec(stitch.Jump, 2, 2), sew}},
		{"short travel: cut in three", []stitch.Record{sew, rec(stitch.Trim, 0, 0), rec(stitch.Jump, 30, -9), sew},
			[]stitch.Record{sew, rec(stitch.Jump, 10, -3), rec(stitch.Jump, 10, -3), rec(stitch.Jump, 10, -3), sew}},
		{"long travel: as many as it takes", []stitch.Record{sew, rec(stitch.Trim, 0, 0), rec(stitch.Jump, 400, 0),
			sew},
			[]stitch.Record{sew, rec(stitch.Jump, 100, 0), rec(stitch.Jump, 100, 0), rec(stitch.Jump, 100, 0),
				rec(stitch.Jump, 100, 0), sew}},
		{"nothing to cut: no code", []stitch.Record{rec(stitch.Trim, 0, 0), sew}, []stitch.Record{sew}},
		{"a long stitch is led in and penetrates once", []stitch.Record{sew, rec(stitch.Sew, 200, 0)},
			[]stitch.Record{sew, rec(stitch.Jump, 100, 0), rec(stitch.Sew, 100, 0)}},
	} {
		back, err := roundTrip(t, &stitch.Design{Records: c.in}, "dst")
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(c.want, back.Records); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestWhatAFormatHasNoFormForIsAnErrorThatNamesTheRecord(t *testing.T) {
	sew := rec(stitch.Sew, 10, 0)
	for _, c := range []struct {
		format string
		rec    stitch.Record
	}{
		{"dst", rec(stitch.Jump, 400, 0)}, // four jumps would be a trim
		{"dst", rec(stitch.Sew, 0, 500)},
		{"dst", rec(stitch.Stop, 0, 0)},
		{"dst", rec(stitch.Op(77), 0, 0)},
		{"exp", rec(stitch.Jump, 400, 0)},
		{"exp", rec(stitch.Sew, 0, 500)},
		{"exp", rec(stitch.Stop, 0, 0)},
		{"exp", rec(stitch.Sequin, 0, 0)},
	} {
		_, err := roundTrip(t, &stitch.Design{Records: []stitch.Record{sew, c.rec, sew}}, c.format)
		var ue *UnsupportedError
		if !errors.As(err, &ue) || ue.Record != 1 {
			t.Errorf("%s %+v: %v", c.format, c.rec, err)
		}
	}
	for _, f := range []string{"pes", "jef", "vp3", "", "nonsense"} {
		var ue *UnsupportedError
		if err := Encode(io.Discard, &stitch.Design{}, f); !errors.As(err, &ue) {
			t.Errorf("%q: %v", f, err)
		}
	}
}

func TestTheDSTHeaderIsTruthful(t *testing.T) {
	d := &stitch.Design{Name: "Grün, a very long name",
		Threads: []stitch.Thread{{Name: "moss, dark", R: 1, G: 2, B: 255, Known: true}, {}},
		Records: []stitch.Record{rec(stitch.Sew, 100, 50), rec(stitch.Sew, -120, -121), rec(stitch.ColourStop, 0, 0),
			rec(stitch.Sew, 5, 5)}}
	var b bytes.Buffer
	if err := Encode(&b, d, "dst"); err != nil {
		t.Fatal(err)
	}
	want := "LA:Gr_n, a very lon\rST:      5\rCO:  1\r+X:  100\r-X:   20\r+Y:   50\r-Y:   71\rAX:-   15\rAY:-   66\rMX:+    0\rMY:+    0\rPD:******\rTC:#0102FF,moss_ dark\rTC:,\r\x1a "
	if got := b.String()[:len(want)]; got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if b.Len() != 512+5*3 {
		t.Errorf("%d bytes", b.Len())
	}
	back, err := Decode(b.Bytes(), "")
	if err != nil || len(back.Threads) != 2 || back.Threads[0] != (stitch.Thread{Name: "moss_ dark", R: 1, G: 2, B: 255,
		Known: true}) || back.Threads[1].Known {
		t.Errorf("threads came back as %+v (%v)", back.Threads, err)
	}
}

func TestManyColourStopsLeaveTheDSTHeaderAt512Bytes(t *testing.T) {
	var d stitch.Design
	for range 1234 {
		d.Records = append(d.Records, rec(stitch.Sew, 1, 0), rec(stitch.ColourStop, 0, 0))
		d.Threads = append(d.Threads, stitch.Thread{R: 9, Known: true})
	}
	back, err := roundTrip(t, &d, "dst")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(d.Records, back.Records); diff != "" {
		t.Error(diff)
	}
}

type brokenWriter struct{}

func (brokenWriter) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

func TestAWritersOwnErrorComesThrough(t *testing.T) {
	for _, f := range writers() {
		if err := Encode(brokenWriter{}, &stitch.Design{Records: []stitch.Record{{}}}, f); !errors.Is(err,
			io.ErrClosedPipe) {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// Real designs, where they are at hand, are what writing has to stand.
func TestRealDesignsWrittenAndReadTellTheSameStory(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(realDir, "*.*"))
	if err != nil || len(paths) == 0 {
		t.Skip("the folder with real designs is not beside the project; drawn designs are checked all the same")
	}
	for _, format := range writers() {
		wrote, refused := 0, 0
		for _, path := range paths {
			if !HasExtension(path) {
				continue
			}
			files, err := ReadFile(path)
			if err != nil {
				continue // the reference test says which and why
			}
			d := files[0].Design
			back, err := roundTrip(t, d, format)
			if err != nil {
				refused++
				t.Logf("%v", fmt.Errorf("%s: %w", filepath.Base(path), err))
				if d.Format == format {
					t.Errorf("%s cannot be written in its own format: %v", path, err)
				}
				continue
			}
			wrote++
			want, got := story(d), story(back)
			if jumpsBeforeTrim(d) || longStitches(d, dstMaxStep) {
				want, got = withoutTravel(want), withoutTravel(got)
			}
			if slices.Equal(want, got) { // a picture of the difference is slow
				continue
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s as .%s: %.600s", path, format, diff)
			}
		}
		t.Logf(".%s: %d written, %d refused", format, wrote, refused)
		if wrote < 100 {
			t.Errorf("only %d designs could be written as .%s", wrote, format)
		}
	}
}
