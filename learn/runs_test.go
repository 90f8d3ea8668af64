package learn

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The goods of the day change the frame's acceleration: how much is learned from runs that differ, and the sheet's
// spread holds the next run. Where runs do not differ it is next to nothing.
func TestTheFrameOfEachRun(t *testing.T) {
	s := mustClass(t, "single-15-light")
	for _, c := range []struct{ sd, least, most float64 }{{0, 0, 0.03}, {0.25, 0.1, 0.6}} {
		truth, p, _ := timedPiece(t, s, 5)
		rng := rand.New(rand.NewPCG(3, 4))
		var obs []Observation
		for k := range 4 {
			day := truth.Clone()
			f := math.Exp(c.sd * []float64{1, -1.2, 0.8, -0.6}[k])
			day.Frame.AccelX *= f
			day.Frame.AccelY *= f
			d, speed := p.Design, p.SetSpeed
			if k > 0 {
				d, speed = somewhat(uint64(k), 4, 1500), 900-100*float64(k)
			}
			obs = append(obs, timed(day, rng, d, speed, true)...)
		}
		res := fit(t, s, obs, Options{Draws: -1, Plain: true})
		if res.Frame < c.least || res.Frame > c.most {
			t.Errorf("runs whose frames differ by %v: learned %v", c.sd, res.Frame)
		}
		if sd := res.Sheet.SD["frame.accel_x"]; sd < res.Frame {
			t.Errorf("runs whose frames differ by %v: the sheet's spread is %v", res.Frame, sd)
		}
	}
}
