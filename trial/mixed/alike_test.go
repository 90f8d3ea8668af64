package mixed

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// Two columns that differ by less than chance makes them differ are drawn nearer to each
// other; such as differ by many standard errors stay where they are.
func TestColumnsMayBeAlike(t *testing.T) {
	half := math.Sqrt(0.5)
	for _, c := range []struct{ at, least, most float64 }{{0.5, 0.1, 0.35}, {20, 19.5, 20.2}} {
		a := &alike{columns: 2, mean: 3, axes: mat.NewDense(2, 1, []float64{half, -half}), at: []float64{c.at}, var2: []float64{1}, s2: 1}
		rng, apart, level := rand.New(rand.NewPCG(1, 2)), 0.0, 0.0
		const n = 4000
		for range n {
			x := a.draw(rng, 1)
			apart, level = apart+(x[0]-x[1])*half/n, level+(x[0]+x[1])/2/n
		}
		if apart < c.least || apart > c.most || math.Abs(level-3) > 1e-9 {
			t.Errorf("estimated %v apart, drawn %.2f apart about %.2f", c.at, apart, level)
		}
	}
}
