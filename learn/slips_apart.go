package learn

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distmv"
)

// apart is what the other observations alone expect of a few: their mean and
// covariance, without the readings' own errors.
type apart struct {
	mean []float64
	cov  [][]float64
	z    []float64 // where the others alone would have the machine; nil at the mode
}

// apart takes rows out of the fit: one Newton step from the mode, on the
// curvature without them.
func (s *slipSearch) apart(rows ...int) *apart {
	po := s.po
	f := po.f
	p := len(po.z)
	h := mat.NewSymDense(p, nil)
	h.CopySym(s.curvature())
	push := mat.NewVecDense(p, nil)
	for _, i := range rows {
		if f.aside[i] {
			continue
		}
		g := mat.NewVecDense(p, po.row(i))
		h.SymRankOne(h, -po.curve[i], g)
		_, d1, _ := f.noises[i].loss(f.values[i] - f.pred[i])
		push.AddScaledVec(push, d1, g)
	}
	var ch mat.Cholesky
	if !ch.Factorize(h) { // by rounding only: I plus squares
		h.CopySym(s.curvature())
		ch.Factorize(h)
	}
	step := mat.NewVecDense(p, nil)
	ch.SolveVecTo(step, push) //nolint:errcheck // a poor condition is no harm here
	a := &apart{}
	solved := make([]*mat.VecDense, len(rows))
	for k, i := range rows {
		g := mat.NewVecDense(p, po.row(i))
		a.mean = append(a.mean, bent(f.pred[i], -mat.Dot(g, step)))
		solved[k] = mat.NewVecDense(p, nil)
		ch.SolveVecTo(solved[k], g) //nolint:errcheck // as above
	}
	for _, i := range rows {
		g := mat.NewVecDense(p, po.row(i))
		row := make([]float64, len(rows))
		for j := range rows {
			row[j] = mat.Dot(g, solved[j])
		}
		a.cov = append(a.cov, row)
	}
	return a
}

// without is apart, with the robust problem of the fit's lines solved anew: a
// slip that the fit was led astray by is seen from where the others stand.
func (s *slipSearch) without(rows ...int) *apart {
	po := s.po
	f := po.f
	p := len(po.z)
	was := make([]bool, len(rows))
	for k, i := range rows {
		was[k], f.aside[i] = f.aside[i], true
	}
	defer func() {
		for k, i := range rows {
			f.aside[i] = was[k]
		}
	}()
	z, _, err := f.inner(len(f.model.obs) <= manyRows, 0)
	if err != nil {
		return s.apart(rows...)
	}
	h := mat.NewSymDense(p, nil)
	for k := range p {
		h.SetSym(k, k, 1)
	}
	row := func(i int) (float64, *mat.VecDense) {
		d := 0.0
		for k := range p {
			d += po.jac[i*p+k] * (z[k] - po.z[k])
		}
		y := bent(f.pred[i], d)
		g := mat.NewVecDense(p, nil)
		g.ScaleVec(bentSlope(f.pred[i], y), mat.NewVecDense(p, po.row(i)))
		return y, g
	}
	for i, out := range f.aside {
		if out {
			continue
		}
		y, g := row(i)
		if _, _, d2 := f.noises[i].loss(f.values[i] - y); d2 > 0 {
			h.SymRankOne(h, d2, g)
		}
	}
	var ch mat.Cholesky
	ch.Factorize(h)
	a := &apart{z: z}
	for _, i := range rows {
		y, g := row(i)
		a.mean = append(a.mean, y)
		x := mat.NewVecDense(p, nil)
		ch.SolveVecTo(x, g) //nolint:errcheck // I plus squares
		var cov []float64
		for _, j := range rows {
			_, gj := row(j)
			cov = append(cov, mat.Dot(gj, x))
		}
		a.cov = append(a.cov, cov)
	}
	return a
}

// curvature is that of −ln posterior with all rows.
func (s *slipSearch) curvature() *mat.SymDense {
	if s.full == nil {
		p := len(s.po.z)
		h := mat.NewSymDense(p, nil)
		for k := range p {
			h.SetSym(k, k, 1)
		}
		for i, c := range s.po.curve {
			if c > 0 {
				h.SymRankOne(h, c, mat.NewVecDense(p, s.po.row(i)))
			}
		}
		s.full = h
	}
	return s.full
}

// around is the covariance with the readings' own variances added.
func (a *apart) around(noise []float64) *mat.SymDense {
	c := mat.NewSymDense(len(noise), nil)
	for i := range noise {
		for j := i; j < len(noise); j++ {
			c.SetSym(i, j, a.cov[i][j])
		}
		c.SetSym(i, i, a.cov[i][i]+noise[i])
	}
	return c
}

// chol is its factor.
func (a *apart) chol(noise []float64) (ch mat.Cholesky) {
	ch.Factorize(a.around(noise))
	return ch
}

// distance is Mahalanobis's, squared, of values from what is expected of them.
func (a *apart) distance(y, noise []float64) float64 {
	ch := a.chol(noise)
	return a.from(&ch, y)
}

func (a *apart) from(ch *mat.Cholesky, y []float64) float64 {
	r := mat.NewVecDense(len(y), nil)
	for k := range y {
		r.SetVec(k, y[k]-a.mean[k])
	}
	x := mat.NewVecDense(len(y), nil)
	ch.SolveVecTo(x, r) //nolint:errcheck // variances are above 0
	return mat.Dot(r, x)
}

// logNormal is the log density of values around what is expected of them.
func (a *apart) logNormal(y, noise []float64) float64 {
	ch := a.chol(noise)
	return -(a.from(&ch, y) + ch.LogDet() + float64(len(y))*math.Log(2*math.Pi)) / 2
}

// logStudent is the same where the size of the spread is known from a few values alone, by Student's density of so many degrees
// of freedom.
func (a *apart) logStudent(y, noise []float64, freedom float64) float64 {
	t, ok := distmv.NewStudentsT(a.mean, a.around(noise), freedom, nil)
	if !ok {
		return math.Inf(-1)
	}
	return t.LogProb(y)
}
