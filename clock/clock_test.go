package clock_test

import (
	"cmp"
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// drawSheet draws a machine anywhere in the ranges a sheet may give, in any mode.
func drawSheet(t *rapid.T) *machine.Sheet {
	s := &machine.Sheet{Name: "drawn", Class: "drawn", SD: map[string]float64{}}
	for _, c := range machine.Constants {
		if c.Whole {
			c.Set(s, float64(rapid.IntRange(int(c.Min), int(min(c.Max, 20))).Draw(t, c.Path)))
			continue
		}
		lo, hi := c.Min, c.Max
		if lo == 0 {
			if rapid.Bool().Draw(t, c.Path+"?") {
				continue
			}
			lo = hi / 1000
		}
		c.Set(s, lo*math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, c.Path)))
	}
	s.Travel.Mode = rapid.SampledFrom([]string{machine.FrameTravel, machine.ShaftTravel}).Draw(t, "mode")
	s.Travel.ReturnToStart = rapid.Bool().Draw(t, "return")
	s.Shaft.SpeedStep = rapid.SampledFrom([]int{0, 0, 7, 50, 100, 500}).Draw(t, "step")
	s.Turns.To = max(s.Turns.To, s.Turns.Angle)
	for _, c := range []struct{ nodes, factors *[]float64 }{
		{&s.Correction.Length, &s.Correction.Factor}, {&s.Correction.TurnAngle, &s.Correction.TurnFactor}} {
		at := 0.0
		for range rapid.IntRange(0, 4).Draw(t, "nodes") {
			*c.nodes = append(*c.nodes, at)
			*c.factors = append(*c.factors, rapid.Float64Range(0.5, 2).Draw(t, "correction"))
			at += rapid.SampledFrom([]float64{0.4, 2, 45}).Draw(t, "node")
		}
	}
	n := rapid.IntRange(0, 4).Draw(t, "rungs")
	s.Ladder.ByAxis = rapid.IntRange(0, 1).Draw(t, "by axis")
	l := 0.0
	for k := range n {
		l += rapid.SampledFrom([]float64{0.5, 1, 2, 3.2}).Draw(t, fmt.Sprint("rung", k))
		s.Ladder.Length = append(s.Ladder.Length, l)
		s.Ladder.Speed = append(s.Ladder.Speed, rapid.Float64Range(50, 1500).Draw(t, fmt.Sprint("rungspeed", k)))
	}
	return s
}

// plainSheet is a middling machine for tests that need no particular one.
func plainSheet() *machine.Sheet {
	return &machine.Sheet{
		Name: "plain", Heads: 1, Needles: 15, MaxSpeed: 1000,
		Shaft:   machine.Shaft{AccelUp: 18, AccelDown: 24, CreepSpeed: 120, SoftStartStitches: 3, SoftStartSpeed: 300},
		Frame:   machine.Frame{Window: 0.44, AccelX: 13800, AccelY: 12000, SpeedX: 123, SpeedY: 123},
		Travel:  machine.TravelLaw{Mode: machine.FrameTravel, Accel: 1500, Speed: 150, ShaftSpeed: 400},
		Rest:    machine.Rest{Start: 3, Trim: 4, ColourStop: 6, PerNeedle: 0.3, Stop: 1, End: 3},
		Reading: machine.Reading{TrimAfterJumps: 3},
	}
}

func drawJob(t *rapid.T) clock.Job {
	return clock.Job{
		Speed:       rapid.SampledFrom([]float64{0, 350, 600, 800, 1000, 1700}).Draw(t, "speed"),
		Cap:         rapid.SampledFrom([]float64{0, 0, 450, 650}).Draw(t, "cap"),
		AccelFactor: rapid.SampledFrom([]float64{0, 1, 0.6}).Draw(t, "factor"),
		Kinds:       machine.Jobs(rapid.IntRange(0, int(machine.AllJobs)).Draw(t, "kinds")),
		Needles:     rapid.SampledFrom([][]int{nil, {3, 1}, {0, 5, 2, 2}}).Draw(t, "needles"),
	}
}

// drawDesign draws stretches a machine meets: short and long stitches, jumps
// in ones, twos and threes, trims, stops, and displacements no tape record
// can hold.
func drawDesign(t *rapid.T) *stitch.Design {
	d := &stitch.Design{}
	for range rapid.IntRange(0, 12).Draw(t, "stretches") {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		reach := rapid.SampledFrom([]int{3, 30, 121, 121, 128, 900}).Draw(t, "reach")
		op := rapid.SampledFrom([]stitch.Op{stitch.Sew, stitch.Sew, stitch.Sew, stitch.Jump, stitch.Trim,
			stitch.ColourStop, stitch.Stop, stitch.Sequin}).Draw(t, "op")
		switch op {
		case stitch.Jump:
			n = min(n, 1+n%5)
		case stitch.Trim, stitch.ColourStop, stitch.Stop:
			n = 1
			reach *= rapid.IntRange(0, 1).Draw(t, "carries")
		}
		for range n {
			d.Records = append(d.Records, stitch.Record{
				DX: int16(rapid.IntRange(-reach, reach).Draw(t, "dx")),
				DY: int16(rapid.IntRange(-reach, reach).Draw(t, "dy")),
				Op: op,
			})
		}
	}
	return d
}

func near(a, b, scale float64) bool { return math.Abs(a-b) <= 1e-9*math.Max(scale, 1e-9) }

func agree(t rapid.TB, d *stitch.Design, s *machine.Sheet, j clock.Job) {
	t.Helper()
	r := clock.Run(d, s, j)
	o := oracle(d, s, j)
	total := o.parts.Sum()
	if !near(r.Seconds, total, total) {
		t.Fatalf("run time %v, the oracle has %v", r.Seconds, total)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"at set speed", r.Parts.AtSetSpeed, o.parts.AtSetSpeed},
		{"long stitches", r.Parts.LongStitches, o.parts.LongStitches},
		{"ramps", r.Parts.Ramps, o.parts.Ramps},
		{"control", r.Parts.Control, o.parts.Control},
		{"trims", r.Parts.Trims, o.parts.Trims},
		{"colour stops", r.Parts.ColourStops, o.parts.ColourStops},
		{"travel", r.Parts.Travel, o.parts.Travel},
		{"stops", r.Parts.Stops, o.parts.Stops},
		{"start and end", r.Parts.StartEnd, o.parts.StartEnd},
		{"frame", r.LongBy.FrameX + r.LongBy.FrameY, o.by.FrameX + o.by.FrameY},
		{"frame x", r.LongBy.FrameX, o.by.FrameX},
		{"turn", r.LongBy.Turn, o.by.Turn},
		{"ladder", r.LongBy.Ladder, o.by.Ladder},
	} {
		if a, b := s.Frame.AccelX, s.Frame.AccelY; c.name == "frame x" && a != b && near(a, b, a) {
			continue // the last digit decides which axis is slower
		}
		if !near(c.got, c.want, total) {
			t.Fatalf("%s: %v s, the oracle has %v s (of %v)", c.name, c.got, c.want, total)
		}
	}
	if r.Stitches != o.stitches || r.Revolutions != o.revolutions || r.Jumps != o.jumps || r.Trims != o.trims ||
		r.ColourStops != o.colourCuts {
		t.Fatalf("counts %d %d %d %d %d, the oracle has %d %d %d %d %d",
			r.Stitches, r.Revolutions, r.Jumps, r.Trims, r.ColourStops, o.stitches, o.revolutions, o.jumps, o.trims, o.colourCuts)
	}
}

func TestClockAgreesWithThePlainForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { agree(t, drawDesign(t), drawSheet(t), drawJob(t)) })
}

// The simple law (no turn penalty, no ladder) goes by tables; a drawn sheet
// is seldom simple, so it gets draws of its own.
func TestTablesAgreeWithThePlainForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSheet(t)
		s.Frame.Turn, s.Ladder, s.Turns.Speed, s.Correction = 0, machine.Ladder{}, 0, machine.Correction{}
		agree(t, drawDesign(t), s, drawJob(t))
	})
}

func TestLongRunsAreTheSameInWindowsAsInOnePiece(t *testing.T) {
	for _, turn := range []float64{0, 0.4} {
		for _, down := range []float64{0.5, 2, 24} {
			s := plainSheet()
			s.Frame.Turn, s.Shaft.AccelDown = turn, down
			agree(t, longDesign(30_000), s, clock.Job{})
		}
	}
}

// longDesign is one run of n stitches whose lengths wander, with long
// stitches soon after every multiple of 4096, where windows meet, so that the
// shaft must brake before the edge for what comes after it.
func longDesign(n int) *stitch.Design {
	d := &stitch.Design{}
	seed := uint64(7)
	for i := range n {
		seed = seed*6364136223846793005 + 1442695040888963407
		dx, dy := int(seed>>60)-8, int(seed>>52&15)-8
		switch i % 4096 {
		case 5, 6, 40, 200:
			dx = 121
		}
		d.Records = append(d.Records, stitch.Record{DX: int16(dx), DY: int16(dy)})
	}
	return d
}

func TestPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := drawDesign(t), drawSheet(t)
		r := clock.Run(d, s, clock.Job{})
		if !near(r.Parts.Sum(), r.Seconds, r.Seconds) {
			t.Fatalf("parts give %v, run time is %v", r.Parts.Sum(), r.Seconds)
		}
		if !near(r.LongBy.Sum(), r.Parts.LongStitches, r.Seconds) {
			t.Fatalf("long stitches by limit give %v, the part is %v", r.LongBy.Sum(), r.Parts.LongStitches)
		}
		var sum float64
		n := 0
		for _, b := range r.Blocks {
			sum += b.Seconds
			n += b.Stitches
		}
		if !near(sum, r.Seconds, r.Seconds) || n != r.Stitches {
			t.Fatalf("blocks give %v s and %d stitches, the design %v and %d", sum, n, r.Seconds, r.Stitches)
		}
	})
}

func TestTraceAddsUpToTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		c := clock.New(s, j)
		r, tr := c.Run(d), c.Trace(d)
		sum := s.Rest.Start + s.Rest.End
		last := 0.0
		for i := range d.Records {
			sum += tr.Seconds[i]
			if tr.Seconds[i] > 0 && (tr.Starts[i] < last || tr.CapSeconds[i] > tr.Seconds[i]*(1+1e-9)) {
				t.Fatalf("record %d starts at %v after %v, lasts %v, cap %v", i, tr.Starts[i], last, tr.Seconds[i],
					tr.CapSeconds[i])
			}
			last = max(last, tr.Starts[i])
		}
		for _, m := range tr.Moments {
			sum += m.Seconds
		}
		if !near(sum, r.Seconds, r.Seconds) || !near(tr.Result.Seconds, r.Seconds, r.Seconds) {
			t.Fatalf("the trace gives %v s, the run %v", sum, r.Seconds)
		}
		res, stages := c.Stages(d)
		if !near(res.Seconds, r.Seconds, r.Seconds) || len(stages) != len(tr.Moments) {
			t.Fatalf("in %d stages %v s, in a trace %d and %v", len(stages), res.Seconds, len(tr.Moments), r.Seconds)
		}
		for i, m := range stages {
			if is := tr.Moments[i]; m.Event != is.Event || m.Seconds != is.Seconds || !near(m.At, is.At, r.Seconds) {
				t.Fatalf("stage %d is %+v, in a trace %+v", i, m, is)
			}
		}
	})
}

// What is said to hold a revolution is what does: without turns in the law
// those held by the turn are faster, and the set speed holds those at it.
func TestTheLimitSaidToHoldARevolutionHoldsIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		terms["turns"](s)
		s.Correction.TurnAngle, s.Correction.TurnFactor = nil, nil // which may make turns faster
		straight := s.Clone()
		straight.Frame.Turn, straight.Turns = 0, machine.Turns{To: 180}
		tr, flat := clock.New(s, j).Trace(d), clock.New(straight, j).Trace(d)
		set := tr.Result.Parts.AtSetSpeed / float64(max(tr.Result.Revolutions, 1))
		for i := range d.Records {
			if tr.Seconds[i] <= 0 {
				continue
			}
			inv, without := tr.CapSeconds[i], flat.CapSeconds[i]
			switch by := tr.HeldBy(i); {
			case by == clock.BoundTurn && !(inv > without*(1+1e-12)):
				t.Fatalf("record %d: the turn holds it at %v s, without turns it takes %v", i, inv, without)
			case by == clock.BoundSet && !near(inv, set, set):
				t.Fatalf("record %d: the set speed of %v s holds it, it takes %v", i, set, inv)
			case by != clock.BoundSet && !(inv > set*(1-1e-12)):
				t.Fatalf("record %d: %d holds it at %v s, the set speed is %v", i, by, inv, set)
			}
			if most := tr.Cap(i); tr.Control == nil && !near(60/most, inv, inv) {
				t.Fatalf("record %d: a cap of %v/min, of %v s", i, most, inv)
			}
		}
	})
}

// slower checks that b is not faster than a.
func slower(t rapid.TB, what string, a, b float64) {
	t.Helper()
	if b < a*(1-1e-12) {
		t.Fatalf("%s: %v s became %v s", what, a, b)
	}
}

func TestMoreOfAnythingGoodNeverLengthensTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		// A set speed that is held between two steps beats a higher one where the frame holds that to the lower step.
		s.Shaft.StepFreeSet = 0
		// Of slow seconds, a faster machine may begin one revolution more in the last instant.
		s.Slow.Seconds = 0
		base := clock.Run(d, s, j).Seconds
		for _, c := range []struct {
			path   string
			factor float64
		}{
			{"max_speed", 1.3}, {"shaft.accel_up", 1.5}, {"shaft.accel_down", 1.5},
			{"shaft.creep_speed", 1.5}, {"shaft.soft_start_speed", 1.5},
			{"frame.window", 1.1}, {"frame.accel_x", 1.5}, {"frame.accel_y", 1.5},
			{"frame.speed_x", 1.5}, {"frame.speed_y", 1.5}, {"frame.settle", 0.5}, {"frame.turn", 0.5},
			{"travel.accel", 1.5}, {"travel.speed", 1.5}, {"travel.shaft_speed", 1.5},
			{"rest.trim", 0.5}, {"rest.colour_stop", 0.5}, {"rest.stop", 0.5},
		} {
			m := s.Clone()
			k, _ := machine.ConstantAt(c.path)
			k.Set(m, k.Get(m)*c.factor)
			slower(t, "better "+c.path, clock.Run(d, m, j).Seconds, base)
		}
		if j.Speed > 0 {
			k := j
			k.Speed += 50
			slower(t, "set 50/min faster", clock.Run(d, s, k).Seconds, base)
		}
	})
}

// A stop costs its rest and two ramps at least as long as sewing through.
func TestFewerStopsNeverLengthenTheRun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s := drawDesign(t), drawSheet(t)
		// A stop forgets the turn before it, and a creep speed above the speed
		// of a slow stitch would make a restart a head start: neither is what
		// this claim is about.
		slowest := s.MaxSpeed * cmp.Or(s.Speed.True, 1) * cmp.Or(s.Slow.Speed, 1)
		s.Frame.Turn, s.Turns.Speed, s.Shaft.CreepSpeed = 0, 0, min(0.001, slowest/2)
		s.Correction.TurnAngle, s.Correction.TurnFactor = nil, nil
		s.Rest.PerNeedle = 0
		var without stitch.Design
		for i, r := range d.Records {
			between := i > 0 && i+1 < len(d.Records) && d.Records[i-1].Op.Penetrates() && d.Records[i+1].Op.Penetrates()
			if r.Op == stitch.ColourStop || r.Op == stitch.Trim || r.Op == stitch.Stop {
				if between && r.DX == 0 && r.DY == 0 {
					continue
				}
			}
			without.Records = append(without.Records, r)
		}
		slower(t, "stops taken out", clock.Run(&without, s, clock.Job{}).Seconds, clock.Run(d, s, clock.Job{}).Seconds)
	})
}

func TestMirroringLeavesTheTimeUnchanged(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, s, j := drawDesign(t), drawSheet(t), drawJob(t)
		base := clock.Run(d, s, j).Seconds
		for _, m := range []struct{ x, y int16 }{{-1, 1}, {1, -1}, {-1, -1}} {
			k := &stitch.Design{}
			for _, r := range d.Records {
				k.Records = append(k.Records, stitch.Record{DX: r.DX * m.x, DY: r.DY * m.y, Op: r.Op})
			}
			if got := clock.Run(k, s, j).Seconds; !near(got, base, base) {
				t.Fatalf("mirrored by (%d, %d): %v s, before %v s", m.x, m.y, got, base)
			}
		}
	})
}

// TestStitchesOverSpeedIsALowerBound holds for every design on every machine.
func TestStitchesOverSpeedIsALowerBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSheet(t)
		r := clock.Run(drawDesign(t), s, drawJob(t))
		turns := r.SetSpeed * max(1, s.Speed.True) // a shaft may turn faster than is set
		slower(t, "against stitches ÷ set speed", float64(r.Stitches)/turns*60, r.Seconds)
	})
}

func BenchmarkRun(b *testing.B) {
	for _, c := range []struct {
		name string
		set  func(*machine.Sheet)
	}{
		{"tables", func(*machine.Sheet) {}},
		{"turn", func(s *machine.Sheet) { s.Frame.Turn = 0.3 }},
		{"jerk", func(s *machine.Sheet) { s.Frame.JerkTime = 0.005 }},
		{"step", func(s *machine.Sheet) { s.Shaft.SpeedStep = 50 }},
		{"lag", func(s *machine.Sheet) { s.Shaft.Lag = 0.2 }},
		{"turns", func(s *machine.Sheet) { s.Turns = machine.Turns{Angle: 60, To: 180, Length: 4, Speed: 0.8} }},
		{"correction", func(s *machine.Sheet) {
			s.Correction.Length, s.Correction.Factor = []float64{1, 3, 9}, []float64{1, 1.1, 0.9}
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			d := longDesign(200_000)
			s := plainSheet()
			c.set(s)
			k := clock.New(s, clock.Job{})
			b.ReportAllocs()
			for b.Loop() {
				k.Run(d)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(d.Records)), "ns/stitch")
		})
	}
	b.Run("plain", func(b *testing.B) {
		d := longDesign(200_000)
		s := plainSheet()
		for b.Loop() {
			oracle(d, s, clock.Job{})
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*len(d.Records)), "ns/stitch")
	})
}

// TestSecondsAreThoseOfARun clocks designs by turns on one clock, so that nothing
// of one is left in the next.
func TestSecondsAreThoseOfARun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := clock.New(drawSheet(t), drawJob(t))
		for range 3 {
			d := drawDesign(t)
			if got, want := k.Seconds(d.Records), k.Run(d).Seconds; got != want {
				t.Fatalf("%v s, a run takes %v s", got, want)
			}
		}
	})
}

// TestTurnsAreThoseOfATrace: each sewn run by itself, after another machine's, so
// that nothing of that is left.
func TestTurnsAreThoseOfATrace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, d := drawSheet(t), drawDesign(t)
		s.Slow = machine.Slow{}
		k := clock.New(s, drawJob(t))
		tr := k.Trace(d)
		clock.New(drawSheet(t), drawJob(t)).Run(d)
		for e := range stitch.Events(d.Records, s.Reading.TrimAfterJumps) {
			if e.Kind != stitch.Run {
				continue
			}
			got := make([]float64, e.To-e.From)
			k.Turns(d.Records[e.From:e.To], got)
			if !slices.Equal(got, tr.Seconds[e.From:e.To]) {
				t.Fatalf("records %d to %d take %v s, in a trace %v", e.From, e.To, got, tr.Seconds[e.From:e.To])
			}
		}
	})
}

// TestAnotherShaftIsAsAClockMadeAnew: what is shared with the clock before changes nothing,
// in either of the two.
func TestAnotherShaftIsAsAClockMadeAnew(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, d, job := drawSheet(t), drawDesign(t), drawJob(t)
		if rapid.Bool().Draw(t, "plain") { // its caps stand in tables
			s = plainSheet()
		}
		k := clock.New(s, job)
		was := k.Trace(d)
		other := s.Clone()
		other.Shaft = drawSheet(t).Shaft
		if got, want := k.WithShaft(other.Shaft).Trace(d), clock.New(other, job).Trace(d); !reflect.DeepEqual(got, want) {
			t.Fatalf("with another shaft %v, made anew %v", got.Seconds, want.Seconds)
		}
		if !reflect.DeepEqual(k.Trace(d), was) {
			t.Fatal("the clock itself is another now")
		}
	})
}
