package book

import (
	"math"
	"testing"
)

// A. Gelman and others, Bayesian Data Analysis, 3rd edition (2013), section 2.6,
// "Estimating a rate from Poisson data: an idealized example" (from memory):
// 3 deaths in 200,000 people of a year, where 0.6 per 100,000 are usual, a prior
// of Gamma(3, 5); then 30 in 2,000,000.
func TestARateIsLearnedAsInTheTextbook(t *testing.T) {
	prior := Gamma{3, 5}
	for _, c := range []struct {
		deaths       int
		exposure     float64
		shape, rate  float64
		mean, places float64
	}{
		{3, 2, 6, 7, .86, .005},
		{30, 20, 33, 25, 1.32, .005},
	} {
		g := prior.Seen(c.deaths, c.exposure)
		if g.Shape != c.shape || g.Rate != c.rate || math.Abs(g.Mean()-c.mean) > c.places {
			t.Errorf("%d deaths: %+v, mean %v; want %v, %v, %v", c.deaths, g, g.Mean(), c.shape, c.rate, c.mean)
		}
	}
	// The interval of Gamma(6, 7) has its ends where the incomplete gamma function of
	// integer shape, 1 − Σ e^−x x^k / k!, is 5 and 95 %.
	below := func(x float64) float64 {
		x *= 7
		sum, term := 0.0, math.Exp(-x)
		for k := range 6 {
			sum += term
			term *= x / float64(k+1)
		}
		return 1 - sum
	}
	low, high := prior.Seen(3, 2).Within(.9)
	if math.Abs(below(low)-.05) > 1e-9 || math.Abs(below(high)-.95) > 1e-9 {
		t.Errorf("the interval is %v to %v, below which lie %v and %v", low, high, below(low), below(high))
	}
}

// The same book, chapter 2, exercise 8: students' weights, a prior of N(180, 40²)
// and readings with a spread of 20 whose mean is 150. Of 10 students the mean is
// known as N(150.7, 6.2²), of 100 as N(150.1, 2.0²).
func TestAMeanIsLearnedAsInTheTextbook(t *testing.T) {
	for _, c := range []struct{ n, mean, sd float64 }{{10, 150.7, 6.2}, {100, 150.1, 2.0}} {
		n := Normal{180, 40}.Seen(150, 20/math.Sqrt(c.n))
		if math.Abs(n.Mean-c.mean) > .05 || math.Abs(n.SD-c.sd) > .06 {
			t.Errorf("%v students: %+v, want %v ± %v", c.n, n, c.mean, c.sd)
		}
	}
}
