// Common practice, no published source: one design of 20,612 stitches, 7 colour stops and 11 trims took 27 min 22 s set at 800/min, and 32 min 21 s and 36 min 27 s set at 1,000/min on two other machines.

package learn

import (
	"math"
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// practiceDesign has those counts and a plausible mix of stitch lengths: fills
// of 4 mm, satin of 2 to 6 mm, running stitch of 2.5 mm.
func practiceDesign() *stitch.Design {
	d := &stitch.Design{Name: "20,612 stitches"}
	const total, blocks, trims = 20612, 8, 11
	stretches := blocks + trims
	for k, left := 0, total; k < stretches; k++ {
		if k > 0 {
			if k*(blocks-1)/(stretches-1) > (k-1)*(blocks-1)/(stretches-1) {
				d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
			}
			for range 3 {
				d.Records = append(d.Records, stitch.Record{DX: 60, DY: 30, Op: stitch.Jump})
			}
		}
		n := left / (stretches - k)
		left -= n
		width := int16(20 + 40*(k%5)/4)
		for i := range n {
			r := stitch.Record{DX: 40, DY: 2}
			switch {
			case k%3 == 1:
				r = stitch.Record{DX: width, DY: 2}
				if i%2 == 1 {
					r.DX = -width
				}
			case k%3 == 2:
				r = stitch.Record{DX: 18, DY: 17}
			case i%20 < 10:
				r = stitch.Record{DX: -40, DY: 2}
			}
			d.Records = append(d.Records, r)
		}
	}
	return d
}

func TestOneTimingIsReproducedAndNoMoreIsClaimed(t *testing.T) {
	d := practiceDesign()
	c := d.Count()
	r := clock.Run(d, mustClass(t, "compact-8"), clock.Job{})
	if c.Stitches != 20612 || c.ColourStops != 7 || r.Trims != 11 {
		t.Fatalf("%d stitches, %d colour stops, %d trims", c.Stitches, c.ColourStops, r.Trims)
	}
	for _, run := range []struct {
		seconds, speed float64
		classes        []string
	}{
		{1642, 800, []string{"compact-8", "single-15-1200", "multi-6"}},
		{1941, 1000, []string{"compact-10-light", "single-15-light", "multi-12"}},
		{2187, 1000, []string{"compact-10-light", "single-15-light", "home-1"}},
	} {
		for _, id := range run.classes {
			s := mustClass(t, id)
			obs := []Observation{{Kind: WholeRun, Name: "design", Design: d, SetSpeed: run.speed, Seconds: run.seconds, Step: 1}}
			res, err := Fit(t.Context(), s, obs, Options{Draws: 300})
			if err != nil {
				t.Fatal(err)
			}
			got := clock.Run(d, res.Sheet, clock.Job{Speed: run.speed}).Seconds
			before := clock.Run(d, s, clock.Job{Speed: run.speed}).Seconds
			// A time the class can hardly have (home-1's seven re-threads) may
			// be met a little less well.
			if math.Abs(got/run.seconds-1) > 0.01 {
				t.Errorf("%s: %.0f s set at %.0f/min became %.1f s (the class: %.1f s)", s.Name, run.seconds, run.speed, got, before)
			}
			if !res.OnlyPace || math.Abs(res.Pace-got/before) > 0.02 {
				t.Errorf("%s: only the pace was learned: %v, %.3f, want %.3f", s.Name, res.OnlyPace, res.Pace, got/before)
			}
			if res.Learned > 1.2 {
				t.Errorf("%s: one timing determined %.2f things", s.Name, res.Learned)
			}
			determined := 0
			for _, k := range res.Constants {
				if k.Reach == Determined {
					determined++
				}
			}
			if determined > 1 {
				t.Errorf("%s: %d constants determined by one timing", s.Name, determined)
			}
		}
	}
}
