package learn

import (
	"fmt"
	"math"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Kind is what was observed.
type Kind uint8

// The kinds of observation.
const (
	// WholeRun is the time from the start button to the machine standing at
	// the end, in seconds: the run time of package clock.
	WholeRun Kind = iota
	// BlockRun is one colour block: from its first stitch or restart to the
	// machine standing at the next colour stop or the end. The colour stop,
	// the travel after it and the start and end actions are not in it.
	BlockRun
	// DisplayReading is the speed on the machine's display while it sews
	// stitches of one length, straight or to and fro, in stitches/min.
	DisplayReading
)

// String names the kind for people.
func (k Kind) String() string {
	return [...]string{"whole run", "colour block", "display reading"}[k]
}

// Observation is one thing a person saw on a machine.
type Observation struct {
	Row      int       // line of the file it came from; 0: none
	Date     words.Day // may be none
	Kind     Kind
	Name     string         // what the design is called, e.g. its path in the file
	Design   *stitch.Design // nil for a display reading
	SetSpeed float64        // the operator's setting, stitches/min
	Block    int            // BlockRun: from 1
	Seconds  float64        // WholeRun, BlockRun
	Shown    float64        // DisplayReading: stitches/min
	LengthMM float64        // DisplayReading: stitch length along the x axis (left and right)
	Zigzag   bool           // DisplayReading: to and fro, not straight on
	Error    float64        // the reading's own standard error (s, or stitches/min); 0: the usual one
	Step     float64        // the step it was written in: 1 for whole seconds; 0 for no rounding
	Note     string
	Needles  Needles      // which needle each block used, where it is known
	With     Beside       // BlockRun: what its time holds beside the block
	Only     Only         // BlockRun: the part of it that the time is of; empty: the block
	Job      machine.Jobs // the kinds of job it was of; 0: a plain one
	Pressed  bool         // timed by presses on the page: nobody wrote it down
	Ignored  bool         // kept, and not learned from
	Written  string       // the time as it was written; empty where that is not known

	spot int // where the model has the part Only, from 1
}

// The usual errors of a reading, all assumed.
const (
	// A person presses the watch twice, each time about a quarter of a second
	// early or late.
	pressSD = 0.35 // s
	// A machine does not take exactly the same time twice.
	RunToRun = 0.003 // relative standard deviation of a time
	// A display flickers and rounds.
	displaySD  = 10.0  // stitches/min
	displayRel = 0.005 // relative

	// Thread breaks, empty bobbins and pauses nobody wrote down: one in two
	// hours of running, a minute each (the minute: ASI, Stitches, July 2014).
	pauseEvery = 7200.0 // s
	pauseMean  = 60.0   // s
	slipChance = 0.002  // of a number that has nothing to do with the run
)

// reading is the person's part of the error: the watch or the display, and the
// rounding.
func (o *Observation) reading() float64 {
	if o.Error > 0 {
		return o.Error
	}
	base := pressSD
	if o.Kind == DisplayReading {
		base = displaySD
	}
	return math.Sqrt(base*base + o.Step*o.Step/12)
}

// StandardError is the standard deviation of the reading around the machine's
// own time (s) or speed (stitches/min): the person, the rounding, and what
// a machine does differently from run to run.
func (o *Observation) StandardError() float64 {
	rel := RunToRun
	if o.Kind == DisplayReading {
		rel = displayRel
	}
	return math.Hypot(o.reading(), rel*o.value())
}

// value is the number read.
func (o *Observation) value() float64 {
	if o.Kind == DisplayReading {
		return o.Shown
	}
	return o.Seconds
}

// noiseOf is the noise of a time or speed of the given size and standard error.
func noiseOf(kind Kind, size, sd float64) noise {
	n := noise{sd: sd, slip: slipChance, delay: pauseMean}
	if kind == DisplayReading {
		n.delay = 1
		n.wide = 3000
		return n
	}
	n.pause = min(max(-math.Expm1(-size/pauseEvery), 0.002), 0.5)
	n.wide = 10*max(size, 0) + 1000
	return n
}

// What the observation is, for a sentence: "whole run of rose.dst at 800/min".
func (o *Observation) What() string {
	if o.Job != 0 {
		plain := *o
		plain.Job = 0
		return plain.What() + ", " + o.Job.String()
	}
	switch o.Kind {
	case BlockRun:
		if o.Only != "" {
			return fmt.Sprintf("%s of %s at %s", o.Only.What(), o.Name, perMinute(o.SetSpeed))
		}
		return fmt.Sprintf("block %d of %s at %s", o.Block, o.Name, perMinute(o.SetSpeed))
	case DisplayReading:
		way := "straight"
		if o.Zigzag {
			way = "zigzag"
		}
		return fmt.Sprintf("display at %s, %s %.1f mm", perMinute(o.SetSpeed), way, o.LengthMM)
	}
	return fmt.Sprintf("%s at %s", o.Name, perMinute(o.SetSpeed))
}

func perMinute(speed float64) string { return words.PerMinute(speed).Text(nil) }

// Where names the row for a warning: "row 7", or what it is where it came
// from no file.
func (o *Observation) Where() string {
	if o.Row > 0 {
		return fmt.Sprintf("row %d", o.Row)
	}
	return o.What()
}
