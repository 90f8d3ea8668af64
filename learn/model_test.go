package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// somewhat is a design with everything in it that a machine meets: blocks,
// trims, stops, travels at the start, after trims and after colour stops.
func somewhat(seed uint64, blocks, stitches int) *stitch.Design {
	rng := rand.New(rand.NewPCG(seed, 1))
	d := &stitch.Design{}
	jumps := func(n int) {
		for range n {
			d.Records = append(d.Records, stitch.Record{DX: int16(rng.IntN(200) - 100), DY: int16(rng.IntN(200) - 100), Op: stitch.Jump})
		}
	}
	for b := range blocks {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{DX: 30, Op: stitch.ColourStop})
		}
		jumps(rng.IntN(6))
		for n := 0; n < stitches; {
			run := 20 + rng.IntN(200)
			l := 8 + rng.IntN(70)
			satin := rng.IntN(2) == 0
			for i := range run {
				dx, dy := l, rng.IntN(9)-4
				if satin {
					dy = 2
					if i%2 == 1 {
						dx = -l
					}
				}
				if rng.IntN(3) == 0 {
					dx, dy = dy, dx
				}
				d.Records = append(d.Records, stitch.Record{DX: int16(dx), DY: int16(dy)})
			}
			n += run
			switch rng.IntN(6) {
			case 0:
				d.Records = append(d.Records, stitch.Record{Op: stitch.Stop})
			case 1, 2:
				jumps(3 + rng.IntN(5))
			case 3:
				jumps(2)
			}
		}
	}
	return d
}

func mustClass(t testing.TB, id string) *machine.Sheet {
	t.Helper()
	s, ok := machine.Class(id)
	if !ok {
		t.Fatalf("no class %s", id)
	}
	return s
}

// The model's whole run is the clock's run time, in every mode.
func TestModelIsTheClock(t *testing.T) {
	for _, mode := range []string{machine.FrameTravel, machine.ShaftTravel} {
		for _, home := range []bool{false, true} {
			s := mustClass(t, "single-15-light")
			s.Travel.Mode, s.Travel.ReturnToStart = mode, home
			s.Rest.Stop, s.SD["rest.stop"] = 2, 0.3
			s.Needles = 3
			var obs []Observation
			for k := range 6 {
				obs = append(obs, Observation{Kind: WholeRun, Design: somewhat(uint64(k), 1+k, 400), SetSpeed: []float64{600, 1000, 2000}[k%3], Seconds: 100})
			}
			free := freeConstants(s)
			m := newModel(s, free, obs)
			theta := make([]float64, len(free))
			for k, c := range free {
				theta[k] = math.Log(c.Get(s)) + 0.1*float64(k%3-1)
			}
			m.move(theta)
			got := make([]float64, len(obs))
			m.predict(got)
			at := m.sheetAt(theta)
			for i, o := range obs {
				want := clock.Run(o.Design, at, clock.Job{Speed: o.SetSpeed}).Seconds
				if math.Abs(got[i]-want) > 1e-9*want {
					t.Errorf("%s, home %v, design %d: model %v s, clock %v s", mode, home, i, got[i], want)
				}
			}
		}
	}
}

// Whole run = start + end + Σ (colour stop + opening travel + block) and the
// blocks leave out what a person with a watch does not time.
func TestBlocksAreWhatIsTimed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	d := &stitch.Design{}
	for b := range 2 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for range 5 {
			d.Records = append(d.Records, stitch.Record{DX: 100, Op: stitch.Jump})
		}
		for range 100 {
			d.Records = append(d.Records, stitch.Record{DX: 20})
		}
	}
	obs := []Observation{{Kind: BlockRun, Design: d, Block: 1, SetSpeed: 1000, Seconds: 9}, {Kind: BlockRun, Design: d, Block: 2, SetSpeed: 1000, Seconds: 9}, {Kind: WholeRun, Design: d, SetSpeed: 1000, Seconds: 9}}
	free := freeConstants(s)
	m := newModel(s, free, obs)
	theta := make([]float64, len(free))
	for k, c := range free {
		theta[k] = math.Log(c.Get(s))
	}
	m.move(theta)
	got := make([]float64, 3)
	m.predict(got)
	r := clock.Run(d, s, clock.Job{Speed: 1000})
	for b := range 2 {
		if want := r.Blocks[b].Parts.Sewing(); math.Abs(got[b]-want) > 1e-9 {
			t.Errorf("block %d: %v s, its sewing is %v s", b+1, got[b], want)
		}
	}
	rest := s.Rest.Start + s.Rest.End + s.Rest.ColourStop + s.Rest.PerNeedle + r.Parts.Travel
	if math.Abs(got[2]-got[0]-got[1]-rest) > 1e-9 {
		t.Errorf("whole %v s, blocks %v and %v s, the rest %v s", got[2], got[0], got[1], rest)
	}
}

// Every column of the Jacobian against a wide central difference of the model.
func TestModelJacobian(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.Frame.Turn, s.SD["frame.turn"] = 0.2, 0.5
	s.Frame.Settle, s.SD["frame.settle"] = 0.002, 0.5
	d := somewhat(3, 4, 600)
	obs := []Observation{
		{Kind: WholeRun, Design: d, SetSpeed: 900, Seconds: 100},
		{Kind: BlockRun, Design: d, Block: 2, SetSpeed: 900, Seconds: 100},
		{Kind: DisplayReading, SetSpeed: 1000, LengthMM: 7, Shown: 500},
		{Kind: DisplayReading, SetSpeed: 1000, LengthMM: 7, Zigzag: true, Shown: 450},
	}
	free := freeConstants(s)
	p := len(free)
	m := newModel(s, free, obs)
	theta := make([]float64, p)
	for k, c := range free {
		theta[k] = math.Log(c.Get(s))
	}
	m.move(theta)
	jac := make([]float64, len(obs)*p)
	m.jacobian(jac)
	up, down := make([]float64, len(obs)), make([]float64, len(obs))
	const h = 5e-3
	for k, c := range free {
		theta[k] += h
		m.move(theta)
		m.predict(up)
		theta[k] -= 2 * h
		m.move(theta)
		m.predict(down)
		theta[k] += h
		for i := range obs {
			want := (up[i] - down[i]) / (2 * h)
			if got := jac[i*p+k]; math.Abs(got-want) > 0.02*math.Abs(want)+2e-3*obs[i].value()/100 {
				t.Errorf("observation %d, %s: %v, difference %v", i, c.Path, got, want)
			}
		}
	}
}

// Where speeds go in steps a small step of a constant changes nothing, or makes
// a time jump; the slope that is fitted with is of the size of that over many steps.
func TestSlopesGoOverTheStepsOfSpeed(t *testing.T) {
	s := mustClass(t, "single-15-light")
	s.Shaft.SpeedStep = 50
	d := somewhat(3, 4, 2000)
	obs := []Observation{{Kind: WholeRun, Design: d, SetSpeed: 1000, Seconds: 1}, {Kind: BlockRun, Design: d, SetSpeed: 1000, Block: 2, Seconds: 1}}
	m := newModel(s, freeConstants(s), obs)
	at := newPrior(s, m.free).mean
	m.move(at)
	jac := make([]float64, len(obs)*len(m.free))
	m.jacobian(jac)
	for k, c := range m.free {
		if c.Path != "frame.accel_x" && c.Path != "frame.speed_y" {
			continue
		}
		const wide = 0.1
		var ends [2][2]float64
		for side, way := range []float64{-wide, wide} {
			theta := slices.Clone(at)
			theta[k] += way
			m.move(theta)
			m.predict(ends[side][:])
		}
		for i := range obs {
			want := (ends[1][i] - ends[0][i]) / (2 * wide)
			if got := jac[i*len(m.free)+k]; !(got/want > 0.45 && got/want < 1.5) {
				t.Errorf("%s, row %d: slope %.2f, over 20 %% it is %.2f", c.Path, i, got, want)
			}
		}
	}
}
