package clock_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// The kinds and what no kind sews are the whole run, part by part.
func TestTheKindsAddUpToTheRun(t *testing.T) {
	odd := plainSheet()
	odd.Frame.Turn, odd.Frame.Settle = 0.3, 0.002
	odd.Ladder = machine.Ladder{Length: []float64{2, 4, 7}, Speed: []float64{950, 700, 500}}
	files, _ := filepath.Glob("../demo/designs/*.dst")
	if len(files) < 8 {
		t.Fatalf("only %d demo designs", len(files))
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		d, err := stitchfile.Decode(b, f)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range append(machine.Classes(), odd) {
			c := clock.New(s, clock.Job{Speed: 820})
			tr := c.Trace(d)
			var sum, run clock.Parts
			var by, wholeBy clock.LongBy
			stitches, revolutions := 0, 0
			for _, k := range c.ByKind(d, d.Kinds(s.Reading.TrimAfterJumps), tr) {
				sum.AtSetSpeed += k.Parts.AtSetSpeed
				sum.LongStitches += k.Parts.LongStitches
				sum.Ramps += k.Parts.Ramps
				by.FrameX += k.LongBy.FrameX
				by.FrameY += k.LongBy.FrameY
				by.Turn += k.LongBy.Turn
				by.Ladder += k.LongBy.Ladder
				stitches += k.Stitches
				revolutions += k.Revolutions
				if k.Parts.Sum() != k.Seconds() {
					t.Errorf("%s: %s has time in which nothing is sewn", f, k.Kind)
				}
			}
			run, wholeBy = tr.Result.Parts, tr.Result.LongBy
			for _, v := range [][2]float64{
				{sum.AtSetSpeed, run.AtSetSpeed}, {sum.LongStitches, run.LongStitches}, {sum.Ramps, run.Ramps},
				{sum.Sewing() + run.Trims + run.ColourStops + run.Travel + run.Stops + run.StartEnd, tr.Result.Seconds},
				{by.FrameX, wholeBy.FrameX}, {by.FrameY, wholeBy.FrameY}, {by.Turn, wholeBy.Turn}, {by.Ladder, wholeBy.Ladder},
			} {
				if math.Abs(v[0]-v[1]) > 1e-9*(1+v[1]) {
					t.Errorf("%s on %s: the kinds have %v s, the run %v", filepath.Base(f), s.Name, v[0], v[1])
				}
			}
			if stitches != tr.Result.Stitches || revolutions != tr.Result.Revolutions {
				t.Errorf("%s on %s: %d stitches and %d revolutions of %d and %d", filepath.Base(f), s.Name, stitches,
					revolutions, tr.Result.Stitches, tr.Result.Revolutions)
			}
		}
	}
}

// A machine that is slow on long stitches loses its time in the wide column and
// not in the running stitch beside it.
func TestTheLossIsWhereTheLongStitchesAre(t *testing.T) {
	d := &stitch.Design{}
	for range 200 {
		d.Records = append(d.Records, stitch.Record{DX: 20, Op: stitch.Sew})
	}
	for i := range 200 {
		dy := int16(70)
		if i%2 == 1 {
			dy = -70
		}
		d.Records = append(d.Records, stitch.Record{DX: 2, DY: dy, Op: stitch.Sew})
	}
	c := clock.New(plainSheet(), clock.Job{})
	by := c.ByKind(d, d.Kinds(plainSheet().Reading.TrimAfterJumps), c.Trace(d))
	if len(by) != 2 || by[0].Kind != stitch.Running || by[1].Kind != stitch.Satin {
		t.Fatalf("kinds %+v", by)
	}
	if run, satin := by[0].Parts.LongStitches, by[1].Parts.LongStitches; run > 0.05*satin || satin <= 0 {
		t.Errorf("long stitches take %v s in running stitch, %v s in satin", run, satin)
	}
	if by[0].HeldSpeed() <= by[1].HeldSpeed() {
		t.Errorf("running stitch holds %v, satin %v", by[0].HeldSpeed(), by[1].HeldSpeed())
	}
}
