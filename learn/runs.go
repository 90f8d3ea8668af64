package learn

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"
)

// A machine may be another one in each run: the goods of the day weigh on the frame, the mains on the shaft. Rows of one
// run then go together, and what its rows have in common is no error of the single row. The size of such an effect is
// a variance component: it is weighed by the density of all rows, constants and effects integrated out (Searle, Casella
// and McCulloch, Variance Components, Wiley 1992, chapter 9, in the logarithm of the constants).

// runSizes are the standard deviations that an effect may have, of a logarithm.
var runSizes = []float64{0, 0.01, 0.02, 0.04, 0.08, 0.16, 0.32}

// runScale is what the size stays below one time in two before any timing (half a Cauchy); assumed.
const runScale = 0.008

// mostRunRows is how many rows are weighed exactly; of more the runs' effects average out in the constants.
const mostRunRows = 120

// runEffect is how much a machine differs from run to run in some constants together.
type runEffect struct {
	size float64   // standard deviation of the logarithm
	c    []float64 // how much of that is in the logarithm of each constant
}

// frameOfTheRun weighs how much the frame's pace differs from run to run. The fit stands at its mode.
func (po *posterior) frameOfTheRun() runEffect {
	f := po.f
	n, p := len(f.model.obs), len(f.model.free)
	e := runEffect{c: make([]float64, p)}
	for k, c := range f.model.free {
		switch {
		case strings.HasPrefix(c.Path, "frame.accel"):
			e.c[k] = 1
		case strings.HasPrefix(c.Path, "ladder.speed"):
			e.c[k] = 0.5
		}
	}
	var rows []int
	runs := map[runKey][]int{}
	for i := range n {
		if o := &f.model.obs[i]; !f.aside[i] && o.Kind != DisplayReading && len(rows) < mostRunRows {
			runs[o.run()] = append(runs[o.run()], len(rows))
			rows = append(rows, i)
		}
	}
	if len(runs) < 2 || len(rows) < leastForTerms {
		return e
	}
	m := len(rows)
	// Around the prior's mean: residuals, and what the constants' own spreads do to the rows.
	resid, base, along := make([]float64, m), mat.NewSymDense(m, nil), make([]float64, m)
	for a, i := range rows {
		resid[a] = f.model.value(i) - f.pred[i]
		for k := range p {
			resid[a] += po.row(i)[k] * po.z[k]
			along[a] += f.raw[i*p+k] * e.c[k]
		}
		for b := range a + 1 {
			v := 0.0
			for k := range p {
				v += po.row(i)[k] * po.row(rows[b])[k]
			}
			base.SetSym(a, b, v)
		}
	}
	cov := mat.NewSymDense(m, nil)
	density := func(size, extra float64) float64 {
		cov.CopySym(base)
		for a, i := range rows {
			v := sq(f.noises[i].sd) - sq(f.extra*f.model.value(i)) + sq(extra*f.model.value(i))
			if !po.clean(i) {
				v += sq(resid[a])
			}
			cov.SetSym(a, a, cov.At(a, a)+v)
		}
		for _, run := range runs {
			for x, a := range run {
				for _, b := range run[:x+1] {
					cov.SetSym(a, b, cov.At(a, b)+sq(size)*along[a]*along[b])
				}
			}
		}
		var ch mat.Cholesky
		if !ch.Factorize(cov) {
			return math.Inf(-1)
		}
		r, w := mat.NewVecDense(m, resid), mat.NewVecDense(m, nil)
		if ch.SolveVecTo(w, r) != nil {
			return math.Inf(-1)
		}
		return -(ch.LogDet() + mat.Dot(r, w)) / 2
	}
	extras := slices.Compact([]float64{0, f.extra / 2, f.extra})
	var scores []float64
	for _, size := range runSizes {
		for _, extra := range extras {
			scores = append(scores, density(size, extra)+errorPrior(extra)-math.Log1p(sq(size/runScale)))
		}
	}
	top, of, v := slices.Max(scores), 0.0, 0.0
	for j, s := range scores {
		w := math.Exp(s - top)
		of += w
		v += w * sq(runSizes[j/len(extras)])
	}
	e.size = math.Sqrt(v / of)
	return e
}

// widen adds the effect to a covariance of the constants' logarithms: the next run is another one.
func (e *runEffect) widen(cov *mat.SymDense) *mat.SymDense {
	out := mat.NewSymDense(len(e.c), nil)
	out.SymRankOne(cov, sq(e.size), mat.NewVecDense(len(e.c), e.c))
	return out
}
