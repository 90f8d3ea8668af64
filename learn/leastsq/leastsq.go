// Package leastsq finds the least-squares solution of a smooth nonlinear
// problem by the Levenberg–Marquardt method: minimise ½·Σ r_i(x)².
//
// Every step solves the damped linear problem by Householder QR of the
// Jacobian on top of the scaled damping rows, not by normal equations, so
// half of the digits are not lost (Björck, Numerical Methods for Least Squares
// Problems, SIAM 1996); only where the caller says that every unknown has its
// prior among the residuals, which bounds the condition, are the normal
// equations taken (Cholesky), at a fifth of the cost. The scaling is Moré's, the largest column norms seen
// (The Levenberg–Marquardt algorithm, LNM 630, 1978), with a memory that
// fades; the damping follows the gain ratio (Nielsen, IMM-REP-1999-05); a
// second-order correction of the step follows curved valleys (Transtrum and
// Sethna, arXiv:1201.5885).
//
// The package is checked against the certified values of all NIST StRD
// nonlinear regression sets from both published starting points.
package leastsq

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// Problem is what to minimise. Residual must be smooth; a NaN or an infinity
// in it means "not allowed here", and the step is shortened.
type Problem struct {
	M, N     int                       // residuals and unknowns, M ≥ N ≥ 1
	Residual func(x, r []float64)      // fills r[0…M) at x
	Jacobian func(x, r, jac []float64) // fills jac[i·N+j] = ∂r_i/∂x_j; r is Residual(x). nil: central differences
	// size of each unknown, for differences where it is near 0; nil: 1e-3 where it is 0
	Typical []float64
}

// Options of Solve. The zero value is the usual accuracy.
type Options struct {
	MaxIterations int     // 0: 2000
	GradTol       float64 // largest cosine between residual and a column; 0: 1e-13
	StepTol       float64 // relative step; 0: 1e-13
	Damping       float64 // the damping to begin with, in units of the scaling; 0: 100, careful; 1e-3 trusts the start
	Straight      bool    // no second-order correction of the step
	Anchored      bool    // the residuals hold a prior of about unit size for every unknown: normal equations will do
}

// scaleMemory is how much of the scaling stays from step to step. With 1
// (never forgets) a steep start slows every later step; with 0 an unknown that
// lost its effect for a moment runs away. Anything from 0.5 to 0.9 solves
// every NIST set from both starts.
const scaleMemory = 0.7

// Result is where Solve stopped.
type Result struct {
	X          []float64
	Residuals  []float64
	Jacobian   []float64 // at X, row by row
	RSS        float64   // Σ r²
	Iterations int
	Evals      int // residual evaluations, those for differences included
	Converged  bool
}

// ErrStart is returned where the residuals at the starting point are not finite.
var ErrStart = errors.New("the residuals at the starting point are not finite")

// Solve minimises ½·Σ r² from the starting point x0. A result with Converged
// false holds the best point found. Errors: a malformed problem, ErrStart.
func Solve(p Problem, x0 []float64, opt Options) (*Result, error) {
	if p.N < 1 || p.M < p.N || len(x0) != p.N || p.Residual == nil {
		return nil, fmt.Errorf("%d residuals, %d unknowns, %d starting values: need M ≥ N ≥ 1 and one start "+
			"each", p.M, p.N, len(x0))
	}
	if opt.MaxIterations <= 0 {
		opt.MaxIterations = 2000
	}
	if opt.GradTol <= 0 {
		opt.GradTol = 1e-13
	}
	if opt.StepTol <= 0 {
		opt.StepTol = 1e-13
	}
	if opt.Damping <= 0 {
		opt.Damping = 100
	}
	s := newSolver(p, x0, opt.Anchored)
	return s.run(opt)
}

type solver struct {
	p               Problem
	x, xn, xt       []float64
	r, rn, rt       []float64
	jac             []float64
	scale           []float64
	whole           householder // of the Jacobian
	qr              householder // of its R on top of the damping rows
	step, acc, work []float64
	top             []float64
	evals           int

	anchored     bool // instead of whole and qr: JᵀJ, and the factor of it with the damping
	gram, factor []float64
}

func newSolver(p Problem, x0 []float64, anchored bool) *solver {
	m, n := p.M, p.N
	v := func(k int) []float64 { return make([]float64, k) }
	s := &solver{p: p, x: append([]float64(nil), x0...), xn: v(n), xt: v(n), r: v(m), rn: v(m), rt: v(m),
		jac: v(m * n), scale: v(n), step: v(n), acc: v(n), work: v(m), top: v(2 * n), anchored: anchored}
	if anchored {
		s.gram, s.factor = v(n*n), v(n*n)
		return s
	}
	s.whole.init(m, n)
	s.qr.init(2*n, n)
	return s
}

func (s *solver) residual(x, r []float64) float64 {
	s.evals++
	s.p.Residual(x, r)
	return sumSquares(r)
}

// sumSquares is +Inf for anything that is not finite, so that such a point loses.
func sumSquares(r []float64) float64 {
	t := 0.0
	for _, v := range r {
		t += v * v
	}
	if math.IsNaN(t) {
		return math.Inf(1)
	}
	return t
}

func (s *solver) jacobian() {
	if s.p.Jacobian != nil {
		s.p.Jacobian(s.x, s.r, s.jac)
		return
	}
	n, m := s.p.N, s.p.M
	copy(s.xt, s.x)
	for j := range n {
		size := math.Abs(s.x[j])
		if s.p.Typical != nil {
			size = max(size, math.Abs(s.p.Typical[j]))
		}
		if size == 0 {
			size = 1e-3
		}
		h := 6e-6 * size // cube root of the rounding unit: the best step of a central difference
		hi, lo := s.x[j]+h, s.x[j]-h
		s.xt[j] = hi
		up := s.residual(s.xt, s.rn)
		s.xt[j] = lo
		down := s.residual(s.xt, s.rt)
		s.xt[j] = s.x[j]
		a, b, w := s.rn, s.rt, hi-lo
		switch { // at the edge of what is allowed: one-sided
		case math.IsInf(up, 1):
			a, w = s.r, s.x[j]-lo
		case math.IsInf(down, 1):
			b, w = s.r, hi-s.x[j]
		}
		for i := range m {
			s.jac[i*n+j] = (a[i] - b[i]) / w
		}
	}
}

func (s *solver) run(opt Options) (*Result, error) {
	n, m := s.p.N, s.p.M
	f := s.residual(s.x, s.r)
	if math.IsInf(f, 1) {
		return nil, ErrStart
	}
	s.jacobian()
	lambda, nu := opt.Damping, 2.0
	res := &Result{}
	stuck := 0
	for res.Iterations < opt.MaxIterations {
		res.Iterations++
		flat := true // is the residual orthogonal to every column?
		for j := range n {
			dot, norm := 0.0, 0.0
			for i := range m {
				dot += s.jac[i*n+j] * s.r[i]
				norm += s.jac[i*n+j] * s.jac[i*n+j]
			}
			norm = math.Sqrt(norm)
			s.scale[j] = max(scaleMemory*s.scale[j], norm)
			if math.Abs(dot) > opt.GradTol*norm*math.Sqrt(f) {
				flat = false
			}
		}
		if flat || f == 0 {
			res.Converged = true
			break
		}
		for j := range n {
			if s.scale[j] == 0 {
				s.scale[j] = 1 // an unknown that does nothing here stays where it is
			}
		}
		s.factorJacobian()
		better := false
		for !better {
			s.damp(lambda)
			s.solve(s.r, s.step)
			if !opt.Straight && f > 0 {
				s.bend(f)
			}
			size, move := 0.0, 0.0
			for j := range n {
				s.xn[j] = s.x[j] + s.step[j]
				size += sq(s.scale[j] * s.x[j])
				move += sq(s.scale[j] * s.step[j])
			}
			size, move = math.Sqrt(size), math.Sqrt(move)
			if move <= opt.StepTol*(size+opt.StepTol) {
				res.Converged = true
				break
			}
			fn := s.residual(s.xn, s.rn)
			// The linear model's own promise: |r|² − |r + Jδ|².
			promised := f
			for i := range m {
				v := s.r[i]
				for j := range n {
					v += s.jac[i*n+j] * s.step[j]
				}
				promised -= v * v
			}
			gain := (f - fn) / max(promised, 1e-300)
			if fn < f {
				// Progress below rounding, several times in a row, is the end.
				if f-fn <= 1e-14*f {
					stuck++
				} else {
					stuck = 0
				}
				copy(s.x, s.xn)
				copy(s.r, s.rn)
				f = fn
				if gain > 0 {
					lambda = max(lambda*max(1.0/3, 1-cube(2*gain-1)), 1e-20)
				}
				nu = 2
				better = true
				continue
			}
			lambda *= nu
			nu *= 2
			if lambda > 1e30 {
				res.Converged = true // no descent left in any direction at this precision
				break
			}
		}
		if !better {
			break
		}
		s.jacobian()
		if stuck >= 3 {
			res.Converged = true
			break
		}
	}
	res.X, res.Residuals, res.Jacobian, res.RSS, res.Evals = s.x, s.r, s.jac, f, s.evals
	return res, nil
}

func sq(v float64) float64   { return v * v }
func cube(v float64) float64 { return v * v * v }

// factorJacobian is done once a Jacobian; damp, cheap however many residuals
// there are, once a damping: the QR of [R; √λ·D], or the Cholesky factor of
// JᵀJ + λ·D².
func (s *solver) factorJacobian() {
	n, m := s.p.N, s.p.M
	if s.anchored {
		blas64.Syrk(blas.Trans, 1, blas64.General{Rows: m, Cols: n, Stride: n, Data: s.jac}, 0, upper(s.gram, n))
		return
	}
	copy(s.whole.a, s.jac)
	s.whole.factor()
}

func (s *solver) damp(lambda float64) {
	n := s.p.N
	if s.anchored {
		copy(s.factor, s.gram)
		for i := range n {
			s.factor[i*n+i] += lambda * s.scale[i] * s.scale[i]
		}
		if _, ok := lapack64.Potrf(upper(s.factor, n)); !ok {
			s.factor[0] = math.NaN() // not positive in these digits: a step that loses, and more damping
		}
		return
	}
	a := s.qr.a
	clear(a)
	root := math.Sqrt(lambda)
	for i := range n {
		a[i*n+i] = s.whole.diag[i]
		copy(a[i*n+i+1:(i+1)*n], s.whole.a[i*n+i+1:(i+1)*n])
		a[(n+i)*n+i] = root * s.scale[i]
	}
	s.qr.factor()
}

// upper is an n×n symmetric matrix of which the upper half is kept.
func upper(a []float64, n int) blas64.Symmetric {
	return blas64.Symmetric{Uplo: blas.Upper, N: n, Stride: n, Data: a}
}

// solve puts the damped least-squares solution of J·δ = −rhs into δ.
func (s *solver) solve(rhs, delta []float64) {
	n, m := s.p.N, s.p.M
	if s.anchored {
		blas64.Gemv(blas.Trans, -1, blas64.General{Rows: m, Cols: n, Stride: n, Data: s.jac},
			blas64.Vector{N: m, Inc: 1, Data: rhs}, 0, blas64.Vector{N: n, Inc: 1, Data: delta})
		u := upper(s.factor, n)
		lapack64.Potrs(blas64.Triangular{Uplo: u.Uplo, Diag: blas.NonUnit, N: n, Stride: n, Data: u.Data},
			blas64.General{Rows: n, Cols: 1, Stride: 1, Data: delta})
		return
	}
	for i, v := range rhs {
		s.work[i] = -v
	}
	s.whole.turn(s.work)
	copy(s.top, s.work[:n])
	clear(s.top[n:])
	s.qr.solve(s.top, delta)
}

// bend adds half the geodesic acceleration to the step where it is small
// enough to be believed; the second derivative along the step is a difference.
func (s *solver) bend(f float64) {
	const h = 0.1
	n, m := s.p.N, s.p.M
	for j := range n {
		s.xt[j] = s.x[j] + h*s.step[j]
	}
	if math.IsInf(s.residual(s.xt, s.rt), 1) {
		return
	}
	for i := range m {
		v := 0.0
		for j := range n {
			v += s.jac[i*n+j] * s.step[j]
		}
		s.rt[i] = 2 / h * ((s.rt[i]-s.r[i])/h - v)
	}
	s.solve(s.rt, s.acc)
	a, b := 0.0, 0.0
	for j := range n {
		a += sq(s.scale[j] * s.acc[j])
		b += sq(s.scale[j] * s.step[j])
	}
	if 2*math.Sqrt(a) > 0.75*math.Sqrt(b) || math.IsNaN(a) {
		return
	}
	for j := range n {
		s.step[j] += 0.5 * s.acc[j]
	}
}
