package money

import (
	"math"
	"testing"
)

func TestJeffreysIntervalOfAProportion(t *testing.T) {
	// Brown, Cai and DasGupta 2001, table 5: 95 % Jeffreys limits for n = 7 (from memory of the table, page not seen).
	for won, want := range map[int][2]float64{1: {.016, .501}, 2: {.065, .648}, 3: {.139, .766}} {
		low, high := Chance{Won: won, Of: 7}.Interval(.95)
		if math.Abs(low-want[0]) > .0015 || math.Abs(high-want[1]) > .0015 {
			t.Errorf("%d of 7: %.3f to %.3f, printed %v", won, low, high, want)
		}
	}
}
