package leastsq

import (
	"fmt"
	"math"
)

// covariance is σ²·(JᵀJ)⁻¹ at the solution, row by row, with σ² = RSS/(M−N).
// The standard deviation of an unknown is the root of its diagonal. It errs
// where M = N or the Jacobian has not full rank.
func (r *Result) covariance() ([]float64, error) {
	n := len(r.X)
	m := len(r.Residuals)
	if m <= n {
		return nil, fmt.Errorf("leastsq: %d residuals and %d unknowns leave no degree of freedom for a spread", m, n)
	}
	inv, err := inverseGram(r.Jacobian, m, n)
	if err != nil {
		return nil, err
	}
	s2 := r.RSS / float64(m-n)
	for i := range inv {
		inv[i] *= s2
	}
	return inv, nil
}

// rankTol: a column of norm 1 with less than this outside the span of the
// columns before it is taken as inside; differences carry about 1e-10.
const rankTol = 1e-9

// inverseGram is (JᵀJ)⁻¹ by QR, row by row, for an m×n matrix given row by
// row. It errs where J has not full rank.
func inverseGram(jac []float64, m, n int) ([]float64, error) {
	// Columns to norm 1 first: unknowns of any size keep their digits.
	var q householder
	q.init(m, n)
	copy(q.a, jac)
	norm := make([]float64, n)
	for j := range n {
		for i := range m {
			norm[j] = math.Hypot(norm[j], jac[i*n+j])
		}
		if norm[j] == 0 || math.IsNaN(norm[j]) || math.IsInf(norm[j], 0) {
			return nil, fmt.Errorf("leastsq: unknown %d has no effect on any residual", j)
		}
		for i := range m {
			q.a[i*n+j] /= norm[j]
		}
	}
	q.factor()
	for j := range n {
		if math.Abs(q.diag[j]) < rankTol {
			return nil, fmt.Errorf("leastsq: unknown %d cannot be told from those before it", j)
		}
	}
	// Rows of R⁻¹, then R⁻¹·R⁻ᵀ.
	ri := make([]float64, n*n)
	for c := range n {
		for i := c; i >= 0; i-- {
			v := 0.0
			if i == c {
				v = 1
			}
			for k := i + 1; k <= c; k++ {
				v -= q.r(i, k) * ri[k*n+c]
			}
			ri[i*n+c] = v / q.diag[i]
		}
	}
	out := make([]float64, n*n)
	for i := range n {
		for j := i; j < n; j++ {
			v := 0.0
			for k := j; k < n; k++ {
				v += ri[i*n+k] * ri[j*n+k]
			}
			v /= norm[i] * norm[j]
			out[i*n+j], out[j*n+i] = v, v
		}
	}
	return out, nil
}

// r is the entry of R above the diagonal, i < j.
func (q *householder) r(i, j int) float64 { return q.a[i*q.n+j] }
