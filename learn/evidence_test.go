package learn

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
)

// learned is a machine of a class, timed and learned.
func learned(t testing.TB, prior, truth *machine.Sheet, seed uint64, opt Options) *Result {
	p := piece(t, mustClass(t, "single-15-light"), atTop(prior))
	return fit(t, prior, timed(truth, rand.New(rand.NewPCG(seed, 3)), p.Design, p.SetSpeed, true), opt)
}

// updated is a belief in the constants after the evidence.
func updated(mean []float64, cov *mat.SymDense, e *machine.Evidence) ([]float64, *mat.SymDense) {
	told := mat.NewDense(len(e.Told), len(mean), nil)
	for j, row := range e.Told {
		told.SetRow(j, row)
	}
	var inverse, sum mat.SymDense
	var ch mat.Cholesky
	ch.Factorize(cov)
	_ = ch.InverseTo(&inverse)
	sum.SymOuterK(1, told.T())
	sum.AddSym(&sum, &inverse)
	var right, more mat.VecDense
	right.MulVec(&inverse, mat.NewVecDense(len(mean), mean))
	more.MulVec(told.T(), mat.NewVecDense(len(e.Read), e.Read))
	right.AddVec(&right, &more)
	ch.Factorize(&sum)
	var out mat.VecDense
	_ = ch.SolveVecTo(&out, &right)
	var after mat.SymDense
	_ = ch.InverseTo(&after)
	return out.RawVector().Data, &after
}

// A sheet's evidence and what was known before are the sheet: nothing else is
// in it, and nothing is missing.
func TestEvidenceAndPriorMakeTheSheet(t *testing.T) {
	prior := mustClass(t, "single-15-light")
	truth := drawMachine(prior, rand.New(rand.NewPCG(8, 8)))
	r := learned(t, prior, truth, 1, Options{Draws: -1, Plain: true})
	e := r.Sheet.Fit.Evidence
	if e == nil || e.Seal == "" || e.Seal != r.Sheet.SealNow() || len(e.Rows) != r.Used || len(e.Told) < 5 {
		t.Fatalf("evidence %+v", e)
	}
	pr := newPrior(prior, freeConstants(prior))
	cov := mat.NewSymDense(len(pr.mean), nil)
	for k, sd := range pr.sd {
		cov.SetSym(k, k, sd*sd)
	}
	mean, after := updated(pr.mean, cov, e)
	for k, c := range freeConstants(prior) {
		if c.Path != e.Constants[k] {
			t.Fatalf("constant %d is %s", k, e.Constants[k])
		}
		sd := logSD(r.Sheet.SD[c.Path])
		if got := math.Sqrt(after.At(k, k)); math.Abs(got/sd-1) > 0.02 {
			t.Errorf("%s is ± %.4f, by its evidence ± %.4f", c.Path, sd, got)
		}
		if off := mean[k] - math.Log(c.Get(r.Sheet)); math.Abs(off) > 0.05*sd+1e-4 {
			t.Errorf("%s is %.4g, by its evidence %.4g", c.Path, c.Get(r.Sheet), math.Exp(mean[k]))
		}
	}
}

// What the runs told is the same, whatever was known before.
func TestEvidenceHoldsNothingOfThePrior(t *testing.T) {
	one := mustClass(t, "single-15-light")
	truth := drawMachine(one, rand.New(rand.NewPCG(8, 8)))
	two := one.Clone()
	for _, c := range freeConstants(two) {
		c.Set(two, c.Get(two)*math.Exp(0.15))
		two.SD[c.Path] *= 0.7
	}
	a := learned(t, one, truth, 1, Options{Draws: -1, Plain: true}).Sheet.Fit.Evidence
	b := learned(t, two, truth, 1, Options{Draws: -1, Plain: true}).Sheet.Fit.Evidence
	// Seen from one and the same wide belief.
	p := len(a.Constants)
	mean, cov := make([]float64, p), mat.NewSymDense(p, nil)
	for k, c := range freeConstants(one) {
		mean[k] = math.Log(c.Get(one))
		cov.SetSym(k, k, 0.16)
	}
	ma, ca := updated(mean, cov, a)
	mb, cb := updated(mean, cov, b)
	for k, path := range a.Constants {
		sd := math.Sqrt(ca.At(k, k))
		spread := 0.2
		if path == "frame.speed_x" || path == "frame.speed_y" {
			spread = 0.5 // it tells by the stitches that meet it, and which do hangs on where the fit stands
		}
		if math.Abs(ma[k]-mb[k]) > 0.35*sd || math.Abs(math.Sqrt(cb.At(k, k))/sd-1) > spread {
			t.Errorf("%s: %.3f ± %.3f from one prior, %.3f ± %.3f from the other", path, ma[k], sd, mb[k],
				math.Sqrt(cb.At(k, k)))
		}
	}
}

// A sheet that was learned twice, from other rows each time, has what both told.
func TestEvidenceAddsUp(t *testing.T) {
	prior := mustClass(t, "single-15-light")
	truth := drawMachine(prior, rand.New(rand.NewPCG(9, 8)))
	first := learned(t, prior, truth, 1, Options{Draws: -1, Plain: true}).Sheet
	second := learned(t, first, truth, 2, Options{Draws: -1, Plain: true}).Sheet
	a, b := first.Fit.Evidence, second.Fit.Evidence
	if len(b.Rows) != 2*len(a.Rows) || !slices.Equal(b.Rows[:len(a.Rows)], a.Rows) {
		t.Fatalf("%d rows, then %d", len(a.Rows), len(b.Rows))
	}
	info := func(e *machine.Evidence, k int) (sum float64) {
		for _, row := range e.Told {
			sum += row[k] * row[k]
		}
		return sum
	}
	for k, path := range a.Constants {
		one, both := info(a, k), info(b, slices.Index(b.Constants, path))
		// The size of the noise is learned anew each time, and that of the scatter of colour changes, of which a piece has one sum.
		least := 1.35
		if path == "rest.colour_stop" {
			least = 1.1
		}
		if one > 10 && (both < least*one || both > 2.7*one) {
			t.Errorf("%s: %.0f told by one, %.0f by both", path, one, both)
		}
	}
}
