package ask

import (
	"math"
	"testing"
)

// Six hours stand for what is assumed. Eighteen timed ones leave a quarter of
// the variance, which is half of the spread.
func TestTimedHoursMakePromisesSurerByTheRoot(t *testing.T) {
	for _, c := range []struct{ sheet, hours, want float64 }{
		{0, 0, .10},
		{0, 18, .05},
		{0, 594, .01},
		{.24, 0, .26}, // 10, 24, 26: a right angle
		{.24, 18, .13},
	} {
		if got := unknown(c.sheet, c.hours); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("a sheet known to %v, %v hours timed: %v is unknown, want %v", c.sheet, c.hours, got, c.want)
		}
	}
}
