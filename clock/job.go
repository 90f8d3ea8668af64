package clock

import (
	"fmt"
	"math"
)

// Job is what the operator and the goods ask of the machine for one design.
// The zero value is the machine at its own maximum.
type Job struct {
	// Speed is the operator's setting in stitches/min; 0 means the machine's
	// maximum. A setting above the maximum is the maximum.
	Speed float64
	// Cap is the most the goods allow, in stitches/min (cap frame, metallic
	// or woollen thread); 0 means no limit.
	Cap float64
	// AccelFactor multiplies the frame's accelerations: below 1 for mass on
	// the frame (a heavy jacket, a cap driver); 0 means 1.
	AccelFactor float64
	// Needles is the needle of each colour block, from 0; nil puts block k
	// on needle k mod the machine's needles. A short list goes on so.
	Needles []int
}

// Validate says what is wrong with a job: speeds must be 0 or 10…3000
// stitches/min, the acceleration factor 0 or 0.05…2, needles 0…59.
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
	return nil
}

// setSpeed is N_set of MODEL section 2, in stitches/min.
func (j Job) setSpeed(machineMax float64) float64 {
	n := machineMax
	if j.Speed > 0 {
		n = math.Min(n, j.Speed)
	}
	if j.Cap > 0 {
		n = math.Min(n, j.Cap)
	}
	return n
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

// What the goods allow where the shop does not say, in stitches/min. Assumed,
// from advice in print: caps at 600 to 650 at most with commercial machines,
// metallic thread at 500 to 700 with commercial and 300 to 400 with home
// machines (docs/model.md).
const (
	CapFrameSpeed = 650
	MetallicSpeed = 550
)

// CapFor is the job cap for a cap frame and metallic thread, 0 for neither.
func CapFor(capFrame, metallic bool) float64 {
	switch {
	case metallic:
		return min(MetallicSpeed, CapFrameSpeed)
	case capFrame:
		return CapFrameSpeed
	}
	return 0
}
