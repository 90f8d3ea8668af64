package trial

import (
	"math"
	"testing"
)

// R's own examples of power.t.test (stats): n = 20, delta = 1, sd = 1 has a power of
// 0.8689528; power 0.90, delta = 1 needs n = 22.02110. From memory of the documentation;
// that they are met to five digits confirms them.
func TestPowerOfTTestAsInR(t *testing.T) {
	two := func(n float64) float64 { return tPower(math.Sqrt(n/2), 2*n-2, 0.05) }
	if got := two(20); math.Abs(got-0.8689528) > 2e-5 {
		t.Errorf("n = 20: %.7f, R says 0.8689528", got)
	}
	if got := two(22.02110); math.Abs(got-0.90) > 2e-5 {
		t.Errorf("n = 22.0211: %.6f, R says 0.90", got)
	}
}

// Power of whole trials, reckoned apart from this program in Python with scipy 1.10.1 (stats.nct, and again by
// integration over the chi-square) from the mean squares of the two-way model: Searle, Casella, McCulloch,
// Variance Components, 1992, section 4.7 (from memory).
func TestPowerOfTrialsAsInScipy(t *testing.T) {
	for _, c := range []struct {
		difference, alpha, run, cell, setup float64
		machines, designs, repeats          int
		elsewhere                           bool
		want                                float64
	}{
		{0.05, 0.1, 0.01, 0.04, 0.01, 3, 6, 3, true, 0.5251637},
		{0.05, 0.1, 0.01, 0.04, 0.01, 3, 4, 3, true, 0.4008286},
		{0.04, 0.1, 0.012, 0.02, 0.005, 2, 3, 2, true, 0.4067738},
		{0.03, 0.1, 0.012, 0.02, 0.01, 4, 5, 2, false, 0.6068814},
		{0.02, 0.05, 0.01, 0.04, 0.004, 2, 2, 3, false, 0.5844233},
	} {
		if got := Power(c.difference, c.alpha, Spread{c.run, c.cell, c.setup}, c.machines, c.designs, c.repeats, c.elsewhere); math.Abs(got-c.want) > 1e-5 {
			t.Errorf("%+v: %.7f", c, got)
		}
	}
}

// Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd edition, 1988, table
// 2.4.1: n of each of two groups for a power of 0.80 at a two-sided 0.05 (from memory):
// d = 0.20: 393, 0.50: 64, 0.80: 26, 1.00: 17.
func TestSampleSizesOfCohen(t *testing.T) {
	for d, want := range map[float64]int{0.2: 393, 0.5: 64, 0.8: 26, 1.0: 17} {
		n := 2
		for tPower(d*math.Sqrt(float64(n)/2), float64(2*n-2), 0.05) < 0.8 {
			n++
		}
		if n < want || n > want+1 { // his table rounds an approximation
			t.Errorf("d = %.2f needs %d, Cohen has %d", d, n, want)
		}
	}
}

// One design on two machines is the plain two-sample test: 17 repeats at d = 1.
func TestRepeatsNeededOfOneDesign(t *testing.T) {
	if n, ok := Needed(0.8, 0.01, 0.05, Spread{Run: 0.01}, 2, 1, false); n != 17 || !ok {
		t.Errorf("%d repeats, %v", n, ok)
	}
	if n, ok := Needed(0.8, 0.01, 0.05, Spread{Run: 0.001, Cell: 0.05}, 3, 4, true); ok {
		t.Errorf("%d repeats make up for a lead that differs by 5 %% from design to design", n)
	}
	if d := Least(0.8, 0.05, Spread{Run: 0.01}, 2, 1, 17, false); d > 0.01 || d < 0.0095 {
		t.Errorf("17 repeats show %.4f", d)
	}
}
