package sound

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// TestWaysEarnTheSameHoweverTheyAreKept: the short loop that thousands of laws are tried by
// earns what the one does that keeps how each place was come to, with and without a beam.
func TestWaysEarnTheSameHoweverTheyAreKept(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 14))
	class, _ := machine.Class("single-15-1200")
	sc := law{sheet: class, job: clock.Job{Speed: 800}, phase: 0.5}.score(synth.Design(300, rng))
	for _, beam := range []float32{0, 6} {
		a, b := aheadOf(sc.cells(0.2), 0.2, true), aheadOf(sc.cells(0.2), 0.2, true)
		a.beam, b.beam = beam, beam
		e := make([]float32, gridSize)
		for f := range 300 {
			for k := range e {
				e[k] = max(0, 0.5*rng.Float32()-0.1)
			}
			e[gridIndex(800./60)] = float32((f / 25 % 2) * (f % 3)) // and rests
			a.widen()
			b.widen()
			came := make([]uint8, a.hi-a.lo)
			a.frame(e, came)
			b.frame(e, nil)
			if !slices.Equal(a.v, b.v) || !slices.Equal(a.halt, b.halt) || a.lo != b.lo || a.hi != b.hi {
				t.Fatalf("beam %v, frame %d: cells %d to %d earn otherwise than %d to %d", beam, f, a.lo, a.hi, b.lo, b.hi)
			}
		}
		if most := slices.Max(a.v); most < 10*earnUnit {
			t.Errorf("the best way earns %d: too little to tell anything", most)
		}
	}
}

// TestDriftsAreFoundAsByThePlainForm: what is kept in the lowest bits changes nothing.
func TestDriftsAreFoundAsByThePlainForm(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 14))
	const n, reach = 60, 40 // ms
	wide := make([]int16, 8000)
	for i := range wide {
		wide[i] = int16(rng.IntN(400) - 300)
	}
	l := &laid{passage: &passage{}}
	drift := 0.0
	for i := range n {
		l.at, l.number = append(l.at, 0.1*float64(i)), append(l.number, i)
		l.want = append(l.want, 0.5+l.at[i])
		if drift += 1.5 * (rng.Float64() - 0.3); i != 20 { // one is not heard
			wide[int(l.want[i]/Step+drift)] = 2000
		}
	}
	by := drifting{reach: reach * Step, step: 0.1, ends: 0.03}
	best := make([]float64, 2*reach+1)
	for i := range n {
		step := by.step + (by.ends-by.step)*near(i, n)
		now := make([]float64, len(best))
		for x := range now {
			for q := max(0, x-mostDrift); q <= min(len(best)-1, x+mostDrift) && i > 0; q++ {
				if v := best[q] - step*math.Abs(float64(q-x)); q == max(0, x-mostDrift) || v > now[x] {
					now[x] = v
				}
			}
			now[x] += float64(wide[int(math.Round(l.want[i]/Step))-reach+x]) / wideUnit
		}
		best = now
	}
	l.follow(wide, make([]float32, len(wide)), by)
	if want := slices.Max(best); math.Abs(l.score-want) > 0.05 || want < n/2 {
		t.Errorf("the strokes earn %.3f, by the plain form %.3f", l.score, want)
	}
}

// TestALawIsSearchedInTheWholeRecording: what a machine does to and from the operator shows only where it is
// sewn, and a test piece sews it after four minutes.
func TestALawIsSearchedInTheWholeRecording(t *testing.T) {
	class, _ := machine.Class("compact-8")
	s := class.Clone()
	s.Frame.AccelY /= 3
	d := &stitch.Design{}
	zigzag := func(n, x, y int16) {
		for i := range n {
			d.Records = append(d.Records, stitch.Record{DX: x - 2*x*(i%2), DY: y - 2*y*(i%2)})
		}
		d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
	}
	zigzag(950, 90, 2)
	zigzag(1050, 60, 2)
	zigzag(900, 30, 2)
	zigzag(350, 2, 60)
	zigzag(350, 2, 30)
	d.Records = d.Records[:len(d.Records)-1]
	rng := rand.New(rand.NewPCG(1, 14))
	script := synth.Script{Job: clock.Job{Speed: 850}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 2, Tail: 2}
	p := synth.Perform(d, s, script, rng)
	c := heardBy(t, p.Record(synth.Quiet, rng), synth.Rate)
	first := p.Runs[3][0]
	if c.Seconds() < 300 || first < 240 {
		t.Fatalf("%.0f s, to and fro the operator from %.0f s on: too short for this test", c.Seconds(), first)
	}
	h := &hearing{told: &told{}, sheet: class, whole: d, design: d, curve: c, jobSpeed: 850}
	h.o = c.pulses(&evenBands)
	h.law = law{sheet: class.Clone(), job: script.Job, phase: 0.7}
	guesses, err := h.coarse(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for axis, off := range []float64{guesses[0].law.sheet.Frame.AccelX/s.Frame.AccelX - 1, guesses[0].law.sheet.Frame.AccelY/s.Frame.AccelY - 1} {
		if math.Abs(off) > 0.25 {
			t.Errorf("the acceleration along %c is searched %+.0f %% off", 'x'+rune(axis), 100*off)
		}
	}
}
