package clock

import (
	"fmt"
	"math"

	"needlepace/machine"
)

// Job is what the operator and the goods ask of the machine for one design.
// The zero value is the machine at its own maximum.
type Job struct {
	// Speed is the operator's setting in stitches/min; 0 means the machine's
	// maximum. A setting above the maximum is the maximum.
	Speed float64
	// Kinds are the kinds of job that the run is of (cap frame, heavy goods,
	// metallic thread, …); what each does to the machine is in its sheet.
	Kinds machine.Jobs
	// Cap is the most the goods allow, in stitches/min, instead of the sheet's
	// limits for Kinds; 0 means those.
	Cap float64
	// AccelFactor multiplies the frame's accelerations, instead of the sheet's
	// factor for heavy goods: below 1 for mass on the frame; 0 means that.
	AccelFactor float64
	// Needles is the needle of each colour block, from 0; nil puts block k
	// on needle k mod the machine's needles. A short list goes on so.
	Needles []int
	// From is how many stitches are made already: the machine stands after them, and
	// the run is what is left of it. It begins with the start button and the shaft at
	// rest. 0 is the whole run; a design's last stitch leaves what follows it.
	From int
}

// Validate says what is wrong with a job: speeds must be 0 or 10…3000
// stitches/min, the acceleration factor 0 or 0.05…2, needles 0…59, From 0 or more.
func (j Job) Validate() error {
	for _, v := range []struct {
		name   string
		x      float64
		lo, hi float64
		unit   string
	}{
		{"speed", j.Speed, 10, 3000, " stitches/min"},
		{"job cap", j.Cap, 10, 3000, " stitches/min"},
		{"acceleration factor", j.AccelFactor, 0.05, 2, ""},
	} {
		if v.x != 0 && !(v.x >= v.lo && v.x <= v.hi) { // a NaN fails too
			return fmt.Errorf("%s %v is outside %v to %v%s", v.name, v.x, v.lo, v.hi, v.unit)
		}
	}
	for k, n := range j.Needles {
		if n < 0 || n > 59 {
			return fmt.Errorf("colour block %d is put on needle %d; needles count from 1 to 60", k+1, n+1)
		}
	}
	if j.From < 0 {
		return fmt.Errorf("the machine stands at stitch %d; stitches count from 1", j.From)
	}
	return nil
}

// setSpeed is N_set of MODEL section 2, in stitches/min.
func (j Job) setSpeed(s *machine.Sheet) float64 {
	n := s.MaxSpeed
	if j.Speed > 0 {
		n = math.Min(n, j.Speed)
	}
	limit := j.Cap
	if limit == 0 {
		limit = s.JobSpeed(j.Kinds)
	}
	if limit > 0 {
		n = math.Min(n, limit)
	}
	return n
}

// turns is what the shaft turns at that setting, in stitches/min.
func (j Job) turns(s *machine.Sheet) float64 {
	n := j.setSpeed(s)
	if s.Speed.True > 0 {
		n *= s.Speed.True
	}
	if s.Speed.Top > 0 {
		n = math.Min(n, s.Speed.Top)
	}
	return n
}

// accelFactor is what the frame's accelerations are multiplied by.
func (j Job) accelFactor(s *machine.Sheet) float64 {
	if j.AccelFactor == 0 {
		return s.JobAccel(j.Kinds)
	}
	return j.AccelFactor * s.JobAccel(j.Kinds&^machine.Heavy)
}

// asks reports whether a constant that is of a kind of job matters to this one.
func (j Job) asks(c *machine.Constant) bool {
	switch {
	case c.Job == 0:
		return true
	case c.Job&j.Kinds == 0:
		return false
	case c.Unit != "":
		return j.Cap == 0
	}
	return c.Job != machine.Heavy || j.AccelFactor == 0
}

// ByHand reports whether a colour block of a machine with several needles is
// re-threaded by hand: it is beyond them, and no needle was said for it. Who says a
// block's needle has its thread there.
func (j Job) ByHand(block, needles int) bool {
	return needles > 1 && block >= needles && block >= len(j.Needles)
}

// needle is the needle of colour block k.
func (j Job) needle(block, needles int) int {
	if block < len(j.Needles) {
		return j.Needles[block]
	}
	if needles < 1 {
		return 0
	}
	return block % needles
}
