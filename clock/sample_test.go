package clock

import (
	"math"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// What a sample of a long design says of its interval is what the whole says: for a design whose
// parts differ in length of stitch, in runs and in trims, and more so towards its end.
func TestASampleSpeaksForALongDesign(t *testing.T) {
	d := &stitch.Design{}
	for k := 0; len(d.Records) < 3*sampleLength; k++ {
		// First it sews on, short stitches and long; later it is all stops and travel.
		run, moves := 900, 3
		if late := len(d.Records) > 2*sampleLength; late {
			run, moves = 12, 30
		}
		for i := range run {
			d.Records = append(d.Records, stitch.Record{DX: int16((10 + 30*(i/40%3)) * (1 - 2*(i%2))), DY: int16(3 * (k % 4))})
		}
		for range moves {
			d.Records = append(d.Records, stitch.Record{DX: int16(20 + 10*(k%8)), DY: int16(100 * (1 - 2*(k%2))), Op: stitch.Jump})
		}
		if k%20 == 19 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
	}
	speaks(t, d, 0.02)
}

// Of stitches that the frame holds back on slower machines than the sheet's alone: how many they stand for is known though none is long.
func TestASampleSpeaksForStitchesOfWhichNoneIsLong(t *testing.T) {
	d := &stitch.Design{}
	for i := range 8 * sampleLength {
		d.Records = append(d.Records, stitch.Record{DX: int16((18 + i/50%4) * (1 - 2*(i%2)))})
	}
	speaks(t, d, 0.02)
}

// speaks holds the interval by a sample to that by the whole, to so much of its width, on each class.
func speaks(t *testing.T, d *stitch.Design, most float64) {
	t.Helper()
	for _, job := range []Job{{}, {From: len(d.Records) / 5}} {
		part, more, partJob := sample(d, job)
		if n := len(part.Records); n > 2*sampleLength || n < sampleLength/2 || partJob.From != 0 {
			t.Fatalf("%d records of %d, after stitch %d", n, len(d.Records), partJob.From)
		}
		for _, s := range machine.Classes() {
			base := Run(d, s, job)
			whole := respondBy(d, s, job, base, d, d, job).Uncertainty(s, DefaultLevel)
			few := respondBy(d, s, job, base, part, more, partJob).Uncertainty(s, DefaultLevel)
			width := whole.High - whole.Low
			if off := max(math.Abs(few.Low-whole.Low), math.Abs(few.High-whole.High)) / width; off > most {
				t.Errorf("%s from stitch %d: %.1f to %.1f s by the sample, %.1f to %.1f by the whole", s.Name, job.From,
					few.Low, few.High, whole.Low, whole.High)
			}
		}
	}
}
