package clock_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"needlepace/clock"
	"needlepace/machine"
)

// without takes all terms and corrections away.
func without(s *machine.Sheet) *machine.Sheet {
	s = s.Clone()
	for _, c := range machine.Constants {
		if c.Term {
			c.Set(s, c.Default)
		}
	}
	s.Correction = machine.Correction{}
	return s
}

// terms are ways to add each term of the law; those below and above which the
// others were drawn stay.
var terms = map[string]func(*machine.Sheet){
	"jerk":  func(s *machine.Sheet) { s.Frame.JerkTime += 0.004 },
	"step":  func(s *machine.Sheet) { s.Shaft.SpeedStep = 50 },
	"lag":   func(s *machine.Sheet) { s.Shaft.Lag += 0.15 },
	"slow":  func(s *machine.Sheet) { s.Slow = machine.Slow{Seconds: 40, Stitches: 30, Speed: 0.6} },
	"top":   func(s *machine.Sheet) { s.Speed.Top = 700 },
	"true":  func(s *machine.Sheet) { s.Speed.True = 0.95 },
	"turns": func(s *machine.Sheet) { s.Turns = machine.Turns{Angle: 40, To: 170, Length: 5, Speed: 0.7} },
}

func TestATermNeverMakesARunFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		s.Shaft.StepFreeSet, s.Slow.Seconds = 0, 0 // see TestMoreOfAnythingGoodNeverLengthensTheRun
		for name, add := range terms {
			m := s.Clone()
			switch name {
			case "step":
				m.Shaft.SpeedStep = 0
			case "turns":
				m.Turns = machine.Turns{To: 180}
			case "slow":
				m.Slow = machine.Slow{}
			case "top":
				m.Speed.Top = 0
			case "true":
				m.Speed.True = 0
			}
			base := clock.Run(d, m, j).Seconds
			add(m)
			slower(t, name+" added", base, clock.Run(d, m, j).Seconds)
		}
	})
}

// Terms that vanish leave the law without them, to rounding.
func TestTermsThatVanishLeaveTheLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), without(drawSheet(t)), drawJob(t)
		base := clock.Run(d, s, j).Seconds
		m := s.Clone()
		m.Frame.JerkTime, m.Shaft.Lag = 1e-12, 1e-12
		m.Speed.True, m.Speed.Top = 1, 3000
		m.Slow = machine.Slow{Seconds: 1000, Stitches: 1000, Speed: 1}
		m.Turns = machine.Turns{Angle: 0, To: 180, Length: 100, Speed: 1}
		m.Correction = machine.Correction{Length: []float64{1, 5}, Factor: []float64{1, 1}, TurnAngle: []float64{0},
			TurnFactor: []float64{1}}
		if got := clock.Run(d, m, j); math.Abs(got.Seconds-base) > 1e-8*base || got.Parts.Control > 1e-8*base {
			t.Fatalf("%v s and control %v s, without them %v s", got.Seconds, got.Parts.Control, base)
		}
	})
}

// The part is there for machines that have steps or a lag, and for no others.
func TestControlIsOnlyThereWithStepsOrLag(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		s.Shaft.SpeedStep, s.Shaft.Lag = 0, 0
		if got := clock.Run(d, s, j).Parts.Control; got != 0 {
			t.Fatalf("control of %v s", got)
		}
	})
	s := plainSheet()
	s.Shaft.Lag = 0.2
	r, o := clock.Run(mixedDesign(), s, clock.Job{}), clock.Run(mixedDesign(), without(s), clock.Job{})
	if !(r.Parts.Control > 0 && r.Seconds > o.Seconds) {
		t.Errorf("a lag of 0.2 s adds %v s", r.Parts.Control)
	}
}

// Runs longer than a window carry the lag and everything else over its edge.
func TestTermsInWindowsAsInOnePiece(t *testing.T) {
	for _, set := range []func(*machine.Sheet){
		func(s *machine.Sheet) { s.Shaft.Lag = 0.2 },
		func(s *machine.Sheet) { s.Shaft.Lag, s.Shaft.SpeedStep, s.Frame.JerkTime = 0.1, 50, 0.005 },
		func(s *machine.Sheet) {
			s.Shaft.Lag, s.Shaft.SpeedStep, s.Shaft.StepFreeSet, s.Speed.True = 0.1, 50, 1, 0.97
			s.Slow = machine.Slow{Seconds: 500, Stitches: 300, Speed: 0.8}
		},
		func(s *machine.Sheet) {
			s.Shaft.Lag, s.Shaft.SpeedStep, s.Frame.Turn = 0.3, 20, 0.3
			s.Turns = machine.Turns{Angle: 60, To: 120, Length: 4, Speed: 0.8}
			s.Correction = machine.Correction{Length: []float64{1, 12}, Factor: []float64{1.1, 0.9},
				TurnAngle: []float64{20, 160}, TurnFactor: []float64{0.9, 1.2}}
		},
	} {
		s := plainSheet()
		s.Shaft.AccelDown = 2
		set(s)
		agree(t, longDesign(20_000), s, clock.Job{})
		d := longDesign(20_000)
		c := clock.New(s, clock.Job{})
		tr, sum := c.Trace(d), 0.0
		for _, v := range tr.Control {
			sum += v
		}
		if !near(sum, tr.Result.Parts.Control, tr.Result.Seconds) {
			t.Errorf("the trace has control of %v s, the run %v s", sum, tr.Result.Parts.Control)
		}
		var by clock.Parts
		var long clock.LongBy
		for _, k := range c.ByKind(d, d.Kinds(s.Reading.TrimAfterJumps), tr) {
			by.Control += k.Parts.Control
			by.Ramps += k.Parts.Ramps
			long.Turn += k.LongBy.Turn
		}
		if !near(by.Control, sum, tr.Result.Seconds) || !near(by.Ramps, tr.Result.Parts.Ramps, tr.Result.Seconds) ||
			!near(long.Turn, tr.Result.LongBy.Turn, tr.Result.Seconds) {
			t.Errorf("by kind %+v %+v, the run %+v %+v", by, long, tr.Result.Parts, tr.Result.LongBy)
		}
	}
}

// What a ladder's rungs spread is in the interval: each stitch goes by its own
// rung, not by the mean length of its like.
func TestIntervalWithALadderIsThatOfDrawnMachines(t *testing.T) {
	s := plainSheet()
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion}
	s.Ladder = machine.Ladder{Length: []float64{2, 3, 4, 6, 12.7}, Speed: []float64{900, 750, 600, 500, 400}}
	s.SD = map[string]float64{"ladder.speed.2": 0.1, "ladder.speed.3": 0.2, "ladder.speed.4": 0.2}
	compareDrawn(t, "ladder", s, 0.12)
}

// A response with every term, spread, gives the interval of drawn machines.
func TestIntervalWithTermsIsThatOfDrawnMachines(t *testing.T) {
	s := plainSheet()
	s.Shaft.Lag, s.Shaft.SpeedStep, s.Frame.JerkTime = 0.15, 10, 0.004
	s.Turns = machine.Turns{Angle: 60, To: 180, Length: 4, Speed: 0.8}
	s.Correction = machine.Correction{Length: []float64{1, 4, 9}, Factor: []float64{1, 1.1, 1.2},
		TurnAngle: []float64{90}, TurnFactor: []float64{1.05}}
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion} // no model error
	s.SD = map[string]float64{}
	for path, sd := range map[string]float64{"shaft.lag": 0.4, "frame.jerk_time": 0.5, "turns.speed": 0.1,
		"turns.length": 0.3, "correction.length.1": 0.05, "correction.length.2": 0.1, "correction.turn_angle.1": 0.05,
		"frame.accel_x": 0.2} {
		s.SD[path] = sd
		if one := s.Clone(); path == "shaft.lag" || path == "turns.speed" || path == "correction.length.1" {
			one.SD = map[string]float64{path: sd}
			compareDrawn(t, path, one, 0.22) // kinks of the ramps and of a step are straight in a response
		}
	}
	compareDrawn(t, "all", s, 0.12)
}

// Of rungs about as fast as the set speed half of what is drawn is slower than it, and none faster: where they were learned the
// middle of the interval is where the fit is all the same; where they are a class's, it is where the draws are.
func TestTheMiddleOfALearnedLadderIsTheFit(t *testing.T) {
	s := plainSheet()
	s.Ladder = machine.Ladder{Length: []float64{2, 3, 4, 6, 12.7}, Speed: []float64{s.MaxSpeed, s.MaxSpeed, s.MaxSpeed, s.MaxSpeed, s.MaxSpeed}}
	s.SD = map[string]float64{"ladder.speed.2": 0.3, "ladder.speed.3": 0.3, "ladder.speed.4": 0.3, "ladder.speed.5": 0.3}
	if r, u := clock.How(mixedDesign(), s, clock.Job{}, 0.9); u.Median < 1.005*r.Seconds {
		t.Errorf("a class: the middle of the draws is %.1f s, the sheet's own time %.1f s", u.Median, r.Seconds)
	}
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion}
	if r, u := clock.How(mixedDesign(), s, clock.Job{}, 0.9); math.Abs(u.Median/r.Seconds-1) > 1e-9 || u.Low >= r.Seconds || u.High <= r.Seconds {
		t.Errorf("learned: %.1f s from %.1f to %.1f s, the fit %.1f s", u.Median, u.Low, u.High, r.Seconds)
	}
}
