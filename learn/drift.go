package learn

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/learn/leastsq"
	"needlepace/words"
)

// Drift is a change of a machine's pace at a date.
type Drift struct {
	Since     words.Day // the first date of the new pace
	Old, New  int       // timed rows before, and since
	Change    float64   // relative change of the times: 0.06 is 6 % longer
	Low, High float64   // its 90 % interval
	// how much better the runs are explained with the change than without (natural logarithm, Laplace)
	LogOdds float64
}

// Sentence is the finding for people.
func (d *Drift) Sentence() string {
	way, hint := "longer", "belt, oil, tension, another operator's habits"
	a, b, c := d.Change, d.Low, d.High
	if a < 0 {
		way, hint = "shorter", "a repair, a new belt, a new setting"
		a, b, c = -a, -d.High, -d.Low
	}
	return fmt.Sprintf("Since %s this machine takes %.1f %% %s than before (between %.1f and %.1f %%, %d rows "+
		"against %d): it has changed (%s?). Learn from the rows since then alone.",
		d.Since, 100*a, way, 100*b, 100*c, d.New, d.Old, hint)
}

// The change a machine may undergo, before looking: a standard deviation of
// 10 %; and the evidence asked for before one is reported.
const (
	driftSD      = 0.10
	driftLogOdds = 3.0
	maxSplits    = 40
)

// drift asks, for each date, whether the rows since then have another pace:
// the linearised fit again with one more unknown that multiplies their times,
// judged by the evidence with and without it.
func (po *posterior) drift() *Drift {
	f := po.f
	var dates []words.Day
	var rows []int
	for i := range f.model.obs {
		if o := &f.model.obs[i]; o.Kind != DisplayReading && !o.Date.IsZero() && !f.aside[i] {
			dates = append(dates, o.Date)
			rows = append(rows, i)
		}
	}
	splits := slices.Clone(dates)
	slices.SortFunc(splits, words.Day.Compare)
	splits = slices.Compact(splits)
	if len(splits) < 2 {
		return nil
	}
	splits = splits[1:]
	if len(splits) > maxSplits { // evenly spread ones will do
		var few []words.Day
		for k := range maxSplits {
			few = append(few, splits[k*len(splits)/maxSplits])
		}
		splits = few
	}
	base := po.explain(nil)
	var best *Drift
	for _, since := range splits {
		is := make([]bool, len(f.model.obs))
		d := &Drift{Since: since}
		for j, i := range rows {
			if !dates[j].Before(since) {
				is[i] = true
				d.New++
			} else {
				d.Old++
			}
		}
		if d.Old < 2 || d.New < 2 {
			continue
		}
		e := po.explain(is)
		d.LogOdds = e.evidence - base.evidence - math.Log(float64(len(splits)))
		d.Change, d.Low, d.High = math.Expm1(e.shift), math.Expm1(e.shift-1.645*e.sd), math.Expm1(e.shift+1.645*e.sd)
		if d.LogOdds > driftLogOdds && (best == nil || d.LogOdds > best.LogOdds) {
			best = d
		}
	}
	return best
}

type explained struct{ evidence, shift, sd float64 }

// explain solves the linearised problem with a shift of ln(time) for the rows
// in is (nil: none) and gives Laplace's log evidence.
func (po *posterior) explain(is []bool) explained {
	f := po.f
	p := len(f.z)
	q := p
	if is != nil {
		q++
	}
	var rows []int
	for i, a := range f.aside {
		if !a {
			rows = append(rows, i)
		}
	}
	at := func(i int, z []float64) float64 {
		s := 0.0
		for k := range p {
			s += po.jac[i*p+k] * (z[k] - f.z[k])
		}
		if is != nil && is[i] {
			s += driftSD * z[p] * f.pred[i]
		}
		return bent(f.pred[i], s)
	}
	grad := func(i int, y float64, g []float64) {
		for k := range p {
			g[k] = po.jac[i*p+k] * bentSlope(f.pred[i], y)
		}
		if is != nil {
			g[p] = 0
			if is[i] {
				g[p] = driftSD * y
			}
		}
	}
	g := make([]float64, q)
	prob := leastsq.Problem{M: len(rows) + q, N: q,
		Residual: func(z, r []float64) {
			for j, i := range rows {
				r[j], _ = f.noises[i].root(f.model.value(i)-at(i, z), f.centres[i], f.least[i])
			}
			copy(r[len(rows):], z)
		},
		Jacobian: func(z, r, jac []float64) {
			clear(jac)
			for j, i := range rows {
				y := at(i, z)
				_, slope := f.noises[i].root(f.model.value(i)-y, f.centres[i], f.least[i])
				grad(i, y, g)
				for k := range q {
					jac[j*q+k] = -slope * g[k]
				}
			}
			for k := range q {
				jac[(len(rows)+k)*q+k] = 1
			}
		}}
	// Where the rows since then lie by the fit of all is the second start.
	seen := 0.0
	var ratios []float64
	for _, i := range rows {
		if is != nil && is[i] && f.values[i] > nothing && f.pred[i] > nothing {
			ratios = append(ratios, math.Log(f.values[i]/f.pred[i]))
		}
	}
	if len(ratios) > 0 {
		slices.Sort(ratios)
		seen = 1.5 * ratios[len(ratios)/2]
	}
	var best *leastsq.Result
	for _, shift := range []float64{0, seen} {
		start := append(slices.Clone(f.z), shift/driftSD)[:q]
		res, err := leastsq.Solve(prob, start, leastsq.Options{MaxIterations: 60, Damping: 1e-3, Straight: true,
			GradTol: 1e-9, StepTol: 1e-7})
		if err == nil && (best == nil || res.RSS < best.RSS) {
			best = res
		}
		if is == nil || seen == 0 {
			break
		}
	}
	if best == nil {
		return explained{evidence: math.Inf(-1)}
	}
	h := mat.NewSymDense(q, nil)
	for k := range q {
		h.SetSym(k, k, 1)
	}
	for _, i := range rows {
		y := at(i, best.X)
		_, _, d2 := f.noises[i].loss(f.model.value(i) - y)
		if d2 > 0 {
			grad(i, y, g)
			h.SymRankOne(h, d2, mat.NewVecDense(q, g))
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(h) {
		return explained{evidence: math.Inf(-1)}
	}
	e := explained{evidence: -best.RSS/2 - ch.LogDet()/2}
	if is != nil {
		var inv mat.SymDense
		if ch.InverseTo(&inv) == nil {
			e.shift, e.sd = driftSD*best.X[p], driftSD*math.Sqrt(inv.At(p, p))
		}
	}
	return e
}
