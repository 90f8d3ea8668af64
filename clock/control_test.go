package clock

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"needlepace/machine"
	"needlepace/stitch"
)

// jerkMove integrates a double S of ramps with full acceleration for hold
// seconds (jerk pieces of rise seconds each) and a cruise, in small steps, and
// gives what it went and its top speed.
func jerkMove(jerk, rise, hold, cruise float64) (d, top, took float64) {
	const steps = 4000
	a, v := 0.0, 0.0
	for _, p := range []struct{ jerk, seconds float64 }{
		{jerk, rise}, {0, hold}, {-jerk, rise}, {0, cruise}, {-jerk, rise}, {0, hold}, {jerk, rise},
	} {
		h := p.seconds / steps
		for range steps {
			d += v*h + a*h*h/2 + p.jerk*h*h*h/6
			v += a*h + p.jerk*h*h/2
			a += p.jerk * h
			top = max(top, v)
		}
		took += p.seconds
	}
	return d, top, took
}

// A move of any shape, integrated, takes what the formula says of its length
// under the limits that it keeps.
func TestJerkedMovesAgainstIntegration(t *testing.T) {
	const tj, a = 0.006, 9000.0
	j := a / tj
	for _, c := range []struct {
		what               string
		rise, hold, cruise float64
	}{
		{"full acceleration not reached", 0.004, 0, 0},
		{"full acceleration just reached", tj, 0, 0},
		{"full acceleration held", tj, 0.01, 0},
		{"top speed held", tj, 0.01, 0.02},
		{"top speed without full acceleration", 0.003, 0, 0.02},
	} {
		d, top, took := jerkMove(j, c.rise, c.hold, c.cruise)
		law := axisLaw{a, 1e9, tj}
		if c.cruise > 0 {
			law.speed = top
		}
		if got := law.seconds(d); math.Abs(got-took) > 1e-9*took {
			t.Errorf("%s: %v mm take %v s, integrated %v s", c.what, d, got, took)
		}
	}
}

// follow against the differential equation, integrated by Runge and Kutta's
// fourth-order method over the angle.
func TestLagAgainstIntegration(t *testing.T) {
	for _, tau := range []float64{0.02, 0.1, 0.3, 2} {
		for _, m := range []float64{0.5, 2, 9, 16.6} {
			const cap, steps = 16.7, 20000
			f := func(n float64) float64 { return (cap - n) / (tau * n) }
			n, h := m, 1.0/steps
			for range steps {
				k1 := f(n)
				k2 := f(n + h/2*k1)
				k3 := f(n + h/2*k2)
				k4 := f(n + h*k3)
				n += h / 6 * (k1 + 2*k2 + 2*k3 + k4)
			}
			l := limitAt(1 / cap)
			if got := follow(m, &l, 1/tau); math.Abs(got-n) > 1e-8*n {
				t.Errorf("from %v with %v s: %v, integrated %v", m, tau, got, n)
			}
		}
	}
}

func TestLagNeverPassesTheCapAndIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(what string, lo, hi float64) float64 {
			return lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, what))
		}
		n, m := limitAt(1/at("cap", 0.02, 50)), at("speed", 0.02, 50)
		inv := 1 / at("tau", 1e-4, 2)
		if m >= n.n {
			return
		}
		after := follow(m, &n, inv)
		if !(after >= m*(1-1e-12) && after <= n.n) {
			t.Fatalf("from %v under %v: %v", m, n.n, after)
		}
		higher := limitAt(n.inv / 1.1)
		if up := follow(m, &higher, inv); up < after*(1-1e-9) {
			t.Fatalf("a higher cap gives %v after %v", up, after)
		}
		if faster := follow(min(m*1.1, n.n), &n, inv); faster < after*(1-1e-9) {
			t.Fatalf("a faster start gives %v after %v", faster, after)
		}
	})
}

func TestSteppedSpeeds(t *testing.T) {
	for _, c := range []struct{ step, creep, n, want float64 }{
		{50, 100, 1000, 1000},
		{50, 100, 999.9, 950},
		{50, 100, 949, 900},
		{50, 120, 130, 120}, // creep stands between the steps
		{50, 120, 110, 110}, // below creep
		{200, 100, 150, 150},
		{200, 100, 399, 200},
		{0, 100, 333.3, 333.3},
	} {
		l := core{step: c.step / 60, creep: c.creep / 60}
		if got := 60 / l.stepped(60/c.n); math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("%v/min in steps of %v, creep %v: %v, want %v", c.n, c.step, c.creep, got, c.want)
		}
	}
	l := core{step: 1e-7}
	if inv := 60.0 / 873.1; math.Abs(l.stepped(inv)-inv) > 1e-7*inv {
		t.Error("a step that vanishes changes the speed")
	}
}

// Ten stitches by hand: a frame that holds 940/min on them, in steps of 50.
func TestStepsGoToTheirOwnPart(t *testing.T) {
	s := &machine.Sheet{Needles: 1, MaxSpeed: 1000, Shaft: machine.Shaft{AccelUp: 1e5, AccelDown: 1e5, CreepSpeed: 900,
		SoftStartSpeed: 3000, SpeedStep: 50}, Frame: machine.Frame{Window: 0.5, AccelX: 4 * 3 * 31.33 * 31.33, AccelY: 1e5,
		SpeedX: 1e4, SpeedY: 1e4}, Travel: machine.TravelLaw{Mode: machine.FrameTravel, Accel: 1, Speed: 1, ShaftSpeed: 1},
		Reading: machine.Reading{TrimAfterJumps: 3}}
	d := &stitch.Design{Records: slices.Repeat([]stitch.Record{{DX: 30}}, 10)}
	r := Run(d, s, Job{})
	n := 60 * 0.5 / (2 * math.Sqrt(3/s.Frame.AccelX)) // 939.9
	want := 10 * (60.0/900 - 60/n)
	if math.Abs(r.Parts.Control-want) > 1e-9 || math.Abs(r.Parts.LongStitches-10*(60/n-60.0/1000)) > 1e-9 {
		t.Errorf("control %v s, want %v; long stitches %v", r.Parts.Control, want, r.Parts.LongStitches)
	}
	if got := New(s, Job{}).HoldsOn(30, 0, 30, 0); math.Abs(got-900) > 1e-9 {
		t.Errorf("holds %v/min on them", got)
	}
}
