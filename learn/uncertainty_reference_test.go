// JCGM 100:2008 (GUM) annex H.1 to H.3 and JCGM 101:2008, 9.2; data as kept in the documentation of the GUM tree calculator of MSL, New Zealand. Percentiles: NIST/SEMATECH e-Handbook 7.2.6.2; Hyndman and Fan, The American Statistician 50 (1996) 361–365.

package learn

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"

	"needlepace/clock"
	"needlepace/learn/leastsq"
)

func close4(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, published %v", what, got, want)
	}
}

// H.1, end gauge: components 25, 5.8, 3.9, 6.7, 2.887 and 16.599 nm; combined
// standard uncertainty 32 nm (recomputed 31.664).
func TestGUMH1FirstOrder(t *testing.T) {
	u := []float64{25, 5.8, 3.9, 6.7, 2.887, 16.599}
	cov := mat.NewSymDense(len(u), nil)
	ones := make([]float64, len(u))
	for i, v := range u {
		cov.SetSym(i, i, v*v)
		ones[i] = 1
	}
	close4(t, "u, nm", math.Sqrt(quad(ones, cov)), 31.664, 0.001)
	d := mat.NewSymDense(3, []float64{5.8 * 5.8, 0, 0, 0, 3.9 * 3.9, 0, 0, 0, 6.7 * 6.7})
	close4(t, "u(d), nm", math.Sqrt(quad([]float64{1, 1, 1}, d)), 9.68, 0.01)
}

// H.1.7: with second-order terms 34 nm (recomputed 33.81); drawing machines,
// or end gauges, has them by itself.
func TestGUMH1SecondOrderByDrawing(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	const ls = 50e6 // nm
	draws := make([][]float64, 400_000)
	w := make([]float64, len(draws))
	for i := range draws {
		n := rng.NormFloat64
		da, theta := 0.58e-6*n(), -0.1+0.41*n()
		as, dt := 11.5e-6+1.2e-6*n(), 0.029*n()
		l := 25*n() + 9.7*n() - ls*(da*theta+as*dt)
		draws[i], w[i] = []float64{l}, 1
	}
	_, cov := moments(draws, w)
	close4(t, "u with second order, nm", math.Sqrt(cov.At(0, 0)), 34, 0.5)
}

// H.2: resistance and reactance measured together, correlated inputs.
func TestGUMH2CorrelatedOutputs(t *testing.T) {
	data := [3][]float64{
		{5.007, 4.994, 5.005, 4.990, 4.999},
		{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3},
		{1.0456, 1.0438, 1.0468, 1.0428, 1.0433},
	}
	var mean [3]float64
	for k, v := range data {
		for _, x := range v {
			mean[k] += x / 5
		}
	}
	cov := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := i; j < 3; j++ {
			s := 0.0
			for n := range 5 {
				s += (data[i][n] - mean[i]) * (data[j][n] - mean[j])
			}
			cov.SetSym(i, j, s/20)
		}
	}
	r := func(i, j int) float64 { return cov.At(i, j) / math.Sqrt(cov.At(i, i)*cov.At(j, j)) }
	close4(t, "r(V,I)", r(0, 1), -0.355, 0.002)
	close4(t, "r(V,φ)", r(0, 2), 0.858, 0.002)
	close4(t, "r(I,φ)", r(1, 2), -0.645, 0.002)
	v, i, phi := mean[0], mean[1], mean[2]
	z := v / i
	gr := []float64{math.Cos(phi) / i, -z * math.Cos(phi) / i, -z * math.Sin(phi)}
	gx := []float64{math.Sin(phi) / i, -z * math.Sin(phi) / i, z * math.Cos(phi)}
	gz := []float64{1 / i, -z / i, 0}
	close4(t, "R, Ω", z*math.Cos(phi), 127.732, 0.001)
	close4(t, "X, Ω", z*math.Sin(phi), 219.847, 0.001)
	close4(t, "Z, Ω", z, 254.260, 0.001)
	close4(t, "u(R)", math.Sqrt(quad(gr, cov)), 0.071, 0.001)
	close4(t, "u(X)", math.Sqrt(quad(gx, cov)), 0.295, 0.001)
	close4(t, "u(Z)", math.Sqrt(quad(gz, cov)), 0.236, 0.001)
	corr := func(a, b []float64) float64 {
		sum := make([]float64, 3)
		for k := range sum {
			sum[k] = a[k] + b[k]
		}
		return (quad(sum, cov) - quad(a, cov) - quad(b, cov)) / 2 / math.Sqrt(quad(a, cov)*quad(b, cov))
	}
	close4(t, "r(R,X)", corr(gr, gx), -0.588, 0.002)
	close4(t, "r(R,Z)", corr(gr, gz), -0.485, 0.002)
	close4(t, "r(X,Z)", corr(gx, gz), 0.993, 0.001)
}

// H.3: calibration of a thermometer, a straight line by least squares.
func TestGUMH3Line(t *testing.T) {
	temp := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160}
	res, err := leastsq.Solve(leastsq.Problem{M: len(b), N: 2, Residual: func(y, r []float64) {
		for i := range b {
			r[i] = b[i] - y[0] - y[1]*(temp[i]-20)
		}
	}}, []float64{0, 0}, leastsq.Options{})
	if err != nil {
		t.Fatal(err)
	}
	// σ²·(JᵀJ)⁻¹ at the solution.
	jac := mat.NewDense(len(b), 2, res.Jacobian)
	gram, cov := mat.NewSymDense(2, nil), mat.NewSymDense(2, nil)
	gram.SymOuterK(1, jac.T())
	var ch mat.Cholesky
	if !ch.Factorize(gram) || ch.InverseTo(cov) != nil {
		t.Fatal("the line cannot be told")
	}
	cov.ScaleSym(res.RSS/float64(len(b)-2), cov)
	close4(t, "y1", res.X[0], -0.17120379, 1e-7)
	close4(t, "y2", res.X[1], 0.0021827, 1e-6)
	close4(t, "u(y1)", math.Sqrt(cov.At(0, 0)), 0.0028776, 1e-6)
	close4(t, "u(y2)", math.Sqrt(cov.At(1, 1)), 0.00066794, 1e-7)
	close4(t, "r", cov.At(0, 1)/math.Sqrt(cov.At(0, 0)*cov.At(1, 1)), -0.93043, 1e-4)
	close4(t, "s", math.Sqrt(res.RSS/9), 0.00349756, 1e-7)
	g := []float64{1, 10}
	close4(t, "b(30)", res.X[0]+10*res.X[1], -0.14937681, 1e-7)
	close4(t, "u(b(30))", math.Sqrt(quad(g, cov)), 0.0041386, 1e-6)
}

// emptyFit is a fit with no observation: its posterior is the prior, standard
// normal in z.
func emptyFit(t *testing.T) *posterior {
	s := mustClass(t, "single-15-light")
	free := freeConstants(s)
	f := &fitter{ctx: context.Background(), prior: newPrior(s, free), model: newModel(s, free, nil)}
	if err := f.solve(true); err != nil {
		t.Fatal(err)
	}
	return f.posterior()
}

// JCGM 101, 9.2: the sum of four standard normals has the 95 % interval ±3.92
// (3.919928). The perturbed fits that draw machines are asked for it.
func TestJCGM101SumOfFourNormalsByPerturbedFits(t *testing.T) {
	po := emptyFit(t)
	p := len(po.z)
	draws, err := po.perturbed(t.Context(), rand.New(rand.NewPCG(4, 4)), 20_000)
	if err != nil {
		t.Fatal(err)
	}
	var sums []float64
	for _, z := range draws {
		for k := 0; k+3 < p; k += 4 { // every four of them, to use all
			sums = append(sums, z[k]+z[k+1]+z[k+2]+z[k+3])
		}
	}
	slices.Sort(sums)
	close4(t, "2.5 % quantile", clock.Quantile(sums, 0.025), -3.919928, 0.05)
	close4(t, "97.5 % quantile", clock.Quantile(sums, 0.975), 3.919928, 0.05)
}

func TestWeightedDrawsOfTheirOwnNormalAreAllWorthSomething(t *testing.T) {
	po := emptyFit(t)
	var c Check
	if err := po.check(t.Context(), Options{Draws: 4000, Budget: 1 << 40}, &c); err != nil {
		t.Fatal(err)
	}
	if c.Effective < 1500 || c.Replaced || c.Widest > 1.1 || c.Narrowest < 0.9 || c.Shift > 0.1 {
		t.Errorf("the normal posterior did not stand up to its own draws: %+v", c)
	}
}

// JCGM 101, 9.2: four rectangular variables of unit deviation: ±3.88 (exact
// 3.879407), narrower than the normal's 3.92.
func TestJCGM101SumOfFourRectangulars(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 2))
	sums := make([]float64, 400_000)
	for i := range sums {
		for range 4 {
			sums[i] += math.Sqrt(12) * (rng.Float64() - 0.5)
		}
	}
	slices.Sort(sums)
	close4(t, "97.5 % quantile", clock.Quantile(sums, 0.975), 3.879407, 0.02)
	close4(t, "95 % quantile", clock.Quantile(sums, 0.95), 3.302538, 0.02)
}

// The quantile rule is number 7 of Hyndman and Fan: 95.19568 for the
// handbook's data, not the handbook's own p(N+1), 95.19807.
func TestQuantileRuleIsNumberSeven(t *testing.T) {
	v := []float64{95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1065, 95.0925, 95.1990, 95.1682}
	slices.Sort(v)
	close4(t, "90th percentile", clock.Quantile(v, 0.9), 95.19568, 1e-8)
	close4(t, "40th percentile of five", clock.Quantile([]float64{15, 20, 35, 40, 50}, 0.4), 29, 1e-9)
}
