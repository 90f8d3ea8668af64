package hier

import (
	"context"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The eight schools: Rubin, J. Educational Statistics 6 (1981); Gelman and
// others, Bayesian Data Analysis, 3rd edition, 2013, table 5.2.
var schools = []struct{ effect, se float64 }{
	{28, 15}, {8, 10}, {-3, 16}, {7, 11}, {-1, 9}, {1, 11}, {18, 10}, {12, 18},
}

func eightSchools() (out []Member) {
	for _, s := range schools {
		out = append(out, Member{mat.NewDense(1, 1, []float64{1 / s.se}), []float64{s.effect / s.se}})
	}
	return out
}

// BDA, section 5.5: the posterior of τ in closed form (equation 5.21, flat on μ
// and τ), and given τ that of μ (5.20) and of each school (5.17). Integrated on a
// grid it is what the sampler must give.
func TestEightSchoolsAsInTheBooksFormulas(t *testing.T) {
	type moments struct{ w, mu, mu2, a, below5 float64 }
	var m moments
	for tau := 0.005; tau < 400; tau += 0.01 {
		sum, at := 0.0, 0.0
		for _, s := range schools {
			w := 1 / (s.se*s.se + tau*tau)
			sum += w
			at += w * s.effect
		}
		at /= sum
		log := -math.Log(sum) / 2
		for _, s := range schools {
			v := s.se*s.se + tau*tau
			log -= math.Log(v)/2 + (s.effect-at)*(s.effect-at)/(2*v)
		}
		w := math.Exp(log)
		a := schools[0]
		m.w += w
		m.mu += w * at
		m.mu2 += w * (at*at + 1/sum)
		m.a += w * (a.effect*tau*tau + at*a.se*a.se) / (tau*tau + a.se*a.se)
		if tau < 5 {
			m.below5 += w
		}
	}
	mu := m.mu / m.w
	sd := math.Sqrt(m.mu2/m.w - mu*mu)

	below, n := 0.0, 0.0
	got, err := Sample(context.Background(), eightSchools(),
		Prior{Mean: []float64{0}, SD: []float64{math.Inf(1)}, DF: -1, Scale: []float64{0}},
		Options{Draws: 80_000, Each: func(_, tau []float64, _ [][]float64) {
			n++
			if tau[0] < 5 {
				below++
			}
		}})
	if err != nil {
		t.Fatal(err)
	}
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if math.Abs(got-want) > tol {
			t.Errorf("%s is %.3f, the integral is %.3f", what, got, want)
		}
	}
	near("the mean effect", got.Mean[0], mu, 0.15)
	near("its spread", math.Sqrt(got.MeanCov.At(0, 0)), sd, 0.15)
	near("school A", got.Members[0].Mean[0], m.a/m.w, 0.2)
	near("the chance that τ is below 5", below/n, m.below5/m.w, 0.02)
}

// BDA, table 5.3: medians and quartiles of the schools' effects, from 200 draws
// there (so a median is known to about 1). The figures are from memory.
func TestEightSchoolsAsPublished(t *testing.T) {
	draws := make([][]float64, len(schools))
	_, err := Sample(context.Background(), eightSchools(),
		Prior{Mean: []float64{0}, SD: []float64{math.Inf(1)}, DF: -1, Scale: []float64{0}},
		Options{Draws: 50_000, Each: func(_, _ []float64, theta [][]float64) {
			for i := range theta {
				draws[i] = append(draws[i], theta[i][0])
			}
		}})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][3]float64{{7, 10, 16}, {3, 8, 12}, {2, 7, 11}, {4, 8, 11}, {1, 5, 10}, {2, 6, 10},
		{7, 10, 15}, {3, 8, 13}} {
		slices.Sort(draws[i])
		for q, at := range []float64{.25, .5, .75} {
			got := draws[i][int(at*float64(len(draws[i])))]
			if math.Abs(got-want[q]) > 2 {
				t.Errorf("school %c, %g %%: %.1f, in the book %g", 'A'+i, 100*at, got, want[q])
			}
		}
	}
}
