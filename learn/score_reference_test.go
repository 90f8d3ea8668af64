package learn

import (
	"math"
	"testing"
)

// Student, Biometrika 6 (1908) 1–25, section IX: the hours of sleep that ten
// patients gained by a drug, 1.9 0.8 1.1 0.1 −0.1 4.4 5.5 1.6 4.6 3.4; the mean is 2.33 and
// the sample's deviation (by n − 1) 2.002, so t = 3.680 and, with nine degrees of freedom, the two-sided
// probability 0.0051 (recomputed from tables of t: between 0.005 at 3.690 and 0.01 at 3.250).
func TestBiasIsStudents(t *testing.T) {
	gain := []float64{1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4}
	var runs []Foretold
	for _, g := range gain {
		runs = append(runs, Foretold{Observation: Observation{Seconds: 100 * math.Exp(g), Error: 1}, Predicted: 100,
			Low: 90, High: 110, Level: 0.9})
	}
	s, _ := ScoreOf(runs)
	if math.Abs(math.Log1p(s.Bias)-2.33) > 1e-9 || math.Abs(s.BiasChance-0.0051) > 0.0001 {
		t.Errorf("mean %.4f, chance %.5f", math.Log1p(s.Bias), s.BiasChance)
	}
	// t with nine degrees of freedom is 1.833 at 95 % (Student's table).
	if half := (math.Log1p(s.High) - math.Log1p(s.Low)) / 2; math.Abs(half-1.833*2.002/math.Sqrt(10)) > 0.001 {
		t.Errorf("half-width %.4f", half)
	}
}

// Clopper and Pearson, Biometrika 26 (1934) 404–413: the ends of the range are
// the shares at which as many or more, and as few or fewer, have a chance of one half of what is
// left; summed here from the binomial terms.
func TestTheShareInsideIsClopperAndPearsons(t *testing.T) {
	tail := func(n, from, to int, p float64) float64 {
		sum := 0.0
		for k := from; k <= to; k++ {
			c := 1.0
			for i := range k {
				c *= float64(n-i) / float64(i+1)
			}
			sum += c * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
		}
		return sum
	}
	for _, c := range []struct{ n, k int }{{10, 8}, {9, 4}, {12, 12}, {7, 0}, {20, 17}} {
		off := make([]float64, c.n)
		for i := range off {
			off[i] = 0.015
			if i >= c.k {
				off[i] = 0.03
			}
			if i%2 == 0 {
				off[i] = -off[i]
			}
		}
		s, _ := ScoreOf(later(0.02, 3, off...))
		if s.Runs != c.n || s.Inside != c.k {
			t.Fatalf("%d of %d: %+v", c.k, c.n, s)
		}
		if c.k > 0 && math.Abs(tail(c.n, c.k, c.n, s.InsideLow)-0.05) > 1e-6 {
			t.Errorf("%d of %d from %.4f", c.k, c.n, s.InsideLow)
		}
		if c.k < c.n && math.Abs(tail(c.n, 0, c.k, s.InsideHigh)-0.05) > 1e-6 {
			t.Errorf("%d of %d to %.4f", c.k, c.n, s.InsideHigh)
		}
		if math.Abs(tail(c.n, 0, c.k, 0.9)-s.TooFew) > 1e-9 || math.Abs(tail(c.n, c.k, c.n, 0.9)-s.TooMany) > 1e-9 {
			t.Errorf("%d of %d: too few %.5f, too many %.5f", c.k, c.n, s.TooFew, s.TooMany)
		}
	}
}
