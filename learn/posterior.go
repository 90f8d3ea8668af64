package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
)

// posterior is the belief after the observations: normal in whitened z
// around the mode (Laplace's approximation), or with the moments of drawn
// machines where the drawing said that this is not good enough.
type posterior struct {
	f        *fitter
	z        []float64     // centre
	cov      *mat.SymDense // of z
	normal   *mat.SymDense // Laplace's own
	jac      []float64     // ∂pred/∂z at the mode
	believed []*belief     // kinds of machines, this one first
	curve    []float64     // ρ″ of each observation, ≥ 0; 0 for rows set aside
	straight *posterior    // where the law as it is drawn straight at the mode has its own: rows are left out there
	found    []Slip
	tires    bool    // runs lose speed as they go on
	unsaid   *unsaid // nil: no doubt about the needles
}

// posterior is Laplace's approximation at the mode: the inverse of the
// curvature of −ln posterior, the model's own curvature left out.
func (f *fitter) posterior() *posterior {
	f.linearise()
	po := &posterior{f: f, z: slices.Clone(f.z)}
	po.laplace()
	po.straight = f.straight()
	return po
}

// straight is the posterior at the mode of the law drawn straight. The leverages hold where the slopes vanish: times that
// go in steps jump at the law's own mode, and a row that is left out there looks further off than it is.
func (f *fitter) straight() *posterior {
	z, _, err := f.inner(false, 0)
	if err != nil {
		z = f.z
	}
	g := *f
	g.pred, g.jac = f.surrogate(z)
	g.z = z
	po := &posterior{f: &g, z: z}
	po.laplace()
	return po
}

// laplace fills the posterior from what its fitter has at the mode.
func (po *posterior) laplace() {
	f := po.f
	n, p := len(f.model.obs), len(f.model.free)
	po.jac, po.curve = slices.Clone(f.jac), make([]float64, n)
	for i := range n {
		if !f.aside[i] {
			_, _, d2 := f.noises[i].loss(f.model.value(i) - f.pred[i])
			po.curve[i] = max(d2, 0)
		}
	}
	h := mat.NewSymDense(p, nil)
	for k := range p {
		h.SetSym(k, k, 1)
	}
	for i := range n {
		if po.curve[i] > 0 {
			h.SymRankOne(h, po.curve[i], mat.NewVecDense(p, po.jac[i*p:(i+1)*p]))
		}
	}
	var ch mat.Cholesky
	ch.Factorize(h) // I plus squares: always positive definite
	po.cov = mat.NewSymDense(p, nil)
	if err := ch.InverseTo(po.cov); err != nil {
		po.cov.Zero() // so sharp that rounding rules: no spread to speak of
	}
	po.normal = po.cov
}

// row is ∂pred_i/∂z.
func (po *posterior) row(i int) []float64 {
	p := len(po.z)
	return po.jac[i*p : (i+1)*p]
}

// quad is gᵀ·cov·g: the variance of a prediction with this gradient by z
// (the law of propagation of uncertainty with correlations, JCGM 100, 5.2).
func quad(g []float64, cov *mat.SymDense) float64 {
	v := mat.NewVecDense(len(g), g)
	return max(mat.Inner(v, cov, v), 0)
}

// leaveOut is the residual of observation i by a fit without it, and its
// variance, to first order (the leverage formula of linear regression).
func (po *posterior) leaveOut(i int) (residual, variance float64) {
	if po.straight != nil {
		po = po.straight
	}
	f := po.f
	r := f.model.value(i) - f.pred[i]
	sd := f.noises[i].sd
	v := quad(po.row(i), po.cov)
	h := min(po.curve[i]*v, 1-1e-9)
	return r / (1 - h), sd*sd + v/(1-h)
}

// leftOut is leaveOut by all kinds of machine that are believed, each as strongly as
// the other rows let it be.
func (po *posterior) leftOut(i int) (residual, variance float64) {
	if len(po.believed) < 2 {
		return po.leaveOut(i)
	}
	top, of := math.Inf(-1), 0.0
	for _, b := range po.believed {
		top = max(top, -b.rows[i])
	}
	mean, square := 0.0, 0.0
	for _, b := range po.believed {
		w := b.weight * math.Exp(-b.rows[i]-top)
		r, v := b.post.leaveOut(i)
		of, mean, square = of+w, mean+w*r, square+w*(v+r*r)
	}
	mean /= of
	return mean, square/of - mean*mean
}

// clean reports whether observation i may judge the fit.
func (po *posterior) clean(i int) bool {
	f := po.f
	if f.aside[i] {
		return false
	}
	paused, slip := f.noises[i].guilt(f.model.value(i) - f.pred[i])
	return paused < 0.5 && slip < 0.5
}

// result fills what needs no drawing.
func (po *posterior) result(sheet *machine.Sheet) *Result {
	f := po.f
	f.evaluate(f.z, f.pred)
	res := &Result{Used: f.used, Set: len(f.aside) - f.used, Misfit: f.extra, post: po}
	for _, b := range po.believed {
		res.Families = append(res.Families, Believed{b.terms, b.weight, b.score, b.f.extra})
	}
	z90 := 1.6448536269514722
	var abs []float64
	for i := range f.model.obs {
		o := f.model.obs[i]
		left, v := po.leftOut(i)
		r := Run{Observation: o, Predicted: f.model.prediction(i), SD: math.Sqrt(sq(f.noises[i].sd) +
			quad(po.row(i), po.cov)), LeftOut: max(o.value()-left, f.model.prediction(i)/20), Aside: f.aside[i],
			Parts: f.model.partsOf(i)}
		r.Paused, r.Slip = f.noises[i].guilt(f.model.value(i) - f.pred[i])
		if r.Aside {
			r.Paused, r.Slip = 0, 1
		}
		if po.clean(i) && o.Kind != DisplayReading && !o.Only.rests() && len(r.Parts) == 0 && r.LeftOut > nothing {
			e := left / r.LeftOut
			abs = append(abs, math.Abs(e))
			res.LeaveOut.RMS += e * e
			if math.Abs(left) <= z90*math.Sqrt(v) {
				res.LeaveOut.Held++
			}
		}
		res.Runs = append(res.Runs, r)
	}
	if n := len(abs); n > 0 {
		slices.Sort(abs)
		res.LeaveOut.Runs, res.LeaveOut.Apart = n, len(f.model.obs)-n
		res.LeaveOut.RMS = math.Sqrt(res.LeaveOut.RMS / float64(n))
		res.LeaveOut.Median = (abs[(n-1)/2] + abs[n/2]) / 2
	}
	return res
}

func sq(v float64) float64 { return v * v }

// thetaCov is the covariance in the logarithms of the constants.
func (po *posterior) thetaCov() *mat.SymDense {
	p := len(po.z)
	l := po.f.prior.lower
	var lc, c mat.Dense
	lc.Mul(l, po.cov)
	c.Mul(&lc, l.T())
	out := mat.NewSymDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			out.SetSym(i, j, (c.At(i, j)+c.At(j, i))/2)
		}
	}
	return out
}
