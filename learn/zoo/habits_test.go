package zoo

import (
	"math"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// What each habit does, by hand: on a machine whose frame is never the limit and whose shaft is quick, unless it is about those.
func TestHabitsByHand(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	fresh := func() *Machine {
		m := &Machine{Sheet: class.Clone()}
		f, s := &m.Sheet.Frame, &m.Sheet.Shaft
		f.AccelX, f.AccelY, f.SpeedX, f.SpeedY = 1e7, 1e7, 1e5, 1e5
		s.AccelUp, s.AccelDown, s.SoftStartStitches = 1e5, 1e5, 0
		return m
	}
	slow := func() *Machine { // a frame that is the limit
		m := fresh()
		f := &m.Sheet.Frame
		f.AccelX, f.AccelY = 14_000, 14_000
		return m
	}
	put := func(d *stitch.Design, op stitch.Op, n int, x, y float64) {
		for range n {
			d.Records = append(d.Records, stitch.Record{DX: int16(math.Round(10 * x)), DY: int16(math.Round(10 * y)), Op: op})
		}
	}
	// pattern is moves (mm) again and again, which a machine sews at so many stitches/min far from both ends.
	pattern := func(m *Machine, set float64, moves ...[2]float64) float64 {
		took := func(n int) float64 {
			d := &stitch.Design{}
			for k := range n * len(moves) {
				put(d, stitch.Sew, 1, moves[k%len(moves)][0], moves[k%len(moves)][1])
			}
			return m.Run(d, set, nil, nil).Seconds
		}
		return 60 * float64(400*len(moves)) / (took(800) - took(400))
	}
	near := func(what string, got, want, rel float64) {
		t.Helper()
		if math.Abs(got/want-1) > rel {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	// rate is the speed of a frame alone that takes so many seconds for a move.
	rate := func(m *Machine, tau float64) float64 { return 60 * m.Sheet.Frame.Window / tau }
	move := func(mm, a float64) float64 { return 2 * math.Sqrt(mm/a) }

	m := slow()
	m.LongFrom, m.LongShare = 5, 0.6
	near("4 mm", pattern(m, 1200, [2]float64{4, 0}), rate(m, move(4, 14_000)), 1e-6)
	near("6 mm", pattern(m, 1200, [2]float64{6, 0}), rate(m, move(6, 0.6*14_000)), 1e-6)
	m = fresh()
	m.LeastMM, m.LeastMove = 1, 0.04
	near("1 mm", pattern(m, 1000, [2]float64{1, 0}), 1000, 1e-6)
	near("1.2 mm", pattern(m, 1000, [2]float64{1.2, 0}), rate(m, 0.04), 1e-6)
	m = slow()
	m.WindowLoss = 0.3
	n := pattern(m, 1200, [2]float64{6, 0})
	near("6 mm in what is left of the window", n*move(6, 14_000)/60, m.Sheet.Frame.Window*(1-0.3*(n/1200)*(n/1200)), 1e-6)
	m = slow()
	m.Backlash = 0.003
	near("straight on", pattern(m, 1200, [2]float64{6, 0}), rate(m, move(6, 14_000)), 1e-6)
	near("to and fro", pattern(m, 1200, [2]float64{6, 0}, [2]float64{-6, 0}), rate(m, move(6, 14_000)+0.003), 1e-6)
	m = slow()
	m.Mean = 2
	near("all alike", pattern(m, 1200, [2]float64{6, 0}), rate(m, move(6, 14_000)), 1e-6)
	near("short before long", pattern(m, 1200, [2]float64{1, 0}, [2]float64{9, 0}),
		120/(60/rate(m, move(9, 14_000))+60/rate(m, move(5, 14_000))), 1e-3)
	m = fresh()
	m.Thread = 60
	near("5 mm", pattern(m, 1200, [2]float64{5, 0}), 720, 1e-6)
	near("2 mm", pattern(m, 1200, [2]float64{2, 0}), 1200, 1e-6)
	m = fresh()
	m.DenseMM, m.DenseShare = 1, 0.5
	near("0.9 mm", pattern(m, 1000, [2]float64{0.9, 0}), 500, 1e-6)
	near("1 mm as it is", pattern(m, 1000, [2]float64{1, 0}), 1000, 1e-6)
	m = fresh()
	m.AxisShare = 0.5
	near("along one axis", pattern(m, 1000, [2]float64{2, 0}, [2]float64{-2, 1}), 1000, 1e-6)
	near("by turns", pattern(m, 1000, [2]float64{2, 0}, [2]float64{0, 2}), 500, 1e-3)
	m = slow()
	m.Holds = 2
	long := 60 / rate(m, move(9, 14_000))
	near("one of four is long", pattern(m, 1200, [2]float64{1, 0}, [2]float64{1, 0}, [2]float64{1, 0}, [2]float64{9, 0}),
		60*4/(3*long+60/1200.), 1e-3)

	// What each costs in one run, beside the same machine without it.
	run := func(m *Machine, d *stitch.Design, needles ...int) float64 {
		without := *m
		without.Habits = Habits{}
		return m.Run(d, 600, needles, nil).Seconds - without.Run(d, 600, needles, nil).Seconds
	}
	d := &stitch.Design{}
	put(d, stitch.Sew, 100, 1, 0)
	put(d, stitch.Jump, 4, 1, 0)
	put(d, stitch.Sew, 100, 0, 1)
	put(d, stitch.ColourStop, 1, 0, 0)
	put(d, stitch.Sew, 100, 0, -1)
	for what, c := range map[string]struct {
		habits Habits
		want   float64 // s
	}{
		"ten stitches after the one trim at half speed": {Habits{AfterTrim: 10, TrimShare: 0.5}, 1},
		"the second colour's needle at half speed":      {Habits{Needle: 1, NeedleShare: 300 / 1200.}, 10},
		"another needle":                               {Habits{Needle: 2, NeedleShare: 300 / 1200.}, 0},
		"wider than 90 mm, at half speed":              {Habits{WideMM: 90, WideShare: 300 / 1200.}, 30},
		"not wider than 110 mm":                        {Habits{WideMM: 110, WideShare: 300 / 1200.}, 0},
		"three pauses of 4 s":                          {Habits{OilEvery: 95, OilFor: 4}, 12},
		"to the right end and back at the colour stop": {Habits{Parks: true, ParkX: 124, ParkY: 100}, 2 * trapezoid(20, class.Travel.Accel, class.Travel.Speed)},
		"three runs from 120 up by four stairs of 5":   {Habits{Stairs: 5, Stair: 120}, 3 * 5 * (60/120. + 60/240. + 60/360. + 60/480. - 4*60/600.)},
	} {
		m := fresh()
		m.Habits, m.Sheet.Shaft.CreepSpeed = c.habits, 120
		if got := run(m, d, 0, 1); math.Abs(got-c.want) > 0.15 {
			t.Errorf("%s: %v s more, want %v s", what, got, c.want)
		}
	}
	// From 2 to 10 rev/s at 0.2 rev/s² in 40 s, which loses 16 s of the full speed; built up evenly within 30 s it
	// loses 21 s up to 5 rev/s and 6.25 s in the 25 s from there.
	m = fresh()
	m.Sheet.Shaft.AccelUp, m.Sheet.Shaft.CreepSpeed, m.Build = 0.2, 120, 30
	d = &stitch.Design{}
	put(d, stitch.Sew, 900, 1, 0)
	near("a rise that builds up", run(m, d), 21+6.25-16, 0.005)
}
