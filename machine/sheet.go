package machine

import (
	"maps"
	"slices"

	"needlepace/words"
)

// Basis says where a constant comes from.
type Basis string

// The bases of a constant, from weakest to strongest.
const (
	Assumed  Basis = "assumed"  // nobody measured it on this machine
	Pooled   Basis = "pooled"   // learned on other machines of its class
	Spec     Basis = "spec"     // the machine's manual or data plate says so
	Measured Basis = "measured" // read directly off the machine
	Fitted   Basis = "fitted"   // learned from timed runs
)

// Sheet is one machine: the shop's name for it and its constants, in the
// units of the sheet file (MODEL section 6).
type Sheet struct {
	Name     string
	Class    string
	Heads    int
	Needles  int
	MaxSpeed float64 // stitches/min
	Shaft    Shaft
	Speed    Speed
	Slow     Slow
	Frame    Frame
	Ladder   Ladder
	Turns    Turns
	Travel   TravelLaw
	Rest     Rest
	Reading  Reading
	Field    Field
	Job      JobFactors
	// Correction is what learning found beside the law.
	Correction Correction

	// SD is the relative standard deviation of a constant (log-normal), by
	// its path, e.g. "frame.accel_x". A constant that is absent is exact.
	SD map[string]float64
	// BasisOf is the basis of a constant by its path; absent means Assumed.
	BasisOf map[string]Basis
	// Fit is what learning left behind; nil for a sheet that was never fitted.
	Fit *Fit
	// Pool says which learned machines the class is from; nil for a class that
	// nobody measured.
	Pool *Pool
}

// Shaft is how the main shaft changes speed.
type Shaft struct {
	AccelUp           float64 // rev/s²
	AccelDown         float64 // rev/s²
	CreepSpeed        float64 // stitches/min, first and last boundary of a run
	SoftStartStitches int     // revolutions of each run that also obey SoftStartSpeed
	SoftStartSpeed    float64 // stitches/min
	SpeedStep         int     // stitches/min: speeds are rounded down to a multiple; 0: any speed
	StepFreeSet       int     // of SpeedStep, 1: the set speed itself is held as it is set
	Lag               float64 // s: the shaft's speed follows a rising cap with this time constant; 0: at once
}

// Speed is how a shaft that is not at the set speed misses it.
type Speed struct {
	True float64 // what the shaft turns at a set speed, over that; 0: as set
	Top  float64 // stitches/min that the shaft never passes, whatever is set; 0: none known
}

// Slow is how a machine is let in gently: for so many seconds after the start button, and for so many stitches at the
// beginning of each colour, the shaft runs at Speed of the set speed at most. Speed 0 or 1: it is not.
type Slow struct {
	Seconds  float64 // s
	Stitches int     // revolutions of a colour block
	Speed    float64 // fraction of the set speed
}

// Frame is how the frame (pantograph, hoop) moves while the needle is out of
// the fabric.
type Frame struct {
	Window float64 // fraction of a revolution in which the frame may move
	AccelX float64 // mm/s²
	AccelY float64 // mm/s²
	SpeedX float64 // mm/s, top speed
	SpeedY float64 // mm/s
	Settle float64 // s, settle time after a move
	// JerkTime is how long the frame takes from no to full acceleration, s;
	// 0: at once.
	JerkTime float64
	Turn     float64 // κ, turn penalty: 0 none, 1 a full reversal takes twice as long
}

// Turns is a controller's cap at sharp turns: where the way of sewing turns by
// Angle to To degrees (0 on, 180 back) between two stitches that are both no
// longer than Length mm, the shaft may run at Speed of the set speed. Speed 0
// or 1: no such cap.
type Turns struct {
	Angle  float64 // degrees
	To     float64 // degrees
	Length float64 // mm
	Speed  float64 // fraction of the set speed
}

// Correction is what the frame's time is multiplied by, beside the law:
// Factor[k] at stitch length Length[k], and TurnFactor[k] at a turn of
// TurnAngle[k]. The logarithm of the factor is straight between nodes, and held
// beyond the first and the last. Empty tables correct nothing.
type Correction struct {
	Length     []float64 // mm, ascending, at most MaxNodes
	Factor     []float64 // above 0; 1 is the law as it is
	TurnAngle  []float64 // degrees, ascending, at most MaxNodes
	TurnFactor []float64
}

// Ladder is a speed table some controllers impose on top: up to Length[k] mm
// the shaft may run at Speed[k] stitches/min. Empty means no limit.
type Ladder struct {
	Length []float64 // mm, ascending
	Speed  []float64 // stitches/min
	ByAxis int       // 1: the length is the longer of the two axes' moves, not the stitch's own
}

// Travel modes.
const (
	FrameTravel = "frame" // the frame moves while the shaft stands
	ShaftTravel = "shaft" // every jump record takes a revolution
)

// TravelLaw is how the frame moves where nothing is sewn.
type TravelLaw struct {
	Mode          string  // FrameTravel or ShaftTravel
	Accel         float64 // mm/s²
	Speed         float64 // mm/s
	ShaftSpeed    float64 // stitches/min, in ShaftTravel
	ReturnToStart bool    // back to (0, 0) at the end
}

// Rest is the action alone, in seconds, from standing to ready to restart
// (MODEL section 4): the ramps before and after are not in it.
type Rest struct {
	Start      float64
	Trim       float64
	ColourStop float64 // its own cut included
	PerNeedle  float64 // for each needle position crossed at a colour stop
	Stop       float64
	End        float64 // last cut included
}

// Reading is how the machine reads a file.
type Reading struct {
	TrimAfterJumps int // this many jumps in a row are a trim
}

// Field is how far the frame carries a design: no larger one can be sewn. Both
// are 0 where the sheet does not say.
type Field struct {
	Width  int // mm, left and right
	Height int // mm, to and from the operator
}

// Fit is the record that learning leaves in a sheet: what it was fitted from
// and how the fitted constants hang together.
type Fit struct {
	Runs         int         // timed observations used
	Date         words.Day   // of the newest observation; may be none
	ModelVersion int         // the model the constants belong to
	Digest       string      // SHA-256 of the observations, hexadecimal
	Constants    []string    // paths, in the order of Correlation
	Correlation  [][]float64 // of the logarithms, symmetric, diagonal 1
	// Residual is the relative standard deviation of a whole run's time that
	// the fitted constants leave unexplained: the model's own error (≥ 0).
	Residual float64
	// Changes is the relative standard deviation of one colour change or stop
	// from one time to the next (≥ 0): the machine's, or people's.
	Changes float64
	// Terms are the terms of the law that the runs speak for, Weight the chance
	// that the machine is of this kind and none of the others in Also; 0 where
	// none was weighed.
	Terms  []string
	Weight float64
	Also   []Alternative
	// Evidence is what the runs told by themselves; nil in sheets of before.
	Evidence *Evidence
	// Jobs is how many of the runs were of which kinds of job together; plain
	// ones are not in it.
	Jobs []RunsOfJob
}

// ModelVersion is the version of the machine model (docs/model.md). A sheet
// fitted under another version must be fitted again, never reused as fitted.
const ModelVersion = 1

// Clone is a deep copy; evidence and pool, which nothing ever changes, are shared.
func (s *Sheet) Clone() *Sheet {
	c := *s
	c.Ladder.Length = append([]float64(nil), s.Ladder.Length...)
	c.Ladder.Speed = append([]float64(nil), s.Ladder.Speed...)
	for _, t := range []*[]float64{&c.Correction.Length, &c.Correction.Factor, &c.Correction.TurnAngle,
		&c.Correction.TurnFactor} {
		*t = append([]float64(nil), *t...)
	}
	c.SD = maps.Clone(s.SD)
	c.BasisOf = maps.Clone(s.BasisOf)
	if s.Fit != nil {
		f := *s.Fit
		f.Constants = append([]string(nil), f.Constants...)
		f.Terms = slices.Clone(f.Terms)
		f.Also = slices.Clone(f.Also) // an alternative is never changed
		f.Jobs = slices.Clone(f.Jobs)
		f.Correlation = nil
		for _, row := range s.Fit.Correlation {
			f.Correlation = append(f.Correlation, append([]float64(nil), row...))
		}
		c.Fit = &f
	}
	return &c
}
