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
