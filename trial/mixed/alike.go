package mixed

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/mat"
)

// alike draws the columns at one point of the spreads as a sample of columns of one kind,
// β_c ~ normal(μ, τ_m²), τ_m not known. Who is least of some columns is chosen from the
// estimates, and where these differ by no more than chance has them differ, the one that is
// chosen owes its place to chance: with columns that know nothing of each other it was said
// to be least on a further row with 54 %, and was so in 35 % (cells at 8 σ).
//
// Before anything is measured τ_m is half-Cauchy with the estimates' own standard error s as its
// scale (Gelman, Bayesian Analysis 1 (2006) 515–534, for few groups; from memory): it does not
// keep columns apart that are alike, and leaves those where they are that differ by many times s.
type alike struct {
	columns int
	mean    float64    // of the columns' estimates
	axes    *mat.Dense // [column][axis]: columns less their mean, in directions that know nothing of each other
	at      []float64  // estimates along the axes
	var2    []float64  // their variances, σ² = 1
	s2      float64    // mean of var2
}

const shrinkSteps = 40

func (m *model) alike(s *solved) (*alike, error) {
	k := m.Cols
	cov := mat.NewDense(k, k, nil)
	one, x := mat.NewVecDense(m.dim, nil), mat.NewVecDense(m.dim, nil)
	a := &alike{columns: k}
	for c := range k {
		one.Zero()
		one.SetVec(c, 1)
		if err := s.chol.SolveVecTo(x, one); err != nil && s.chol.Cond() > 1e15 {
			return nil, err
		}
		for i := range k {
			cov.Set(i, c, x.AtVec(i))
		}
		a.mean += s.effect[c] / float64(k)
	}
	if k == 1 {
		return a, nil
	}
	centred := mat.NewDense(k, k, nil) // takes the mean off
	for i := range k {
		for j := range k {
			centred.Set(i, j, -1/float64(k))
		}
		centred.Set(i, i, 1-1/float64(k))
	}
	var half, whole mat.Dense
	half.Mul(centred, cov)
	whole.Mul(&half, centred)
	sym := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			sym.SetSym(i, j, (whole.At(i, j)+whole.At(j, i))/2)
		}
	}
	var e mat.EigenSym
	if !e.Factorize(sym, true) {
		return nil, ErrFew
	}
	var all mat.Dense
	e.VectorsTo(&all)
	a.axes, a.var2 = all.Slice(0, k, 1, k).(*mat.Dense), e.Values(nil)[1:] // the first is the mean, with variance 0
	for j, v := range a.var2 {
		at := 0.0
		for i := range k {
			at += a.axes.At(i, j) * s.effect[i]
		}
		a.at = append(a.at, at)
		a.s2 += v / float64(k-1)
	}
	return a, nil
}

// draw is the columns less the centre of the values, with σ = sd.
func (a *alike) draw(rng *rand.Rand, sd float64) []float64 {
	var sum, between [shrinkSteps]float64 // between: τ_m²/σ²
	total := 0.0
	for i := range sum {
		t := math.Tan((float64(i) + 0.5) / shrinkSteps * math.Pi / 2)
		between[i] = a.s2 * t * t
		log := 0.0
		for j, v := range a.var2 {
			all := v + between[i]
			log -= 0.5 * (math.Log(all) + a.at[j]*a.at[j]/(sd*sd*all))
		}
		total += math.Exp(log)
		sum[i] = total
	}
	pick, t2 := rng.Float64()*total, between[0]
	for i := range sum {
		if sum[i] >= pick {
			t2 = between[i]
			break
		}
	}
	out := make([]float64, a.columns)
	for i := range out {
		out[i] = a.mean
	}
	for j, v := range a.var2 {
		x := a.at[j]*t2/(v+t2) + sd*math.Sqrt(v*t2/(v+t2))*rng.NormFloat64()
		for i := range out {
			out[i] += a.axes.At(i, j) * x
		}
	}
	return out
}
