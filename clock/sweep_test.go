package clock_test

import (
	"testing"

	"needlepace/clock"
	"needlepace/stitch"
)

// sameStitches is one run of n stitches of the same length along x.
func sameStitches(n int, units int16) *stitch.Design {
	d := &stitch.Design{}
	for range n {
		d.Records = append(d.Records, stitch.Record{DX: units})
	}
	return d
}

// A machine whose frame holds every stitch to one speed gains nothing past
// it: the knee is the last setting below.
func TestKneeIsWhereTheFrameTakesOver(t *testing.T) {
	s := plainSheet()
	s.Frame.SpeedX = 10_000
	// 7 mm at 13,800 mm/s²: 2·sqrt(7/13800) = 45 ms, 0.44/45 ms = 9.768 rev/s = 586/min.
	points, knee := clock.Sweep(sameStitches(5000, 70), s, clock.Job{})
	if got := points[knee].SetSpeed; got != 600 {
		t.Errorf("knee at %v/min, want 600 (the frame holds 586/min)", got)
	}
	if last := points[len(points)-1]; last.SetSpeed != 1000 || last.HeldSpeed > 587 {
		t.Errorf("set to %v/min the machine holds %v/min", last.SetSpeed, last.HeldSpeed)
	}
}

func TestShortStitchesHaveNoKnee(t *testing.T) {
	points, knee := clock.Sweep(sameStitches(5000, 5), plainSheet(), clock.Job{})
	if knee != len(points)-1 {
		t.Errorf("knee at %v/min; every step still buys 5 %% or more", points[knee].SetSpeed)
	}
}

func TestSweepEndsAtTheCap(t *testing.T) {
	points, _ := clock.Sweep(sameStitches(500, 5), plainSheet(), clock.Job{Speed: 400, Cap: 630})
	if last := points[len(points)-1].SetSpeed; last != 630 {
		t.Errorf("the sweep ends at %v/min, want the cap of 630", last)
	}
	slow := plainSheet()
	slow.MaxSpeed = 100
	if points, _ := clock.Sweep(sameStitches(500, 5), slow, clock.Job{}); points[0].SetSpeed != 50 || len(points) != 2 {
		t.Errorf("a machine of 100/min is swept at %+v", points)
	}
}
