package leastsq

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"
)

func line(x, y []float64) Problem {
	return Problem{M: len(x), N: 2, Residual: func(b, r []float64) {
		for i := range x {
			r[i] = b[0] + b[1]*x[i] - y[i]
		}
	}}
}

// The closed form of a straight line is the oracle.
func TestStraightLineIsSolvedExactly(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		n := 3 + rng.IntN(20)
		x, y := make([]float64, n), make([]float64, n)
		var sx, sy, sxx, sxy float64
		for i := range x {
			x[i], y[i] = 10*rng.Float64(), 5*rng.NormFloat64()
			sx += x[i]
			sy += y[i]
			sxx += x[i] * x[i]
			sxy += x[i] * y[i]
		}
		fn := float64(n)
		slope := (fn*sxy - sx*sy) / (fn*sxx - sx*sx)
		res, err := Solve(line(x, y), []float64{rng.NormFloat64() * 100, rng.NormFloat64()}, Options{})
		if err != nil || !res.Converged {
			t.Fatal(err, res)
		}
		if math.Abs(res.X[1]-slope) > 1e-8*(1+math.Abs(slope)) {
			t.Fatalf("slope %v, closed form %v", res.X[1], slope)
		}
		cov, err := res.covariance()
		if err != nil {
			t.Fatal(err)
		}
		want := res.RSS / (fn - 2) * fn / (fn*sxx - sx*sx)
		if math.Abs(cov[3]/want-1) > 1e-6 {
			t.Fatalf("variance of the slope %v, closed form %v", cov[3], want)
		}
	}
}

func TestBadProblemsAreErrors(t *testing.T) {
	nan := Problem{M: 2, N: 1, Residual: func(x, r []float64) { r[0], r[1] = math.NaN(), 1 }}
	if _, err := Solve(nan, []float64{1}, Options{}); !errors.Is(err, ErrStart) {
		t.Errorf("NaN at the start: %v", err)
	}
	if _, err := Solve(line([]float64{1}, []float64{1}), []float64{0, 0}, Options{}); err == nil {
		t.Error("fewer residuals than unknowns: no error")
	}
	// Two unknowns of which only the sum shows.
	twins := Problem{M: 3, N: 2, Residual: func(x, r []float64) {
		for i := range r {
			r[i] = x[0] + x[1] - float64(i)
		}
	}}
	res, err := Solve(twins, []float64{5, 3}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(res.X[0]+res.X[1]-1) > 1e-7 {
		t.Errorf("sum %v, want 1", res.X[0]+res.X[1])
	}
	if _, err := res.covariance(); err == nil {
		t.Error("unknowns that cannot be told apart got a covariance")
	}
}

// A wall of NaN between the start and the solution of a log shortens steps
// and ends at the solution.
func TestForbiddenRegionsShortenSteps(t *testing.T) {
	p := Problem{M: 2, N: 1, Residual: func(x, r []float64) {
		r[0] = math.Log(x[0]) + 3 // NaN for x < 0
		r[1] = 0
	}}
	res, err := Solve(p, []float64{40}, Options{Damping: 1e-6})
	if err != nil || math.Abs(res.X[0]-math.Exp(-3)) > 1e-9 {
		t.Fatal(err, res)
	}
}

// With a prior for every unknown the normal equations end where QR does, from
// any start, whether more is observed than is unknown or less.
func TestAnchoredProblemsAreSolvedAsByQR(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for trial := range 60 {
		n, rows := 2+rng.IntN(30), 1+rng.IntN(40)
		a, y := make([]float64, rows*n), make([]float64, rows)
		for i := range a {
			a[i] = 100 * rng.NormFloat64() // a run told far more sharply than the prior tells
		}
		for i := range y {
			y[i] = 1 + rng.Float64()
		}
		p := Problem{M: rows + n, N: n, Residual: func(x, r []float64) {
			for i := range rows {
				s := 0.0
				for j, v := range x {
					s += a[i*n+j] * v
				}
				r[i] = 50 * (math.Exp(s/1000) - y[i])
			}
			copy(r[rows:], x)
		}}
		start := make([]float64, n)
		for j := range start {
			start[j] = rng.NormFloat64()
		}
		qr, err := Solve(p, start, Options{})
		if err != nil {
			t.Fatal(err)
		}
		got, err := Solve(p, start, Options{Anchored: true})
		if err != nil || !got.Converged {
			t.Fatal(err, got)
		}
		for j := range n {
			if math.Abs(got.X[j]-qr.X[j]) > 1e-6 {
				t.Fatalf("trial %d, %d rows: unknown %d of %d is %v, by QR %v", trial, rows, j, n, got.X[j], qr.X[j])
			}
		}
	}
}
