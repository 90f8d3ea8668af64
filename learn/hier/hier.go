// Package hier is the normal hierarchical model: members of one population,
// each measured by linear readings, and what they say together of the
// population and of its next member.
//
//	read = told·θ_i + noise of 1,  θ_ik ~ normal(μ_k, τ_k²)
//	μ_k ~ normal(mean_k, sd_k²),   τ_k² ~ scaled inverse chi-square(DF, scale_k²)
//
// Gelman, Carlin, Stern, Dunson, Vehtari and Rubin, Bayesian Data Analysis, 3rd
// edition, 2013, sections 5.4 and 5.5 (one reading a member) and 15.5 (several).
// The posterior is drawn by Gibbs' sampler (section 11.1), whose conditional
// distributions are all of a known form; what it gives are the means of the
// conditional moments (Rao and Blackwell), which scatter less than the draws. With
// one seed the answer is always the same.
package hier

import (
	"context"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Member is what was read of one member: Read[j] is Told's row j times the
// member's θ, with a standard error of 1. A column of zeros tells nothing of
// that number. Told may be nil: nothing was read.
type Member struct {
	Told *mat.Dense
	Read []float64
}

// Prior is what was known before, number by number.
type Prior struct {
	Mean, SD []float64 // of the population's mean; SD above 0, +Inf for nothing known
	// DF and Scale are of the spread between members: τ² is about Scale², as
	// if DF members had shown it. DF −1 and Scale 0 are the flat prior on τ.
	DF    float64
	Scale []float64
}

// Options of Sample. The zero value is the usual one.
type Options struct {
	Draws int // 0: 4,000, after a fifth more that are thrown away
	Seed  uint64
	// Each is called with every draw, where it is given; it keeps nothing of
	// what it is handed.
	Each func(mu, tau []float64, theta [][]float64)
}

// Population is what all members say together.
type Population struct {
	Mean    []float64     // of the next member, and of the population
	Cov     *mat.SymDense // of the next member: Between and MeanCov added
	MeanCov *mat.SymDense // of the population's mean
	Between []float64     // τ: root of the mean of τ²
	Told    []int         // how many members told something of each number
	Members []Moments     // of each member's θ, all members taken together
}

// Moments are a member's, number by number; of what it did not tell they are
// the next member's.
type Moments struct {
	Mean, SD []float64
	Told     []bool
	Apart    []float64 // mean of the square of its way from the population's mean; 0 where it did not tell
}

// drawn is a member while it is drawn.
type drawn struct {
	at    []int         // the numbers that it tells something of
	info  *mat.SymDense // ToldᵀTold of those
	pull  *mat.VecDense // Toldᵀ·Read
	prec  *mat.SymDense
	chol  mat.Cholesky
	lower mat.TriDense
	mean  *mat.VecDense
	theta *mat.VecDense
	noise *mat.VecDense
	sum   []float64
	sq    []float64
	apart []float64
}

func ready(m *Member, p int) *drawn {
	d := &drawn{}
	if m.Told == nil {
		return d
	}
	rows, _ := m.Told.Dims()
	for k := range p {
		for j := range rows {
			if m.Told.At(j, k) != 0 {
				d.at = append(d.at, k)
				break
			}
		}
	}
	n := len(d.at)
	if n == 0 {
		return d
	}
	told := mat.NewDense(rows, n, nil)
	for j := range rows {
		for i, k := range d.at {
			told.Set(j, i, m.Told.At(j, k))
		}
	}
	d.info, d.prec = mat.NewSymDense(n, nil), mat.NewSymDense(n, nil)
	d.info.SymOuterK(1, told.T())
	d.pull = mat.NewVecDense(n, nil)
	d.pull.MulVec(told.T(), mat.NewVecDense(rows, m.Read))
	d.mean, d.theta, d.noise = mat.NewVecDense(n, nil), mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	d.sum, d.sq, d.apart = make([]float64, n), make([]float64, n), make([]float64, n)
	return d
}

// draw draws the member's θ given the population. ok is false where rounding
// leaves no positive definite precision; the member then stays where it was.
func (d *drawn) draw(mu, tau2 []float64, rng *rand.Rand) bool {
	if len(d.at) == 0 {
		return true
	}
	d.prec.CopySym(d.info)
	for i, k := range d.at {
		d.prec.SetSym(i, i, d.prec.At(i, i)+1/tau2[k])
		d.noise.SetVec(i, d.pull.AtVec(i)+mu[k]/tau2[k])
	}
	if !d.chol.Factorize(d.prec) || d.chol.SolveVecTo(d.mean, d.noise) != nil {
		return false
	}
	for i := range d.at {
		d.noise.SetVec(i, rng.NormFloat64())
	}
	// precision = L·Lᵀ, so L⁻ᵀ·e has the covariance of its inverse.
	d.chol.LTo(&d.lower)
	if d.theta.SolveVec(d.lower.T(), d.noise) != nil {
		return false
	}
	d.theta.AddVec(d.theta, d.mean)
	return true
}

// leastTau2 keeps a spread from 0, where the sampler would stay for ever, as a
// part of the prior's own or, where that is flat, of 1.
const leastTau2 = 1e-10

// Sample is what the members say together with the prior. Errors: ctx's alone.
func Sample(ctx context.Context, members []Member, pr Prior, opt Options) (*Population, error) {
	p := len(pr.Mean)
	if opt.Draws == 0 {
		opt.Draws = 4000
	}
	rng := rand.New(rand.NewPCG(opt.Seed, 5))
	all := make([]*drawn, len(members))
	out := &Population{Mean: make([]float64, p), Cov: mat.NewSymDense(p, nil), MeanCov: mat.NewSymDense(p, nil),
		Between: make([]float64, p), Told: make([]int, p)}
	for i := range members {
		all[i] = ready(&members[i], p)
		for _, k := range all[i].at {
			out.Told[k]++
		}
	}
	mu, tau2, at, within := make([]float64, p), make([]float64, p), make([]float64, p), make([]float64, p)
	tau := make([]float64, p)
	copy(mu, pr.Mean)
	for k := range p {
		if tau2[k] = pr.Scale[k] * pr.Scale[k]; tau2[k] == 0 {
			tau2[k] = 1
		}
	}
	burn, kept := opt.Draws/5, 0.0
	outer := mat.NewSymDense(p, nil)
	for draw := range burn + opt.Draws {
		if err := ctx.Err(); draw%64 == 0 && err != nil {
			return nil, err
		}
		sum, square := make([]float64, p), make([]float64, p)
		for _, d := range all {
			d.draw(mu, tau2, rng)
			for i, k := range d.at {
				sum[k] += d.theta.AtVec(i)
			}
		}
		for k := range p { // the population's mean, given its members
			n := float64(out.Told[k])
			prec := 1/(pr.SD[k]*pr.SD[k]) + n/tau2[k]
			at[k], within[k] = 0, 0
			if prec > 0 {
				at[k], within[k] = (pr.Mean[k]/(pr.SD[k]*pr.SD[k])+sum[k]/tau2[k])/prec, 1/prec
			}
			mu[k] = at[k] + math.Sqrt(within[k])*rng.NormFloat64()
		}
		for _, d := range all {
			for i, k := range d.at {
				square[k] += (d.theta.AtVec(i) - mu[k]) * (d.theta.AtVec(i) - mu[k])
			}
		}
		mean2 := make([]float64, p) // of τ², given the members
		for k := range p {
			df, s := pr.DF+float64(out.Told[k]), pr.DF*pr.Scale[k]*pr.Scale[k]+square[k]
			if df <= 0 { // nothing known and nobody told
				continue
			}
			tau2[k] = max(s/distuv.ChiSquared{K: df, Src: rng}.Rand(), leastTau2)
			if mean2[k] = tau2[k]; df > 2 {
				mean2[k] = s / (df - 2)
			}
			tau[k] = math.Sqrt(tau2[k])
		}
		if draw < burn {
			continue
		}
		kept++
		for k := range p {
			out.Mean[k] += at[k]
			out.Between[k] += mean2[k]
			out.MeanCov.SetSym(k, k, out.MeanCov.At(k, k)+within[k])
		}
		outer.SymRankOne(outer, 1, mat.NewVecDense(p, at))
		for _, d := range all {
			for i, k := range d.at {
				d.apart[i] += (d.theta.AtVec(i) - mu[k]) * (d.theta.AtVec(i) - mu[k])
				d.sum[i] += d.theta.AtVec(i)
				d.sq[i] += d.theta.AtVec(i) * d.theta.AtVec(i)
			}
		}
		if opt.Each != nil {
			opt.Each(mu, tau, thetas(all, mu))
		}
	}
	for k := range p {
		out.Mean[k] /= kept
		out.Between[k] = math.Sqrt(out.Between[k] / kept)
	}
	for i := range p {
		for j := i; j < p; j++ {
			v := outer.At(i, j)/kept - out.Mean[i]*out.Mean[j]
			if i == j {
				v += out.MeanCov.At(i, i) / kept
			}
			out.MeanCov.SetSym(i, j, v)
			if i == j {
				v += out.Between[i] * out.Between[i]
			}
			out.Cov.SetSym(i, j, v)
		}
	}
	for _, d := range all {
		out.Members = append(out.Members, d.moments(out, kept))
	}
	return out, nil
}

func thetas(all []*drawn, mu []float64) [][]float64 {
	out := make([][]float64, len(all))
	for i, d := range all {
		out[i] = append([]float64(nil), mu...)
		for j, k := range d.at {
			out[i][k] = d.theta.AtVec(j)
		}
	}
	return out
}

func (d *drawn) moments(of *Population, kept float64) Moments {
	p := len(of.Mean)
	m := Moments{Mean: append([]float64(nil), of.Mean...), Told: make([]bool, p), Apart: make([]float64, p)}
	for k := range of.Mean {
		m.SD = append(m.SD, math.Sqrt(of.Cov.At(k, k)))
	}
	for i, k := range d.at {
		m.Told[k], m.Apart[k] = true, d.apart[i]/kept
		m.Mean[k] = d.sum[i] / kept
		m.SD[k] = math.Sqrt(max(d.sq[i]/kept-m.Mean[k]*m.Mean[k], 0))
	}
	return m
}
