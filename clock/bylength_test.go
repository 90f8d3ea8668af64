package clock

import (
	"math"
	"testing"

	"needlepace/machine"
)

// The curve is the formula of MODEL section 2: w ÷ t(L), held at the set speed.
func TestSpeedByLengthIsTheSpeedLaw(t *testing.T) {
	s, _ := machine.Class("single-15-light")
	s.Ladder = machine.Ladder{}
	s.Frame.Turn = 0.4
	for _, zigzag := range []bool{false, true} {
		for _, p := range SpeedByLength(s, Job{}, 12, zigzag, 0.9) {
			move := axisLaw{accel: s.Frame.AccelX, speed: s.Frame.SpeedX}.seconds(p.LengthMM)
			if zigzag {
				move *= 1 + s.Frame.Turn
			}
			want := min(s.MaxSpeed, 60*s.Frame.Window/(move+s.Frame.Settle))
			if math.Abs(p.Mid-want) > 1e-9*want {
				t.Fatalf("%.1f mm, zigzag %v: %v/min, want %v", p.LengthMM, zigzag, p.Mid, want)
			}
			if p.Low > p.Mid || p.High < p.Mid || p.High > s.MaxSpeed*1.0001 {
				t.Fatalf("%.1f mm: band %v…%v about %v", p.LengthMM, p.Low, p.High, p.Mid)
			}
		}
	}
}

func TestExactSheetsHaveNoBandByLength(t *testing.T) {
	s, _ := machine.Class("single-15-light")
	s.SD = nil
	for _, p := range SpeedByLength(s, Job{}, 5, false, 0.9) {
		if p.Low != p.Mid || p.High != p.Mid {
			t.Fatalf("%.1f mm: %v…%v about %v", p.LengthMM, p.Low, p.High, p.Mid)
		}
	}
}
