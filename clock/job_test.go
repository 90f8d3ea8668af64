package clock

import (
	"math"
	"strings"
	"testing"

	"needlepace/machine"
)

func TestTheEdgesOfAJobAreAllowedAndNothingBeyond(t *testing.T) {
	for _, c := range []struct {
		job Job
		ok  bool
	}{
		{Job{}, true}, {Job{Speed: 10, Cap: 3000, AccelFactor: .05}, true}, {Job{Speed: 3000, Cap: 10, AccelFactor: 2}, true},
		{Job{Speed: 9.9}, false}, {Job{Speed: 3001}, false}, {Job{Cap: 9}, false}, {Job{Cap: 3001}, false},
		{Job{AccelFactor: .04}, false}, {Job{AccelFactor: 2.1}, false}, {Job{Speed: -1}, false}, {Job{Speed: math.NaN()}, false},
		{Job{Needles: []int{0, 59}}, true}, {Job{Needles: []int{0, 60}}, false}, {Job{Needles: []int{-1}}, false},
	} {
		if err := c.job.Validate(); (err == nil) != c.ok {
			t.Errorf("%+v: %v", c.job, err)
		}
	}
	err := (Job{Needles: []int{0, 60}}).Validate()
	if want := "colour block 2 is put on needle 61;"; err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("%v, want %q", err, want)
	}
}

// The lowest of machine, operator and goods sets the speed.
func TestTheLowestSpeedIsSet(t *testing.T) {
	for _, c := range []struct{ speed, limit, want float64 }{{0, 0, 1000}, {800, 0, 800}, {0, 700, 700}, {800, 700, 700},
		{700, 800, 700}, {1200, 1100, 1000}} {
		if got := (Job{Speed: c.speed, Cap: c.limit}).setSpeed(&machine.Sheet{MaxSpeed: 1000}); got != c.want {
			t.Errorf("set to %v, at most %v: %v", c.speed, c.limit, got)
		}
	}
}

// What kinds of job do is the sheet's: the least of their limits, the product of
// their factors. A limit or a factor of the job's own is instead of it.
func TestKindsOfJobAreTheSheets(t *testing.T) {
	s := &machine.Sheet{MaxSpeed: 1000, SD: map[string]float64{"rest.trim": 0.3}}
	learned := s.Clone()
	learned.Job = machine.JobFactors{CapFrameSpeed: 580, CapFrameAccel: 0.8, HeavyAccel: 0.6, MetallicSpeed: 620}
	both, thread := machine.CapFrame|machine.Heavy, machine.CapFrame|machine.Metallic
	for _, c := range []struct {
		s            *machine.Sheet
		job          Job
		speed, accel float64
	}{
		{s, Job{}, 1000, 1}, {s, Job{Kinds: both}, 650, 0.7}, {s, Job{Kinds: thread}, 550, 1},
		{s, Job{Kinds: machine.Woollen | machine.LargeHoop}, 600, 0.85},
		{learned, Job{}, 1000, 1}, {learned, Job{Kinds: both}, 580, 0.48}, {learned, Job{Kinds: thread}, 580, 0.8},
		{learned, Job{Kinds: machine.Metallic, Speed: 600}, 600, 1}, {learned, Job{Kinds: both, Cap: 700}, 700, 0.48},
		{learned, Job{Kinds: both, AccelFactor: 0.5}, 580, 0.4}, {learned, Job{AccelFactor: 0.5}, 1000, 0.5},
	} {
		if n := c.job.setSpeed(c.s); n != c.speed {
			t.Errorf("%+v: set to %v, want %v", c.job, n, c.speed)
		}
		if f := c.job.accelFactor(c.s); math.Abs(f-c.accel) > 1e-12 {
			t.Errorf("%+v: accelerations times %v, want %v", c.job, f, c.accel)
		}
	}
}

func TestSpeedsOfAResultAreStitchesAMinute(t *testing.T) {
	r := &Result{RatedSpeed: 750}
	r.Stitches = 9000
	if r.NaiveSeconds() != 720 {
		t.Errorf("9,000 stitches at 750/min take %v s", r.NaiveSeconds())
	}
	for _, c := range []struct{ seconds, want float64 }{{600, 900}, {.5, 1_080_000}, {0, 0}, {-1, 0}} {
		if got := (&Block{Stitches: 9000, Seconds: c.seconds}).OverallSpeed(); got != c.want {
			t.Errorf("9,000 stitches in %v s are %v/min", c.seconds, got)
		}
	}
	var p Parts
	for k := range partTable {
		*partTable[k].of(&p) = float64(int(1) << k)
	}
	if got := p.Sum(); got != 1<<NumParts-1 {
		t.Errorf("parts of 1, 2, 4 and so on add up to %v", got)
	}
	if got := (Parts{AtSetSpeed: 100, LongStitches: 20, Ramps: 3}).Sewing(); got != 123 {
		t.Errorf("100, 20 and 3 s of sewing are %v", got)
	}
	if got := (LongBy{FrameX: 1000, FrameY: 200, Turn: 30, Ladder: 4}).Sum(); got != 1234 {
		t.Errorf("the reasons of long stitches add up to %v", got)
	}
	if Part(NumParts).String() != "unknown" || Part(NumParts-1).String() != partTable[NumParts-1].key ||
		Part(0).String() != partTable[0].key {
		t.Error("a part is called otherwise than in its table")
	}
}

// A block's needle is as the job says, else they take turns.
func TestBlocksTakeTheNeedlesInTurn(t *testing.T) {
	for _, c := range []struct{ block, needles, want int }{{0, 5, 4}, {1, 5, 1}, {7, 5, 2}, {3, 1, 0}, {3, 0, 0}} {
		if got := (Job{Needles: []int{4}}).needle(c.block, c.needles); got != c.want {
			t.Errorf("block %d on %d needles is on needle %d, want %d", c.block, c.needles, got, c.want)
		}
	}
}
