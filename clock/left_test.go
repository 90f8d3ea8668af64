package clock_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// after is where record i of a design stands: how many stitches are made before
// it, and in which colour block it is.
func after(d *stitch.Design, i int) (stitches, block int) {
	for _, r := range d.Records[:i] {
		if r.Op.Penetrates() {
			stitches++
		}
		if r.Op == stitch.ColourStop {
			block++
		}
	}
	return stitches, block
}

// TestWhatIsLeftIsTheRunOfTheRecordsThatAreLeft holds a run from a stitch on against the
// plain form's time of a design that has only the records after it.
func TestWhatIsLeftIsTheRunOfTheRecordsThatAreLeft(t *testing.T) {
	checked := 0
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		s.Travel.ReturnToStart = false // the plain form would drive home to where it begins
		if len(d.Records) < 2 {
			return
		}
		i := rapid.IntRange(1, len(d.Records)-1).Draw(t, "record")
		// Between two stitches: anywhere else the machine has thread in the goods or a
		// travel half done, which the records that are left do not say.
		if !d.Records[i-1].Op.Penetrates() || !d.Records[i].Op.Penetrates() {
			return
		}
		made, block := after(d, i)
		tail, job := &stitch.Design{Records: d.Records[i:]}, j
		job.Needles = nil
		for k := block; k < 14; k++ {
			n := k % s.Needles
			if k < len(j.Needles) {
				n = j.Needles[k]
			}
			job.Needles = append(job.Needles, n)
		}
		want := oracle(tail, s, job)
		j.From = made
		got := clock.Run(d, s, j)
		if !near(got.Seconds, want.parts.Sum(), want.parts.Sum()) {
			t.Fatalf("from stitch %d on %v s, the plain form has %v s", made, got.Seconds, want.parts.Sum())
		}
		if got.Stitches != want.stitches || got.Trims != want.trims || got.ColourStops != want.colourCuts {
			t.Fatalf("%d stitches, %d trims, %d colour stops are left, the plain form has %d, %d, %d", got.Stitches,
				got.Trims, got.ColourStops, want.stitches, want.trims, want.colourCuts)
		}
		if u, tr := clock.New(s, j).Trace(d), 0.0; true {
			for _, x := range u.Seconds {
				tr += x
			}
			if !near(tr, got.Parts.Sewing(), got.Seconds) {
				t.Fatalf("the trace sews for %v s, the run for %v s", tr, got.Parts.Sewing())
			}
		}
		checked++
	})
	if checked < 5 {
		t.Errorf("only %d designs were looked at", checked)
	}
}

// TestTheMoreIsSewnTheLessIsLeft goes stitch by stitch through a design with trims, colour stops and jumps.
func TestTheMoreIsSewnTheLessIsLeft(t *testing.T) {
	s := plainSheet()
	s.Travel.ReturnToStart = true
	d := &stitch.Design{}
	for k := range 600 {
		op := stitch.Sew
		switch {
		case k%97 == 96:
			op = stitch.ColourStop
		case k%61 == 60:
			op = stitch.Trim
		case k%31 > 26:
			op = stitch.Jump
		}
		d.Records = append(d.Records, stitch.Record{DX: int16(10 + k%40), DY: int16(k%7 - 3), Op: op})
	}
	whole := clock.New(s, clock.Job{}).Trace(d)
	last := whole.Result.Seconds
	made := 0
	for i, r := range d.Records {
		if !r.Op.Penetrates() {
			continue
		}
		made++
		left := clock.Run(d, s, clock.Job{From: made})
		if left.Seconds > last+1e-9 {
			t.Fatalf("after stitch %d %v s are left, after the one before %v s", made, left.Seconds, last)
		}
		if left.Stitches+made != whole.Result.Stitches {
			t.Fatalf("after stitch %d %d are left of %d", made, left.Stitches, whole.Result.Stitches)
		}
		// To press start and gain speed anew takes longer than never to have stood, and no
		// longer than the start and a ramp from rest do.
		on := whole.Result.Seconds - whole.Starts[i] - whole.Seconds[i]
		if extra := left.Seconds - on - s.Rest.Start; extra < -1e-9 || extra > 3 {
			t.Fatalf("after stitch %d %v s are left where a run that goes on has %v s", made, left.Seconds, on)
		}
		last = left.Seconds
	}
	if made < 400 || last > 30 {
		t.Errorf("%d stitches, %v s left after the last", made, last)
	}
}

// TestWhatIsLeftByHand: a machine without ramps, 600/min, and every second summed by hand.
func TestWhatIsLeftByHand(t *testing.T) {
	s := plainSheet()
	s.MaxSpeed = 600
	s.Shaft = machine.Shaft{AccelUp: 1e6, AccelDown: 1e6, CreepSpeed: 600}
	s.Travel.ReturnToStart = true
	s.Travel.Accel, s.Travel.Speed = 1e9, 100 // 100 mm/s, at once
	sew, stop := stitch.Record{DX: 20, Op: stitch.Sew}, stitch.Record{Op: stitch.ColourStop}
	d := &stitch.Design{}
	for range 100 {
		d.Records = append(d.Records, sew)
	}
	d.Records = append(d.Records, stop)
	for range 50 {
		d.Records = append(d.Records, sew)
	}
	// 3 s to start, 0.1 s a stitch, 6.3 s for a colour stop to the next needle, 300 mm home at 100 mm/s, 3 s to end.
	for made, want := range map[int]float64{
		0: 3 + 15 + 6.3 + 3 + 3, 40: 3 + 11 + 6.3 + 3 + 3, 99: 3 + 5.1 + 6.3 + 3 + 3, 100: 3 + 5 + 6.3 + 3 + 3,
		101: 3 + 4.9 + 3 + 3, 150: 3 + 3 + 3,
	} {
		r, how := clock.How(d, s, clock.Job{From: made}, .9)
		if math.Abs(r.Seconds-want) > .01 {
			t.Errorf("after stitch %d %.3f s are left, want %.3f", made, r.Seconds, want)
		}
		if how.Median < .98*want || how.Median > 1.02*want {
			t.Errorf("after stitch %d the median is %.3f s", made, how.Median)
		}
		if got := r.Blocks[len(r.Blocks)-1].Index; got != 1 {
			t.Errorf("after stitch %d the last block is %d", made, got)
		}
	}
}
