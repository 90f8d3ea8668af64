// Published optimal designs: G.E.P. Box and H.L. Lucas, Biometrika 46 (1959) 77–90; J. Kiefer and J. Wolfowitz, Annals of Mathematical Statistics 30 (1959) 271–294.

package doptimal

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// tiny is a prior that says next to nothing.
func tiny(n int) *mat.SymDense {
	h := mat.NewSymDense(n, nil)
	for i := range n {
		h.SetSym(i, i, 1e-12)
	}
	return h
}

// choose picks count points on a grid.
func choose(lo, hi float64, steps, count int, prior *mat.SymDense, row func(x float64) []float64) []float64 {
	xs := make([]float64, steps+1)
	rows := make([][]float64, steps+1)
	for i := range xs {
		xs[i] = lo + (hi-lo)*float64(i)/float64(steps)
		rows[i] = row(xs[i])
	}
	set := Exchange(len(xs), func(set []int) float64 {
		if len(set) > count {
			return math.Inf(-1)
		}
		var r [][]float64
		for _, k := range set {
			r = append(r, rows[k])
		}
		return logDet(prior, r)
	}, nil)
	var out []float64
	for _, k := range set {
		out = append(out, xs[k])
	}
	slices.Sort(out)
	return out
}

// Box and Lucas: y = t1/(t1−t2)·(exp(−t2·x) − exp(−t1·x)), t1 = 0.7, t2 = 0.2:
// measure at 1.23 and 6.86 (recomputed 1.229471 and 6.857689, |det| 0.8104159).
func TestBoxAndLucas(t *testing.T) {
	const t1, t2 = 0.7, 0.2
	row := func(x float64) []float64 {
		e1, e2 := math.Exp(-t1*x), math.Exp(-t2*x)
		d := t1 - t2
		return []float64{
			-t2/(d*d)*(e2-e1) + t1/d*x*e1,
			t1/(d*d)*(e2-e1) - t1/d*x*e2,
		}
	}
	got := choose(0.005, 20, 3999, 2, tiny(2), row)
	if len(got) != 2 || math.Abs(got[0]-1.229471) > 0.006 || math.Abs(got[1]-6.857689) > 0.006 {
		t.Fatalf("times %v, published 1.23 and 6.86", got)
	}
	a, b := row(1.229471), row(6.857689)
	if det := math.Abs(a[0]*b[1] - a[1]*b[0]); math.Abs(det-0.8104159) > 1e-6 {
		t.Errorf("determinant %v, recomputed 0.8104159", det)
	}
	if l := logDet(tiny(2), [][]float64{a, b}); math.Abs(l-2*math.Log(0.8104159)) > 1e-6 {
		t.Errorf("LogDet %v", l)
	}
}

// Kiefer and Wolfowitz: a quadratic on [−1, 1]: a third of the weight at −1, 0
// and 1, determinant of the information a point 4/27.
func TestKieferWolfowitzQuadratic(t *testing.T) {
	row := func(x float64) []float64 { return []float64{1, x, x * x} }
	got := choose(-1, 1, 40, 30, tiny(3), row)
	n := map[float64]int{}
	for _, x := range got {
		n[math.Round(x*1e9)/1e9]++
	}
	if len(got) != 30 || n[-1] != 10 || n[0] != 10 || n[1] != 10 {
		t.Fatalf("points %v, want ten each at −1, 0 and 1", n)
	}
	var rows [][]float64
	for _, x := range got {
		r := row(x)
		for i := range r {
			r[i] /= math.Sqrt(30)
		}
		rows = append(rows, r)
	}
	if det := math.Exp(logDet(tiny(3), rows)); math.Abs(det-4.0/27) > 1e-9 {
		t.Errorf("determinant %v, want 4/27", det)
	}
}

// A straight line: all weight at the ends, half and half.
func TestStraightLine(t *testing.T) {
	got := choose(0, 1, 20, 8, tiny(2), func(x float64) []float64 { return []float64{1, x} })
	if len(got) != 8 || got[3] != 0 || got[4] != 1 {
		t.Fatalf("points %v, want four at each end", got)
	}
}

// y = V·x/(K+x) on (0, 4], K = 1: K·xmax/(2K+xmax) = 2/3 and 4 (analytic).
func TestHyperbola(t *testing.T) {
	got := choose(0.01, 4, 1197, 2, tiny(2), func(x float64) []float64 {
		return []float64{x / (1 + x), -x / ((1 + x) * (1 + x))}
	})
	if len(got) != 2 || math.Abs(got[0]-2.0/3) > 0.004 || math.Abs(got[1]-4) > 1e-9 {
		t.Fatalf("points %v, want 2/3 and 4", got)
	}
}

// A prior that knows one unknown well sends the experiment to the other: with
// the slope known to 0.001, every point of a line goes where the intercept
// shows as well as anywhere, and the gain is that of the intercept alone.
func TestPriorMovesTheDesign(t *testing.T) {
	prior := mat.NewSymDense(2, []float64{1, 0, 0, 1e6})
	l0 := logDet(prior, nil)
	at0 := logDet(prior, [][]float64{{1, 0}})
	if math.Abs(at0-l0-math.Log(2)) > 1e-9 {
		t.Fatalf("gain %v, want ln 2", at0-l0)
	}
	if logDet(tiny(2), [][]float64{{1, 0}}) > -20 {
		t.Fatal("one point determines two unknowns?")
	}
}

// logDet is ln det(prior + Σ rowᵀ·row): prior is a precision matrix, a row is
// an observation's derivatives by the unknowns over its standard deviation.
// −Inf where the matrix is not positive definite.
func logDet(prior mat.Symmetric, rows [][]float64) float64 {
	n := prior.SymmetricDim()
	h := mat.NewSymDense(n, nil)
	h.CopySym(prior)
	for _, r := range rows {
		h.SymRankOne(h, 1, mat.NewVecDense(n, r))
	}
	return logDetOf(h)
}

// logDetOf is ln det h, −Inf where h is not positive definite.
func logDetOf(h mat.Symmetric) float64 {
	var ch mat.Cholesky
	if !ch.Factorize(h) {
		return math.Inf(-1)
	}
	return ch.LogDet()
}
