package clock

import (
	"math"

	"needlepace/machine"
	"needlepace/stitch"
)

// Steps of a sweep, in stitches/min.
const (
	SweepFrom = 300 // below this no shop sets a machine; a slower machine begins at a third of its maximum
	SweepStep = 50
)

// KneeGain is what the next SweepStep must buy to be worth setting: 1 % of
// the run time.
const KneeGain = 0.01

// SweepPoint is the run time at one set speed.
type SweepPoint struct {
	SetSpeed  float64 `json:"set_speed"` // stitches/min
	Seconds   float64 `json:"seconds"`
	HeldSpeed float64 `json:"held_speed"` // stitches/min
}

// Sweep clocks a design at set speeds from SweepFrom to the machine's maximum
// (or the job's cap), and gives the knee: the index of the setting past which
// each further SweepStep buys less than KneeGain of the run time. job.Speed
// is not used.
func Sweep(d *stitch.Design, s *machine.Sheet, job Job) (points []SweepPoint, knee int) {
	job.Speed = 0
	top := job.setSpeed(s)
	first := float64(SweepFrom)
	if top < 2*first {
		first = math.Ceil(top/3/SweepStep) * SweepStep
	}
	for v := first; ; v += SweepStep {
		job.Speed = math.Min(v, top)
		r := Run(d, s, job)
		points = append(points, SweepPoint{r.SetSpeed, r.Seconds, r.HeldSpeed()})
		if v >= top {
			break
		}
	}
	for i := len(points) - 1; i > 0; i-- {
		a, b := points[i-1], points[i]
		step := (b.SetSpeed - a.SetSpeed) / SweepStep // the last may be short
		if a.Seconds-b.Seconds >= KneeGain*a.Seconds*step {
			return points, i
		}
	}
	return points, 0
}
