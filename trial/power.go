package trial

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Spread is how far runs scatter, as relative standard deviations: 0.01 is 1 %.
type Spread struct {
	Run float64 // the same design on the same machine again
	// Cell is how far a machine's lead differs from design to design.
	Cell float64
	// Setup is what all runs of a machine share and no repeat shows: how it was set, threaded
	// and timed.
	Setup float64
}

// Repeats are the most that Needed looks for.
const mostRepeats = 100

// Power is the chance that a trial of so many designs and repeats tells two of so many
// machines apart that differ by a relative difference, in a two-sided test at level
// alpha. On these designs alone a lead that differs from design to design is no error;
// over others like them it is (elsewhere true): the test is then that of the machines'
// mean square over the interaction's. More repeats do nothing against Setup.
//
// The noncentral t test: Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions
// 2, 2nd edition, 1995, chapter 31.
func Power(difference, alpha float64, s Spread, machines, designs, repeats int, elsewhere bool) float64 {
	d, r, m := float64(designs), float64(repeats), float64(machines)
	variance, df := 2*(s.Setup*s.Setup+s.Run*s.Run/(d*r)), d*m*(r-1)
	if elsewhere {
		variance, df = variance+2*s.Cell*s.Cell/d, (d-1)*(m-1)
	}
	if df < 1 || !(difference > 0) || !(variance > 0) {
		return 0
	}
	return tPower(difference/math.Sqrt(variance), df, alpha)
}

// tPower is the power of a two-sided t test with noncentrality delta.
func tPower(delta, df, alpha float64) float64 {
	limit := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(1 - alpha/2)
	chi := distuv.ChiSquared{K: df}
	norm := distuv.UnitNormal
	// The mean over s = √(χ²/df) of P(|Z + delta| > limit·s).
	const tail, points = 1e-10, 100
	return quad.Fixed(func(x float64) float64 {
		s := math.Sqrt(x / df)
		return chi.Prob(x) * (norm.CDF(delta-limit*s) + norm.CDF(-delta-limit*s))
	}, chi.Quantile(tail), chi.Quantile(1-tail), points, nil, 0)
}

// Needed is the fewest repeats with which Power reaches the wanted power; ok is false
// where even the most do not: then more designs are needed, not more repeats.
func Needed(power, difference, alpha float64, s Spread, machines, designs int, elsewhere bool) (repeats int, ok bool) {
	for r := 1; r <= mostRepeats; r++ {
		if Power(difference, alpha, s, machines, designs, r, elsewhere) >= power {
			return r, true
		}
	}
	return mostRepeats, false
}

// Least is the smallest difference, relative, that the wanted power is reached with.
func Least(power, alpha float64, s Spread, machines, designs, repeats int, elsewhere bool) float64 {
	low, high := 0.0, 1.0
	if Power(high, alpha, s, machines, designs, repeats, elsewhere) < power {
		return math.Inf(1)
	}
	for range 40 {
		mid := (low + high) / 2
		if Power(mid, alpha, s, machines, designs, repeats, elsewhere) >= power {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}
