package stitchfile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
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
			s = append(s, fmt.Sprintf("colour %d at %v", e.Block, at))
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
		return nil, refused(t, err, b.Len())
	}
	return readBack(t, b.Bytes(), format), nil
}

func refused(t interface{ Fatalf(string, ...any) }, err error, written int) error {
	var ue *UnsupportedError
	if !errors.As(err, &ue) || ue.Remedy == "" {
		t.Fatalf("%v is no UnsupportedError with a remedy", err)
	}
	if written != 0 {
		t.Fatalf("an error and %d bytes", written)
	}
	return err
}

func readBack(t interface{ Fatalf(string, ...any) }, b []byte, format string) *stitch.Design {
	back, err := Decode(b, "x."+format)
	if err != nil {
		t.Fatalf("what was written cannot be read: %v", err)
	}
	for _, w := range back.Warnings {
		if w.Code != WarnNoStitch && w.Code != WarnSequins {
			t.Fatalf("what was written is warned of: %+v", w)
		}
	}
	return back
}

// written is roundTrip for machines that read the file so, with what is
// otherwise in the file taken back: the penetrations that were added, which must
// lie on the straight way, and the shift.
func written(t interface{ Fatalf(string, ...any) }, d *stitch.Design, format string, r Readers) (*stitch.Design,
	Written, error) {
	var b bytes.Buffer
	done, err := EncodeFor(&b, d, format, r)
	if err != nil {
		return nil, done, refused(t, err, b.Len())
	}
	back := readBack(t, b.Bytes(), format)
	out := *back
	unmoved := newBuilder(1)
	unmoved.add(stitch.Jump, -done.Shift.X, -done.Shift.Y)
	out.Records = unmoved.d.Records
	hole := 0
	var way stitch.Point // since the last penetration that stays
	var added []stitch.Point
	for _, r := range back.Records {
		way.X, way.Y = way.X+int(r.DX), way.Y+int(r.DY)
		if r.Op.Penetrates() {
			if slices.Contains(done.Added, hole) {
				added = append(added, way)
				r.Op = stitch.Jump
			} else {
				for _, p := range added { // as near as the lattice of 0.1 mm lets it
					if off := math.Abs(float64(way.X*p.Y-way.Y*p.X)) / math.Hypot(float64(way.X), float64(way.Y)); off > 0.71 {
						t.Fatalf("an added stitch lies %.2f units beside its way", off)
					}
				}
				way, added = stitch.Point{}, nil
			}
			hole++
		}
		out.Records = append(out.Records, r)
	}
	return &out, done, nil
}

// told is the story of a design and of its file as far as the file can tell it:
// the frame's ways without thread only where the format has them record by record
// and nothing was cut to size, the place of colour stops where none was moved, and
// the end where it is there. Added penetrations make runs of jumps in what is read
// back: then the cuts are looked for in the file as it is.
func told(d, back *stitch.Design, done Written, format string) (want, got []string) {
	want, got = story(d), story(back)
	ways := (format == "dst" || format == "exp") && len(done.Added) == 0 && !jumpsBeforeTrim(d) &&
		!longStitches(d, dstMaxStep)
	plain := func(s []string) (out []string) {
		for _, x := range s {
			if !ways && strings.HasPrefix(x, "travel") || done.Tail && strings.HasPrefix(x, "end") ||
				len(done.Added) > 0 && x == "trim" {
				continue
			}
			if done.Stops > 0 && strings.HasPrefix(x, "colour") {
				x, _, _ = strings.Cut(x, " at")
			}
			out = append(out, x)
		}
		return out
	}
	return plain(want), plain(got)
}

func cuts(d *stitch.Design, trimAfter int) (n int) {
	for e := range d.Events(trimAfter) {
		if e.Kind == stitch.TrimCut {
			n++
		}
	}
	return n
}

func TestWrittenAndReadTellsTheSameStory(t *testing.T) {
	for _, format := range writers() {
		drawn, wrote, added := 0, 0, 0
		rapid.Check(t, func(t *rapid.T) {
			drawn++
			d := drawDesign(t, rapid.SampledFrom([]int{200, 900, 5000}).Draw(t, "most"), format == "dst")
			back, done, err := written(t, d, format, Readers{})
			if err != nil {
				return
			}
			wrote++
			added += len(done.Added)
			want, got := told(d, back, done, format)
			if diff := cmp.Diff(want, got); diff != "" {
				t.Fatalf("%s: %s", format, diff)
			}
			if a, b := d.Count(), back.Count(); a.Stitches != b.Stitches || a.ColourStops != b.ColourStops ||
				a.Sequins != b.Sequins || a.Bounds != b.Bounds {
				t.Fatalf("%s: %+v became %+v", format, a, b)
			}
			if len(done.Added) == 0 && cuts(d, trimJumps) != cuts(back, trimJumps) {
				t.Fatalf("%s: %d trims became %d", format, cuts(d, trimJumps), cuts(back, trimJumps))
			}
		})
		if 10*wrote < 4*drawn {
			t.Errorf("%s: only %d of %d designs could be written: the test says little", format, wrote, drawn)
		}
		if format != "pes" && (format == "vp3") != (added == 0) { // of .pes the draw decides
			t.Errorf("%s: %d stitches were added", format, added)
		}
	}
}

// A long stitch is no trim to any machine, and a trim is one to all.
func TestLongStitchesAreCutByNoMachineAndTrimsByAll(t *testing.T) {
	for _, format := range writers() {
		rapid.Check(t, func(t *rapid.T) {
			d := drawDesign(t, 900, false)
			kept := d.Records[:0]
			for _, r := range d.Records { // runs of jumps mean what each machine makes of them
				if r.Op != stitch.Jump {
					kept = append(kept, r)
				}
			}
			d.Records = kept
			fewest, most := rapid.IntRange(1, 5).Draw(t, "fewest"), rapid.IntRange(1, 12).Draw(t, "most")
			r := Readers{Trim: rapid.IntRange(1, 12).Draw(t, "trim"), Fewest: fewest, Most: most}
			var b bytes.Buffer
			if _, err := EncodeFor(&b, d, format, r); err != nil {
				return
			}
			back := readBack(t, b.Bytes(), format)
			for _, n := range []int{min(fewest, r.Trim), r.Trim, max(most, r.Trim)} {
				if a, b := cuts(d, n), cuts(back, n); a != b {
					t.Fatalf("%s for %+v: where %d jumps are a trim, %d trims became %d", format, r, n, a, b)
				}
			}
		})
	}
}

func TestAMoveThatDoesNotFitIsDividedOnItsStraightWay(t *testing.T) {
	sew, j := rec(stitch.Sew, 10, 0), rec(stitch.Jump, 120, 0)
	for _, c := range []struct {
		name   string
		in     []stitch.Record
		format string
		r      Readers
		want   []stitch.Record
		added  []int
	}{
		{"36 mm: led in by two jumps", []stitch.Record{sew, rec(stitch.Sew, 360, 0)}, "dst", Readers{},
			[]stitch.Record{sew, j, j, rec(stitch.Sew, 120, 0)}, nil},
		{"48 mm: one more hole in the middle", []stitch.Record{sew, rec(stitch.Sew, 480, 0)}, "dst", Readers{},
			[]stitch.Record{sew, j, rec(stitch.Sew, 120, 0), j, rec(stitch.Sew, 120, 0)}, []int{1}},
		{"a float of jumps is such a stitch", []stitch.Record{sew, rec(stitch.Jump, 470, 0), sew}, "dst", Readers{},
			[]stitch.Record{sew, j, rec(stitch.Sew, 120, 0), j, rec(stitch.Sew, 120, 0)}, []int{1}},
		{"two jumps are a trim somewhere", []stitch.Record{sew, rec(stitch.Sew, 360, 0)}, "dst", Readers{Fewest: 2},
			[]stitch.Record{sew, rec(stitch.Jump, 90, 0), rec(stitch.Sew, 90, 0), rec(stitch.Jump, 90, 0),
				rec(stitch.Sew, 90, 0)}, []int{1}},
		{"one jump is", []stitch.Record{sew, rec(stitch.Sew, 360, 0)}, "dst", Readers{Fewest: 1},
			[]stitch.Record{sew, rec(stitch.Sew, 120, 0), rec(stitch.Sew, 120, 0), rec(stitch.Sew, 120, 0)}, []int{1, 2}},
		{"in .pes it fits", []stitch.Record{sew, rec(stitch.Sew, 480, 0)}, "pes", Readers{Fewest: 1},
			[]stitch.Record{rec(stitch.Jump, -10, 0), sew, rec(stitch.Sew, 480, 0)}, nil}, // from the box's corner
		{"and in .vp3", []stitch.Record{sew, rec(stitch.Sew, 480, 0)}, "vp3", Readers{Fewest: 1},
			[]stitch.Record{rec(stitch.Jump, -250, 0), sew, rec(stitch.Sew, 480, 0)}, nil}, // from the hoop's middle
	} {
		var b bytes.Buffer
		done, err := EncodeFor(&b, &stitch.Design{Records: c.in}, c.format, c.r)
		if err != nil {
			t.Fatal(err)
		}
		if got := readBack(t, b.Bytes(), c.format).Records; !slices.Equal(got, c.want) ||
			!slices.Equal(done.Added, c.added) {
			t.Errorf("%s: %v, added %v", c.name, got, done.Added)
		}
	}
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
		formats string
		rec     stitch.Record
		at      int
	}{
		{"dst exp jef", rec(stitch.Jump, 400, 0), 2}, // four jumps would be a trim; the stitch after them is named
		{"dst exp jef", rec(stitch.Sew, 0, 500), 1},
		{"dst exp jef pes vp3", rec(stitch.Stop, 0, 0), 1},
		{"dst exp jef pes vp3", rec(stitch.Op(77), 0, 0), 1},
		{"exp jef pes vp3", rec(stitch.Sequin, 0, 0), 1},
	} {
		for _, format := range strings.Fields(c.formats) {
			_, err := roundTrip(t, &stitch.Design{Records: []stitch.Record{sew, c.rec, sew}}, format)
			var ue *UnsupportedError
			if !errors.As(err, &ue) || ue.Record != c.at {
				t.Errorf("%s %+v: %v", format, c.rec, err)
			}
		}
	}
	for _, c := range []struct {
		format  string
		rec     []stitch.Record
		at      int
		readers Readers
	}{
		{"dst", []stitch.Record{sew, rec(stitch.Jump, 500, 0), rec(stitch.ColourStop, 0, 0), sew}, 1, Readers{}}, // uncut, to a stop
		{"vp3", []stitch.Record{sew, rec(stitch.Trim, 0, 0), rec(stitch.Jump, 0, 800), rec(stitch.ColourStop, 0, 0),
			rec(stitch.Jump, 0, -800), sew}, 3, Readers{}}, // a frame-out
		{"vp3", []stitch.Record{sew, rec(stitch.Trim, 0, 0), rec(stitch.Jump, 60, 0), rec(stitch.ColourStop, 0, 0)}, 3, Readers{}},
		{"vp3", []stitch.Record{sew, rec(stitch.Jump, 99, 0), rec(stitch.Jump, 99, 0), sew}, 1, Readers{4, 2, 4}}, // a trim elsewhere
		{"pes", slices.Repeat([]stitch.Record{sew, rec(stitch.ColourStop, 0, 0)}, 255), -1, Readers{}},
	} {
		_, err := EncodeFor(io.Discard, &stitch.Design{Records: c.rec}, c.format, c.readers)
		var ue *UnsupportedError
		if !errors.As(err, &ue) || ue.Record != c.at || ue.Remedy == "" {
			t.Errorf("%s %+v: %v", c.format, c.rec[0], err)
		}
	}
	for _, f := range []string{"pec", "", "nonsense"} {
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

// emptyDesigns is how many of the real designs have no stitch: .exp has no form for that.
const emptyDesigns = 6

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
			back, done, err := written(t, d, format, Readers{})
			if err != nil {
				refused++
				t.Logf("%v", fmt.Errorf("%s: %w", filepath.Base(path), err))
				if d.Format == format {
					t.Errorf("%s cannot be written in its own format: %v", path, err)
				}
				continue
			}
			wrote++
			if len(done.Added) > 0 || done.Stops > 0 || done.Jumps > 0 {
				t.Logf("%s as .%s: %d stitches added, %d stops at the stitch before, %d jumps within stitches",
					filepath.Base(path), format, len(done.Added), done.Stops, done.Jumps)
			}
			want, got := told(d, back, done, format)
			if slices.Equal(want, got) { // a picture of the difference is slow
				continue
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s as .%s: %.600s", path, format, diff)
			}
		}
		t.Logf(".%s: %d written, %d refused", format, wrote, refused)
		if most := map[string]int{"dst": 0, "exp": emptyDesigns, "jef": 0, "pes": 1, "vp3": 6}[format]; refused > most {
			t.Errorf("%d designs could not be written as .%s, more than %d", refused, format, most)
		}
	}
}

// What an operator must tell apart stays apart in a file's colours, and blocks of
// one thread stay of one.
func TestThreadsThatDifferStayApartInEveryFormat(t *testing.T) {
	near := func(k int) stitch.Thread {
		return stitch.Thread{Name: fmt.Sprint("blue ", k), B: uint8(100 + k), Known: true}
	}
	for _, c := range []struct {
		name    string
		threads []stitch.Thread
		blocks  int
		apart   int // different colours in the file
		lost    map[string]string
	}{
		{"eight near blues, one twice", []stitch.Thread{near(0), near(1), near(2), near(3), near(0), near(4), near(5), near(6)},
			8, 7, map[string]string{"pes": "thread-names shades", "jef": "name thread-names shades", "vp3": "thread-names"}},
		{"nothing is known", nil, 5, 5, map[string]string{"pes": "made-up", "jef": "name made-up", "vp3": "made-up"}},
		{"one is known", []stitch.Thread{{}, {R: 9, Known: true}}, 3, 3,
			map[string]string{"pes": "made-up shades", "jef": "name made-up shades", "vp3": "made-up"}},
	} {
		d := &stitch.Design{Name: "Moss", Threads: c.threads}
		for k := range c.blocks {
			if k > 0 {
				d.Records = append(d.Records, rec(stitch.ColourStop, 0, 0))
			}
			d.Records = append(d.Records, rec(stitch.Sew, 5, 5))
		}
		for format, lost := range c.lost {
			var b bytes.Buffer
			done, err := EncodeFor(&b, d, format, Readers{})
			if err != nil {
				t.Fatal(err)
			}
			seen := map[stitch.Thread]bool{}
			back := readBack(t, b.Bytes(), format).Threads
			for k, th := range back {
				seen[th] = true
				if format == "vp3" && k < len(c.threads) && c.threads[k].Known &&
					th != (stitch.Thread{R: c.threads[k].R, G: c.threads[k].G, B: c.threads[k].B, Known: true}) {
					t.Errorf("%s as .vp3: thread %d is %+v", c.name, k, th)
				}
			}
			if c.apart == 7 && back[0] != back[4] {
				t.Errorf("%s as .%s: one thread became two", c.name, format)
			}
			said := make([]string, len(done.Lost))
			for k, l := range done.Lost {
				said[k] = string(l)
			}
			want := strings.Fields(lost)
			slices.Sort(said)
			slices.Sort(want)
			if len(back) != c.blocks || len(seen) != c.apart || !slices.Equal(said, want) {
				t.Errorf("%s as .%s: %d colours, %d apart, lost %q; want %q", c.name, format, len(back), len(seen), said, want)
			}
		}
	}
	// More threads than a table has numbers: said.
	d := &stitch.Design{}
	for k := range 90 {
		d.Threads = append(d.Threads, near(k))
		d.Records = append(d.Records, rec(stitch.Sew, 5, 5), rec(stitch.ColourStop, 0, 0))
	}
	for format, shared := range map[string]bool{"pes": true, "jef": true, "vp3": false} {
		var b bytes.Buffer
		done, err := EncodeFor(&b, d, format, Readers{})
		if err != nil || slices.Contains(done.Lost, LossShared) != shared {
			t.Errorf(".%s: %v, %v", format, done.Lost, err)
		}
	}
}
