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
	Chain     bool    // by a Metropolis chain, since too few draws counted
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
	stitches := 1
	for _, g := range f.model.groups {
		for _, b := range g.blocks {
			stitches += b.stitches
		}
	}
	switch {
	case opt.Draws < 0:
		c.Note = "not asked for"
		return nil
	case opt.Draws*stitches > opt.Budget:
		c.Note = "too many stitches to clock a thousand times"
		return nil
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
	if c.Effective < 100 {
		draws, w = po.chain(ctx, rng, &lower, 10*opt.Draws)
		c.Chain = true
	}
	mean, cov := moments(draws, w)
	c.Narrowest = math.Inf(1)
	for k := range p {
		sd := math.Sqrt(po.cov.At(k, k))
		c.Shift = max(c.Shift, math.Abs(mean[k]-mode[k])/sd)
		ratio := math.Sqrt(cov.At(k, k)) / sd
		c.Widest, c.Narrowest = max(c.Widest, ratio), min(c.Narrowest, ratio)
	}
	if c.Shift > shiftTol || c.Widest > widthTol || c.Narrowest < 1/widthTol || c.Chain {
		c.Replaced = true
		// The centre stays at the mode, which fits the observations best; the
		// spread is that of the draws about it.
		dev := make([]float64, p)
		for k := range p {
			dev[k] = mean[k] - mode[k]
		}
		cov.SymRankOne(cov, 1, mat.NewVecDense(p, dev))
		po.cov = cov
	}
	f.evaluate(mode, pred) // leave the caches at the mode
	return ctx.Err()
}

// chain is an adaptive Metropolis chain from the mode (Haario, Saksman and
// Tamminen, Bernoulli 7, 2001; steps of 2.4/sqrt(p) deviations: Roberts, Gelman
// and Gilks, Annals of Applied Probability 7, 1997). In its first half the
// proposal learns the shape of the posterior, which may be a bent ridge; the
// second half, with the proposal fixed, is kept, every fourth state of it.
func (po *posterior) chain(ctx context.Context, rng *rand.Rand, lower *mat.TriDense, steps int) (draws [][]float64, w []float64) {
	f := po.f
	p := len(po.z)
	z := slices.Clone(f.z)
	now := f.loss
	pred := make([]float64, len(f.model.obs))
	scale := 2.4 / math.Sqrt(float64(p))
	settle, stretch := steps/2, steps/20
	var seen [][]float64
	for s := range steps {
		if s%256 == 0 && ctx.Err() != nil {
			break
		}
		zn := slices.Clone(z)
		for j := range p {
			e := scale * rng.NormFloat64()
			for i := j; i < p; i++ {
				zn[i] += lower.At(i, j) * e
			}
		}
		next := f.evaluate(zn, pred)
		accept := math.Log(rng.Float64()) < now-next
		if accept {
			z, now = zn, next
		}
		if s >= settle {
			if s%4 == 0 {
				draws = append(draws, z)
				w = append(w, 1)
			}
			continue
		}
		// While it settles: the step is tuned to accept about a quarter, and
		// the shape is that of the later half of what was seen.
		if accept {
			scale *= 1.03
		} else {
			scale /= 1.01
		}
		seen = append(seen, z)
		if s > 0 && s%stretch == 0 {
			late := seen[len(seen)/2:]
			ones := make([]float64, len(late))
			for i := range ones {
				ones[i] = 1
			}
			_, cov := moments(late, ones)
			for k := range p { // never flat: few states span few directions
				cov.SetSym(k, k, cov.At(k, k)+0.02*po.cov.At(k, k))
			}
			var ch mat.Cholesky
			if ch.Factorize(cov) {
				lower = &mat.TriDense{}
				ch.LTo(lower)
				scale = 2.4 / math.Sqrt(float64(p))
			}
		}
	}
	return draws, w
}

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
