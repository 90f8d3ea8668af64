package sound

import (
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// TestSpeedsHeldAreReadOffTheStrokes: rows of stitches from left to right on a
// machine that is 1 % slower than the law that is believed; what is slanted or
// upright is not taken for them.
func TestSpeedsHeldAreReadOffTheStrokes(t *testing.T) {
	s, _ := machine.Class("single-15-1200")
	d := &stitch.Design{}
	sew := func(n, dx, dy int, zigzag bool) {
		for range n {
			d.Records = append(d.Records, stitch.Record{DX: int16(dx), DY: int16(dy), Op: stitch.Sew})
			if zigzag {
				dx = -dx
			}
		}
	}
	sew(80, 50, 0, false)
	sew(60, 0, 60, false)
	sew(90, 70, 2, true)
	sew(60, 40, 70, false)
	h := &hearing{design: d, law: law{sheet: s, job: clock.Job{Speed: s.MaxSpeed}, phase: 0.5}}
	h.score = h.law.score(d)
	rng := rand.New(rand.NewPCG(5, 5))
	l := &laid{passage: &h.score.passages[0]}
	for _, at := range l.at {
		l.heard, l.gain = append(l.heard, 1.01*at+0.0006*rng.NormFloat64()), append(l.gain, 1)
	}
	h.laid = []*laid{l}
	got := h.holdings()
	if len(got) != 2 {
		t.Fatalf("%d lengths, there are two along x: %+v", len(got), got)
	}
	c := clock.New(s, h.law.job)
	for _, v := range got {
		dx, before := int(math.Round(10*v.LengthMM)), int(math.Round(10*v.LengthMM))
		if dx == 70 {
			before = -dx
		}
		want := c.HoldsOn(dx, 0, before, 0) / 1.01
		if v.Zigzag != (dx == 70) || v.Stitches < 40 || v.Error <= 0 || v.Error > 0.004*want || math.Abs(v.Speed-want) > 3*v.Error+0.002*want {
			t.Errorf("%+v; the machine holds %.1f", v, want)
		}
	}
}
