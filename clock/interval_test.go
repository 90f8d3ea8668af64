package clock_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// mixedDesign has short and long stitches, trims and colour stops.
func mixedDesign() *stitch.Design {
	d := &stitch.Design{}
	for block := range 4 {
		for object := range 5 {
			reach := int16(15 + 10*object + 5*block)
			for i := range 250 {
				s := int16(1 - 2*(i%2))
				d.Records = append(d.Records, stitch.Record{DX: s * reach, DY: 3})
			}
			for range 3 {
				d.Records = append(d.Records, stitch.Record{DX: 40, DY: -90, Op: stitch.Jump})
			}
		}
		if block < 3 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
	}
	return d
}

// The interval comes from a response surface; drawing whole machines and
// clocking each is the same thing the long way.
func TestIntervalIsThatOfDrawnMachines(t *testing.T) {
	for _, s := range machine.Classes() {
		compareDrawn(t, s.Name, s, 0.12)
		compareDrawn(t, s.Name+", cap frame and heavy", s, 0.12, machine.CapFrame|machine.Heavy)
	}
}

// compareDrawn clocks drawn machines and wants the interval's ends within a
// share of its width.
func compareDrawn(t *testing.T, name string, s *machine.Sheet, share float64, kinds ...machine.Jobs) {
	t.Helper()
	d := mixedDesign()
	spread := clock.ModelError
	if s.Fit != nil {
		spread = s.Fit.Residual
	}
	job := clock.Job{}
	for _, k := range kinds {
		job.Kinds |= k
	}
	draw := clock.NewDraw(s, job.Kinds)
	rng := rand.New(rand.NewPCG(3, 4))
	var times []float64
	for range 2400 {
		z := draw(rng)
		m := s.Clone()
		for k, c := range machine.AllConstants {
			if sd := s.Spread(c); sd > 0 {
				c.Set(m, c.Get(s)*math.Exp(z[k]*math.Sqrt(math.Log1p(sd*sd))))
			}
		}
		model := math.Exp(z[len(machine.AllConstants)] * math.Sqrt(math.Log1p(spread*spread)))
		times = append(times, clock.Run(d, m, job).Seconds*model)
	}
	slices.Sort(times)
	_, u := clock.How(d, s, job, 0.9)
	low, high := clock.Quantile(times, 0.05), clock.Quantile(times, 0.95)
	width := high - low
	if math.Abs(u.Low-low) > share*width || math.Abs(u.High-high) > share*width {
		t.Errorf("%s: interval %.1f to %.1f s, drawn machines %.1f to %.1f s", name, u.Low, u.High, low, high)
	}
	t.Logf("%s: interval %.1f to %.1f s, drawn machines %.1f to %.1f s", name, u.Low, u.High, low, high)
}

func TestSharesAddUpAndNameWhatMatters(t *testing.T) {
	s := plainSheet()
	s.SD = map[string]float64{"rest.trim": 0.5, "rest.start": 0.01, "shaft.accel_up": 0.01}
	_, u := clock.How(mixedDesign(), s, clock.Job{}, 0.9)
	sum := 0.0
	for _, sh := range u.Shares {
		sum += sh.Share
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("shares add up to %v", sum)
	}
	if u.Shares[0].Path != "rest.trim" || u.Shares[0].Share < 0.9 {
		t.Errorf("20 trims at ±50 %% should rule the interval; got %+v", u.Shares[0])
	}
}

// A lone log-normal constant has a closed form: trims of 4 s ± 50 %.
func TestIntervalOfOneRestIsLogNormal(t *testing.T) {
	s := plainSheet()
	s.SD = map[string]float64{"rest.trim": 0.5}
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion} // no model error
	r, u := clock.How(mixedDesign(), s, clock.Job{}, 0.9)
	sigma := math.Sqrt(math.Log(1.25))
	for _, c := range []struct{ got, z float64 }{{u.Low, -1.6449}, {u.Median, 0}, {u.High, 1.6449}} {
		want := r.Seconds - r.Parts.Trims + r.Parts.Trims*math.Exp(c.z*sigma)
		if math.Abs(c.got-want) > 0.03*r.Parts.Trims {
			t.Errorf("at z = %v: %v s, want %v s", c.z, c.got, want)
		}
	}
}

// Correlation matters: two trims' worth of uncertainty that cancels, or adds.
func TestCorrelationNarrowsAndWidens(t *testing.T) {
	width := func(rho float64) float64 {
		s := plainSheet()
		s.SD = map[string]float64{"rest.trim": 0.3, "rest.colour_stop": 1.2}
		s.Fit = &machine.Fit{Runs: 3, ModelVersion: machine.ModelVersion,
			Constants:   []string{"rest.trim", "rest.colour_stop"},
			Correlation: [][]float64{{1, rho}, {rho, 1}}}
		_, u := clock.How(mixedDesign(), s, clock.Job{}, 0.9)
		sum := 0.0
		for _, sh := range u.Shares {
			sum += sh.Share
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("with correlation %v shares add up to %v", rho, sum)
		}
		return u.High - u.Low
	}
	apart, none, together := width(-0.9), width(0), width(0.9)
	if !(apart < 0.8*none && none < 0.9*together) {
		t.Errorf("widths at −0.9, 0, 0.9: %.1f, %.1f, %.1f s", apart, none, together)
	}
}

func TestNoSpreadsNoInterval(t *testing.T) {
	r, u := clock.How(mixedDesign(), plainSheet(), clock.Job{}, 0.9)
	if u.Low != r.Seconds || u.High != r.Seconds || len(u.Shares) != 0 {
		t.Errorf("a sheet without spreads gave %+v", u)
	}
}

func TestHigherLevelIsWider(t *testing.T) {
	s, _ := machine.Class("multi-12")
	_, a := clock.How(mixedDesign(), s, clock.Job{}, 0.5)
	_, b := clock.How(mixedDesign(), s, clock.Job{}, 0.9)
	if !(b.Low < a.Low && a.High < b.High) {
		t.Errorf("50 %%: %v to %v; 90 %%: %v to %v", a.Low, a.High, b.Low, b.High)
	}
}

// Stitches ÷ set speed is a lower bound of the interval too, and constants
// that act together (acceleration with top speed) are drawn together.
func TestIntervalKeepsToTheLowerBound(t *testing.T) {
	d := sameStitches(3000, 20)
	for _, s := range machine.Classes() {
		r, u := clock.How(d, s, clock.Job{}, 0.9)
		if least := r.NaiveSeconds(); u.Low < least {
			t.Errorf("%s: interval from %v s, stitches ÷ rated speed is %v s", s.Name, u.Low, least)
		}
	}
}

// Four colour changes of 10 s that each differ by a quarter are known to ±1.645·√4·2.5 s together.
func TestIntervalOfColourChangesThatDiffer(t *testing.T) {
	s, _ := machine.Class("single-15-light")
	s.SD, s.Rest.ColourStop, s.Rest.PerNeedle = nil, 10, 0
	s.Fit = &machine.Fit{ModelVersion: machine.ModelVersion, Changes: 0.25}
	d := &stitch.Design{}
	for b := range 5 {
		if b > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		for range 2000 {
			d.Records = append(d.Records, stitch.Record{DX: 20, Op: stitch.Sew}, stitch.Record{DX: -20, Op: stitch.Sew})
		}
	}
	r, u := clock.How(d, s, clock.Job{}, 0.9)
	want := 2 * 1.645 * 2 * 2.5
	if got := u.High - u.Low; r.ColourStops != 4 || math.Abs(got/want-1) > 0.03 {
		t.Errorf("%d changes: the interval is %.2f s wide, want %.2f", r.ColourStops, got, want)
	}
}

// What one standard deviation of a constant does is what it does alone.
func TestASharesSecondsAreItsOwn(t *testing.T) {
	d := mixedDesign()
	for _, s := range machine.Classes() {
		r, n := clock.Respond(d, s, clock.Job{}), 0
		for _, share := range r.Uncertainty(s, 0.9).Shares {
			at := slices.IndexFunc(machine.AllConstants, func(c machine.Constant) bool { return c.Path == share.Path })
			if at < 0 { // the model's own error
				continue
			}
			n++
			z := make([]float64, len(machine.AllConstants))
			z[at] = 1
			want := r.Seconds(z)
			z[at] = -1
			want = (want - r.Seconds(z)) / 2
			if math.Abs(share.Seconds-want) > 0.05*math.Abs(want)+1e-9 { // a rest's is that of its middle
				t.Errorf("%s, %s: %v s, alone %v s", s.Name, share.Path, share.Seconds, want)
			}
		}
		if n < 5 {
			t.Errorf("%s: only %d constants matter", s.Name, n)
		}
	}
}

// BenchmarkHow is a design of usual length with its interval, on a machine that nobody timed.
func BenchmarkHow(b *testing.B) {
	d := longDesign(5_000)
	s := machine.Classes()[0]
	for b.Loop() {
		clock.How(d, s, clock.Job{}, clock.DefaultLevel)
	}
}
