package learn

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Check is how well the normal approximation of the posterior stood up to
// machines drawn from it and weighed by the true posterior (importance
// sampling, with a heavy-tailed proposal).
type Check struct {
	Draws     int     // 0: not checked
	Effective float64 // independent draws they are worth (Kish: (Σw)²/Σw²)
	Shift     float64 // largest move of a constant's centre, in posterior deviations
	Widest    float64 // largest ratio of a deviation, drawn over normal
	Narrowest float64 // smallest
	Replaced  bool    // the drawn moments were taken instead
	Perturbed int     // drawn by perturbed fits, since too few weighted draws counted
	Thinned   bool    // on a share of the stitches, since there were too many
	Note      string  // why it was not checked
}

// The normal approximation stands while it is this close to the draws.
const (
	shiftTol = 0.35
	widthTol = 1.25
)

// check draws machines, and moves the posterior to the drawn moments where
// the normal approximation is poor.
func (po *posterior) check(ctx context.Context, opt Options, c *Check) error {
	f := po.f
	stitches := f.model.stitches()
	if f.used > manyRows {
		few := po.condensed()
		if few.f.used <= manyRows {
			err := few.check(ctx, opt, c)
			if c.Replaced {
				po.cov = few.cov
			}
			f.evaluate(f.z, f.pred)
			return err
		}
	}
	switch {
	case opt.Draws < 0:
		c.Note = "not asked for"
		return nil
	case opt.Draws*stitches > opt.Budget:
		return po.checkThin(ctx, opt, c, stitches)
	}
	p := len(po.z)
	var ch mat.Cholesky
	if !ch.Factorize(po.cov) {
		c.Note = "the posterior is too sharp to draw from"
		return nil
	}
	var lower mat.TriDense
	ch.LTo(&lower)
	rng := rand.New(rand.NewPCG(opt.Seed, 0x6c6561726e))
	mode := slices.Clone(f.z)
	best := f.loss
	const dof = 7
	draws := make([][]float64, opt.Draws)
	logw := make([]float64, opt.Draws)
	pred := make([]float64, len(f.model.obs))
	top := math.Inf(-1)
	for d := range draws {
		if d%64 == 0 {
			if err := ctx.Err(); err != nil {
				return err
			}
		}
		e := make([]float64, p)
		q := 0.0
		for k := range e {
			e[k] = rng.NormFloat64()
		}
		chi := 0.0
		for range dof {
			chi += sq(rng.NormFloat64())
		}
		scale := math.Sqrt(dof / chi)
		z := make([]float64, p)
		for k := range p {
			e[k] *= scale
			q += e[k] * e[k]
		}
		for i := range p {
			z[i] = mode[i]
			for j := 0; j <= i; j++ {
				z[i] += lower.At(i, j) * e[j]
			}
		}
		logw[d] = best - f.evaluate(z, pred) + float64(dof+p)/2*math.Log1p(q/dof)
		draws[d] = z
		top = max(top, logw[d])
	}
	w := make([]float64, len(draws))
	s1, s2 := 0.0, 0.0
	for d := range w {
		w[d] = math.Exp(logw[d] - top)
		s1 += w[d]
		s2 += w[d] * w[d]
	}
	c.Draws, c.Effective = len(draws), s1*s1/s2
	if c.Effective < c.enough() {
		var err error
		if draws, err = po.perturbed(ctx, rng, max(opt.Draws/3, leastPerturbed)); err != nil {
			return err
		}
		w = make([]float64, len(draws))
		for i := range w {
			w[i] = 1
		}
		c.Perturbed = len(draws)
	}
	mean, cov := moments(draws, w)
	c.Narrowest = math.Inf(1)
	for k := range p {
		sd := math.Sqrt(po.cov.At(k, k))
		c.Shift = max(c.Shift, math.Abs(mean[k]-mode[k])/sd)
		ratio := math.Sqrt(cov.At(k, k)) / sd
		c.Widest, c.Narrowest = max(c.Widest, ratio), min(c.Narrowest, ratio)
	}
	if c.Shift > shiftTol || c.Widest > widthTol || c.Narrowest < 1/widthTol || c.Perturbed > 0 {
		c.Replaced = true
		// The centre stays at the mode, which fits the observations best; the
		// spreads and correlations are those of the draws.
		po.cov = cov
	}
	f.evaluate(mode, pred) // leave the caches at the mode
	return ctx.Err()
}

// checkThin draws machines where the designs are too large to be clocked a
// thousand times: a share of their stitches tells how the times bend.
func (po *posterior) checkThin(ctx context.Context, opt Options, c *Check, stitches int) error {
	f := po.f
	whole := f.model
	f.evaluate(f.z, f.pred)
	f.model = whole.thin(min(1, float64(opt.Budget)/float64(stitches)/thinRuns))
	defer func() {
		f.model = whole
		f.evaluate(f.z, f.pred)
	}()
	draws, err := po.perturbed(ctx, rand.New(rand.NewPCG(opt.Seed, 0x7468696e)), thinDraws)
	if err != nil {
		return err
	}
	w := make([]float64, len(draws))
	for i := range w {
		w[i] = 1
	}
	_, cov := moments(draws, w)
	c.Draws, c.Perturbed, c.Thinned, c.Replaced = len(draws), len(draws), true, true
	po.cov = cov
	return nil
}

// How many machines are drawn on thinned designs, and about how many runs of
// the model that takes in all.
const (
	thinDraws = 48
	thinRuns  = 5000
)

// enough is how many draws the weighted ones must be worth to be believed.
func (c *Check) enough() float64 { return max(100, float64(c.Draws)/5) }

// perturbed draws machines by fitting again with every observation, and the
// prior, moved as chance might have moved them (randomised maximum
// likelihood: Oliver, He and Reynolds, 5th European Conference on the
// Mathematics of Oil Recovery, 1996; randomise-then-optimise: Bardsley et al.,
// SIAM Journal on Scientific Computing 36, 2014). The draws are independent and
// follow the bent ridges on which a Metropolis chain crawls; for a linear
// model they are exact.
func (po *posterior) perturbed(ctx context.Context, rng *rand.Rand, n int) ([][]float64, error) {
	f := po.f
	p := len(po.z)
	mode, pred, values, loss := slices.Clone(f.z), slices.Clone(f.pred), f.values, f.loss
	f.rough = true
	defer func() {
		f.rough = false
		clear(f.anchor)
		f.values, f.loss = values, loss
		copy(f.z, mode)
		copy(f.pred, pred)
		copy(f.jac, po.jac)
	}()
	var draws [][]float64
	zn, pn := make([]float64, p), make([]float64, len(pred))
	for range n {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for k := range p {
			f.anchor[k] = rng.NormFloat64()
		}
		f.values = slices.Clone(values)
		for i := range f.values {
			f.values[i] += f.noises[i].sd * rng.NormFloat64()
		}
		copy(f.z, mode)
		copy(f.pred, pred)
		copy(f.jac, po.jac)
		f.loss = f.lossOf(f.z, f.pred)
		damp := 0.0
		for range perturbedSteps {
			target, promise, err := f.inner(false, damp)
			if err != nil {
				return nil, err
			}
			if f.loss-promise < perturbedTol {
				break
			}
			copy(zn, target)
			l := f.evaluate(zn, pn)
			f.carry(zn, pn)
			if (f.loss-l)/(f.loss-promise) < 0.3 {
				damp = max(4*damp, 0.3)
			} else if damp /= 5; damp < 0.05 {
				damp = 0
			}
			if l < f.loss {
				copy(f.z, zn)
				copy(f.pred, pn)
				f.loss = l
			}
		}
		draws = append(draws, slices.Clone(f.z))
	}
	return draws, nil
}

// A perturbed fit is a draw and needs no last digit.
const (
	perturbedSteps = 10
	leastPerturbed = 200
	perturbedTol   = 0.3
)

// moments are the weighted mean and covariance of draws.
func moments(draws [][]float64, w []float64) ([]float64, *mat.SymDense) {
	p := len(draws[0])
	mean := make([]float64, p)
	total := 0.0
	for d, z := range draws {
		total += w[d]
		for k, v := range z {
			mean[k] += w[d] * v
		}
	}
	for k := range mean {
		mean[k] /= total
	}
	cov := mat.NewSymDense(p, nil)
	dev := make([]float64, p)
	for d, z := range draws {
		for k, v := range z {
			dev[k] = v - mean[k]
		}
		cov.SymRankOne(cov, w[d]/total, mat.NewVecDense(p, dev))
	}
	return mean, cov
}
