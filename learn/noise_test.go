package learn

import (
	"math"
	"testing"
)

var noises = []noise{
	{sd: 0.4, delay: 60, pause: 0.01, slip: 0.002, wide: 600},
	{sd: 3, delay: 60, pause: 0.2, slip: 0.002, wide: 20000},
	{sd: 10, delay: 1, pause: 0, slip: 0.01, wide: 3000},
	{sd: 5, delay: 2, pause: 0.3, slip: 0, wide: 1},
}

// The density integrates to 1 (Simpson's rule; the slip's share apart).
func TestNoiseIsADensity(t *testing.T) {
	for _, n := range noises {
		lo, hi := -40*n.sd, 40*n.sd+40*n.delay
		const steps = 400_000
		h := (hi - lo) / steps
		sum := 0.0
		for i := 0; i <= steps; i++ {
			a, b, _, shift := n.parts(lo + float64(i)*h)
			w := 2.0
			if i%2 == 1 {
				w = 4
			}
			if i == 0 || i == steps {
				w = 1
			}
			sum += w * (a + b) * math.Exp(shift)
		}
		sum *= h / 3
		if math.Abs(sum-(1-n.slip)) > 1e-6 {
			t.Errorf("%+v: integral %v, want %v", n, sum, 1-n.slip)
		}
	}
}

func TestLossDerivativesAreDerivatives(t *testing.T) {
	for _, n := range noises {
		for _, u := range []float64{-30, -6, -2, -0.3, 0, 0.5, 2, 3, 4, 8, 40} {
			r := u * n.sd
			h := 1e-4 * n.sd
			_, d1, d2 := n.loss(r)
			up, u1, _ := n.loss(r + h)
			down, l1, _ := n.loss(r - h)
			if g := (up - down) / (2 * h); math.Abs(g-d1) > 1e-5*(math.Abs(d1)+0.01/n.sd) {
				t.Errorf("%+v at %v sd: slope %v, difference %v", n, u, d1, g)
			}
			if g := (u1 - l1) / (2 * h); math.Abs(g-d2) > 1e-4*(math.Abs(d2)+0.01/n.sd/n.sd) {
				t.Errorf("%+v at %v sd: curvature %v, difference %v", n, u, d2, g)
			}
			c, least := n.centre()
			v, s := n.root(r, c, least)
			rho, _, _ := n.loss(r)
			if math.Abs(0.5*v*v+least-rho) > 1e-6 {
				t.Errorf("%+v at %v sd: ½·root² is %v, loss above the least %v", n, u, 0.5*v*v, rho-least)
			}
			vu, _ := n.root(r+h, c, least)
			vd, _ := n.root(r-h, c, least)
			if g := (vu - vd) / (2 * h); math.Abs(g-s) > 1e-3*(math.Abs(s)+0.01/n.sd) {
				t.Errorf("%+v at %v sd: root's slope %v, difference %v", n, u, s, g)
			}
		}
	}
}

// An interruption adds time: a run 20 sd too long is taken as interrupted, one
// 20 sd too short never is.
func TestInterruptionsOnlyAddTime(t *testing.T) {
	n := noises[0]
	if p, _ := n.guilt(20 * n.sd); p < 0.9 {
		t.Errorf("20 sd too long: interrupted with chance %v", p)
	}
	if p, s := n.guilt(-20 * n.sd); p > 1e-3 || s < 0.9 {
		t.Errorf("20 sd too short: interrupted %v, slip %v", p, s)
	}
	if p, _ := n.guilt(0.5 * n.sd); p > 0.05 {
		t.Errorf("half an sd too long: interrupted with chance %v", p)
	}
}

// The chances of the sizes that the scatter of colour changes may have are those of half a Cauchy with its median at 0.03
// (0.12 where a person threads each): its distribution function is 2/π·arctan(size/median) (Gelman, Bayesian Analysis 1, 2006,
// section 4.3, has it as such a prior), so that more than 0.15 has 12.6 % (42.9 %).
func TestTheChancesOfTheScatterAreThoseOfAHalfCauchy(t *testing.T) {
	for _, c := range []struct {
		class string
		above float64
	}{{"single-15-1200", 0.1257}, {"home-1", 0.4296}} {
		s := mustClass(t, c.class)
		f := &fitter{model: newModel(s, freeConstants(s), nil)}
		total, above := 0.0, 0.0
		for _, size := range changeSizes {
			p := math.Exp(f.changesChance(size))
			if total += p; size >= 0.2 { // the next lower is 0.1
				above += p
			}
		}
		if math.Abs(total-1) > 1e-9 || math.Abs(above-c.above) > 1e-3 {
			t.Errorf("%s: the chances add up to %v, those above 0.15 to %v, want 1 and %v", c.class, total, above, c.above)
		}
	}
}
