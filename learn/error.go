package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
)

// errorSizes are the sizes that the model's own relative error of a row may
// have, with the natural logarithm of their chance before any timing.
var errorSizes = []float64{0, 0.0005, 0.001, 0.002, 0.004, 0.008, 0.016, 0.032, 0.064}

// errorPrior falls exponentially: the tail must be light, or one interruption
// is taken for an error of the model in every row.
func errorPrior(size float64) float64 { return -size / errorScale }

// errorScale is the mean size of the model's own error before any timing
// (assumed).
const errorScale = 0.004

// Where the law of a class is hardly believed, the machine does something; that one of the kinds that are known does just that is
// not sure, and designs unlike those that were timed show it.
const (
	// lawLikely is from how strong a belief in the law of its class a machine may as well be of it.
	lawLikely = 0.3
	// standIn is the relative error that a kind of machine makes that stands for another (assumed, after families of the zoo that no
	// term is of).
	standIn = 0.006
)

// lawError is the error, relative, that the model makes of a time: misfit is what it makes of the rows.
func (po *posterior) lawError(class *machine.Sheet, misfit float64) float64 {
	if len(po.believed) < 2 {
		return misfit
	}
	return math.Hypot(misfit, standIn*max(0, 1-po.ofLaw(class)/lawLikely))
}

// leastFree is how many rows more than the constants use up are needed to tell
// the model's own error from the readings'.
const leastFree = 3

// errorSize weighs how large the model's own error is by how well each row is
// predicted by the others, on the linearised model: the root of the mean square
// over its posterior.
func (f *fitter) errorSize() float64 {
	return f.size(errorSizes, errorPrior, &f.extra)
}

// changeSizes are the relative standard deviations that a colour change or stop may have.
var changeSizes = []float64{0, 0.02, 0.05, 0.1, 0.2, 0.4}

// changeScale is what that stays below one time in two before any timing, where a machine changes colours by itself
// and where a person threads each (assumed).
const (
	changeScale         = 0.03
	changeScaleByPerson = 0.12
)

// changesSize weighs how much one colour change or stop differs from the next, as errorSize does the model's own
// error.
func (f *fitter) changesSize() float64 {
	any := false
	for i := range f.model.obs {
		any = any || !f.aside[i] && f.model.changing(i) > 0
	}
	if !any {
		return f.changes
	}
	return f.size(changeSizes, f.changesChance, &f.changes)
}

// changesPrior has a heavy tail (half a Cauchy): on some machines people have a hand in each change. It is the natural
// logarithm of the density, over that of 0.
func (f *fitter) changesPrior(size float64) float64 { return -math.Log1p(sq(size / f.changesScale())) }

// changesChance is the natural logarithm of the chance of the sizes nearest to one of changeSizes by the same prior. They
// lie the farther apart the larger they are: by the density alone large ones would hardly be believed.
func (f *fitter) changesChance(size float64) float64 {
	k, scale := slices.Index(changeSizes, size), f.changesScale()
	from, to := 0.0, math.Inf(1)
	if k > 0 {
		from = (changeSizes[k-1] + size) / 2
	}
	if k+1 < len(changeSizes) {
		to = (size + changeSizes[k+1]) / 2
	}
	return math.Log((math.Atan(to/scale) - math.Atan(from/scale)) * 2 / math.Pi)
}

func (f *fitter) changesScale() float64 {
	if f.model.base.Needles <= 1 {
		return changeScaleByPerson
	}
	return changeScale
}

// size weighs sizes of a part of the noise, at, by how well each row is predicted by the others and by their prior.
func (f *fitter) size(sizes []float64, prior func(float64) float64, at *float64) float64 {
	was := *at
	n := len(f.model.obs)
	z0, pred0, jac0 := f.z, f.pred, f.jac
	score := make([]float64, len(sizes))
	top := math.Inf(-1)
	for e, size := range sizes {
		*at = size
		f.setNoise(f.extra, true)
		z := z0
		if n <= manyRows {
			if t, _, err := f.inner(false, 0); err == nil {
				z = t
			}
		}
		pred, jac := f.surrogate(z)
		f.pred, f.jac = pred, jac
		each, free := f.elpd()
		if e == 0 && free < leastFree {
			f.pred, f.jac = pred0, jac0
			*at = was
			f.setNoise(f.extra, true)
			return 0
		}
		score[e] = sum(each) + prior(size)
		f.pred, f.jac = pred0, jac0
		top = max(top, score[e])
	}
	*at = was
	f.setNoise(f.extra, true)
	of, v := 0.0, 0.0
	for e, size := range sizes {
		w := math.Exp(score[e] - top)
		of += w
		v += w * size * size
	}
	return math.Sqrt(v / of)
}

// surrogate is the linearised model at z: predictions and slopes.
func (f *fitter) surrogate(z []float64) (pred, jac []float64) {
	n, p := len(f.model.obs), len(z)
	pred, jac = make([]float64, n), make([]float64, n*p)
	for i := range n {
		s := 0.0
		for k := range p {
			s += f.jac[i*p+k] * (z[k] - f.z[k])
		}
		pred[i] = bent(f.pred[i], s)
		slope := bentSlope(f.pred[i], pred[i])
		for k := range p {
			jac[i*p+k] = slope * f.jac[i*p+k]
		}
	}
	return pred, jac
}

// elpd is the natural logarithm of the density with which each row not set
// aside is predicted by the others (Vehtari, Gelman and Gabry, Statistics and
// Computing 27, 2017), from the leverages. free is how many rows the constants
// have not used up.
func (f *fitter) elpd() (each []float64, free float64) {
	n, p := len(f.model.obs), len(f.z)
	h := mat.NewSymDense(p, nil)
	for k := range p {
		h.SetSym(k, k, 1)
	}
	curve := make([]float64, n)
	for i := range n {
		if f.aside[i] {
			continue
		}
		_, _, d2 := f.noises[i].loss(f.values[i] - f.pred[i])
		if curve[i] = max(d2, 0); curve[i] > 0 {
			h.SymRankOne(h, curve[i], mat.NewVecDense(p, f.jac[i*p:(i+1)*p]))
		}
	}
	var ch mat.Cholesky
	ch.Factorize(h)
	cov := mat.NewSymDense(p, nil)
	if ch.InverseTo(cov) != nil {
		return nil, 0
	}
	each = make([]float64, n)
	for i := range n {
		if f.aside[i] {
			continue
		}
		r := f.values[i] - f.pred[i]
		v := quad(f.jac[i*p:(i+1)*p], cov)
		lev := min(curve[i]*v, 1-1e-9)
		free += 1 - lev
		left := f.noises[i]
		left.sd = math.Sqrt(sq(left.sd) + v/(1-lev))
		rho, _, _ := left.loss(r / (1 - lev))
		each[i] = -rho
	}
	return each, free
}

// elpd is that of each row where the law drawn straight at the mode has its own; 0 for rows set aside.
func (po *posterior) elpd() []float64 {
	each, _ := po.straight.f.elpd()
	return each
}

func sum(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

// kernel is the prior correlation of two nodes of a table: squared
// exponential in the logarithm of the length for what is smooth, exponential
// for the speeds of a ladder, which jump (Rasmussen and Williams, Gaussian
// Processes for Machine Learning, 2006, equations 4.9 and 4.17).
func kernel(s *machine.Sheet, a, b string) (float64, bool) {
	ta, i, ok1 := machine.NodeAt(s, a)
	tb, j, ok2 := machine.NodeAt(s, b)
	if !ok1 || !ok2 || ta != tb {
		return 0, false
	}
	switch ta {
	case "ladder.speed":
		return math.Exp(-math.Abs(math.Log(i/j)) / rungsTogether), true
	case "correction.turn_angle":
		return math.Exp(-sq((i-j)/turnsTogether) / 2), true
	}
	return math.Exp(-sq(math.Log(i/j)/lengthsTogether) / 2), true
}

// How far the law's errors go together, in the logarithm of the stitch length
// and in degrees of turn (assumed).
const (
	lengthsTogether = 0.7
	turnsTogether   = 45
	rungsTogether   = 1.0
)
