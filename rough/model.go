package rough

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Range is a figure that is foretold: half of the like lie below Mid, and between Low and High lies
// the wanted share of them.
type Range struct {
	Low  float64 `json:"low"`
	Mid  float64 `json:"mid"`
	High float64 `json:"high"`
}

// Example is a design that is there.
type Example struct {
	Design
	Stitches int
	Seconds  float64 // of a run on the machine that is asked about; 0: not known
	Weight   float64 // of what it teaches; 1: a whole design
}

// Model is what examples teach.
type Model struct {
	density fit // ln of stitches a covered mm²
	time    fit // ln of seconds a covered mm²: not from the stitches, for what is dense is sewn in shorter and faster ones
	timed   bool
}

// line is the inputs of a design, about as large as 1, around the middle of what shops sew.
func (d *Design) line() []float64 {
	is := func(k Kind) float64 {
		if d.Kind == k {
			return 1
		}
		return 0
	}
	area := d.Width * d.Height
	return []float64{1, math.Log(area / 6400), math.Log(d.Cover.share() / .5), math.Log(float64(max(d.Colours, 1)) / 4),
		is(Lettering), is(JacketBack)}
}

// covered is the area sewn over in mm².
func (d *Design) covered() float64 { return d.Width * d.Height * d.Cover.share() }

// The priors: about 0.9 stitches on a covered mm², and 0.1 s for each; slopes are small.
// Assumed, and soon outweighed.
var (
	densityPrior = prior{mean: math.Log(.9), sd: .7, slope: .3, noise: .5}
	timePrior    = prior{mean: math.Log(.09), sd: .8, slope: .3, noise: .5}
)

// Learn learns from examples.
func Learn(all []Example) *Model {
	m := &Model{}
	var xs [][]float64
	var ys, ws []float64
	var px [][]float64
	var py, pw []float64
	for i := range all {
		e := &all[i]
		if e.Stitches < 1 {
			continue
		}
		xs, ws = append(xs, e.line()), append(ws, e.Weight)
		ys = append(ys, math.Log(float64(e.Stitches)/e.covered()))
		if e.Seconds > 0 {
			px, pw = append(px, e.line()), append(pw, e.Weight)
			py = append(py, math.Log(e.Seconds/e.covered()))
		}
	}
	m.density = densityPrior.fit(xs, ys, ws)
	m.time, m.timed = timePrior.fit(px, py, pw), len(py) > 0
	return m
}

// Stitches foretells how many stitches a design will have; level is the share of the
// like that lies in the range.
func (m *Model) Stitches(d Design, level float64) Range {
	mean, sd, dof := m.density.foretell(d.line())
	return ranged(mean+math.Log(d.covered()), sd, dof, level)
}

// Seconds foretells how long a run will take; ok is false where no example was timed.
func (m *Model) Seconds(d Design, level float64) (r Range, ok bool) {
	mean, sd, dof := m.time.foretell(d.line())
	return ranged(mean+math.Log(d.covered()), sd, dof, level), m.timed
}

func ranged(mean, sd, dof, level float64) Range {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile((1 + level) / 2)
	return Range{math.Exp(mean - t*sd), math.Exp(mean), math.Exp(mean + t*sd)}
}

// prior is what is thought before any example.
type prior struct{ mean, sd, slope, noise float64 }

// priorWeight is how many designs the prior's noise weighs.
const priorWeight = 4.0

// fit is the posterior: coefficients with their covariance in units of the noise.
type fit struct {
	beta  []float64
	cov   *mat.SymDense
	noise float64 // variance
	dof   float64
}

// fit is the posterior of a prior and weighed examples (Gelman et al., section 14.8: prior
// information as more data).
func (p prior) fit(xs [][]float64, ys, ws []float64) fit {
	k := len((&Design{Width: 1, Height: 1, Cover: Half}).line())
	prec := mat.NewSymDense(k, nil)
	rhs := mat.NewVecDense(k, nil)
	beta0 := make([]float64, k)
	beta0[0] = p.mean
	for i := range k {
		sd := p.slope
		if i == 0 {
			sd = p.sd
		}
		v := p.noise * p.noise / (sd * sd) // in units of the noise
		prec.SetSym(i, i, v)
		rhs.SetVec(i, v*beta0[i])
	}
	yy, n := 0.0, 0.0
	for i := range k {
		yy += prec.At(i, i) * beta0[i] * beta0[i]
	}
	for r, x := range xs {
		w := ws[r]
		n += w
		yy += w * ys[r] * ys[r]
		for i := range k {
			rhs.SetVec(i, rhs.AtVec(i)+w*x[i]*ys[r])
			for j := i; j < k; j++ {
				prec.SetSym(i, j, prec.At(i, j)+w*x[i]*x[j])
			}
		}
	}
	var chol mat.Cholesky
	chol.Factorize(prec) // positive: the prior is
	var beta mat.VecDense
	_ = chol.SolveVecTo(&beta, rhs)
	cov := mat.NewSymDense(k, nil)
	_ = chol.InverseTo(cov)
	rest := yy - mat.Dot(&beta, rhs) // squares that are left, the prior's among them
	out := fit{cov: cov, dof: priorWeight + n, beta: make([]float64, k)}
	out.noise = (priorWeight*p.noise*p.noise + max(rest, 0)) / out.dof
	for i := range k {
		out.beta[i] = beta.AtVec(i)
	}
	return out
}

// foretell is the mean, scale and degrees of freedom of a new one.
func (f *fit) foretell(x []float64) (mean, sd, dof float64) {
	v := mat.NewVecDense(len(x), x)
	spread := mat.Inner(v, f.cov, v)
	for i := range x {
		mean += f.beta[i] * x[i]
	}
	return mean, math.Sqrt(f.noise * (1 + spread)), f.dof
}
