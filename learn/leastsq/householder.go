package leastsq

import "math"

// householder is the QR factorisation of an m×n matrix, m ≥ n, by
// reflections, kept in place (Golub and Van Loan, Matrix Computations, 5.2):
// below and on the diagonal of a stand the reflection vectors, above it R;
// R's diagonal is in diag. All loops run along rows, as the matrix lies, and a
// row that begins with a zero is passed over: priors, damping and R itself are
// mostly such rows.
type householder struct {
	m, n int
	a    []float64
	diag []float64
	beta []float64
	dots []float64
}

func (q *householder) init(m, n int) {
	*q = householder{m: m, n: n, a: make([]float64, m*n), diag: make([]float64, n), beta: make([]float64, n),
		dots: make([]float64, n)}
}

func (q *householder) factor() {
	m, n, a := q.m, q.n, q.a
	for k := range n {
		top := 0.0 // scaled, so that squares neither overflow nor vanish
		for i := k; i < m; i++ {
			top = max(top, math.Abs(a[i*n+k]))
		}
		if top == 0 {
			q.diag[k], q.beta[k] = 0, 0
			continue
		}
		norm := 0.0
		for i := k; i < m; i++ {
			v := a[i*n+k] / top
			norm += v * v
		}
		norm = top * math.Sqrt(norm)
		if a[k*n+k] > 0 {
			norm = -norm
		}
		q.diag[k] = norm
		a[k*n+k] -= norm
		q.beta[k] = -1 / (norm * a[k*n+k])
		dots := q.dots[k+1:]
		clear(dots)
		for i := k; i < m; i++ {
			row := a[i*n+k : i*n+n]
			v := row[0]
			if v == 0 {
				continue
			}
			for j, x := range row[1:] {
				dots[j] += v * x
			}
		}
		for i := k; i < m; i++ {
			row := a[i*n+k : i*n+n]
			if row[0] == 0 {
				continue
			}
			v := row[0] * q.beta[k]
			for j := range dots {
				row[j+1] -= v * dots[j]
			}
		}
	}
}

// turn overwrites b (length m) with Qᵀb.
func (q *householder) turn(b []float64) {
	m, n, a := q.m, q.n, q.a
	for k := range n {
		dot := 0.0
		for i := k; i < m; i++ {
			dot += a[i*n+k] * b[i]
		}
		dot *= q.beta[k]
		for i := k; i < m; i++ {
			b[i] -= dot * a[i*n+k]
		}
	}
}

// solve overwrites b (length m) with Qᵀb and puts the least-squares solution
// into x. A zero on R's diagonal gives that unknown 0.
func (q *householder) solve(b, x []float64) {
	q.turn(b)
	for i := q.n - 1; i >= 0; i-- {
		v := b[i]
		for j := i + 1; j < q.n; j++ {
			v -= q.a[i*q.n+j] * x[j]
		}
		if q.diag[i] == 0 {
			x[i] = 0
			continue
		}
		x[i] = v / q.diag[i]
	}
}
