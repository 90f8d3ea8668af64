package money

import (
	"cmp"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestAFiniteNumberOfDrawsIsNeverCertain(t *testing.T) {
	for _, n := range []int{0, 1, 60, 300, 1_000_000} {
		for _, c := range []Chance{{Won: n, Of: n}, {Of: n}} {
			if p := c.P(); !(p > 0 && p < 1) {
				t.Errorf("%+v: chance %g", c, p)
			}
			if low, high := c.Interval(.9); !(low > 0 && high < 1 && low < high) {
				t.Errorf("%+v: between %g and %g", c, low, high)
			}
		}
	}
	if p := (Chance{Won: 300, Of: 300}).P(); p < .99 || p > .999 {
		t.Errorf("300 of 300: %g", p)
	}
	if p := (Chance{}).P(); p != .5 {
		t.Errorf("no draws: %g", p)
	}
}

func TestTiesCountHalf(t *testing.T) {
	c := count([]float64{1, 2, 3, 4}, []float64{2, 2, 1, 5}, cmp.Compare)
	if c != (Chance{Won: 2, Tied: 1, Of: 4}) {
		t.Errorf("counted %+v", c)
	}
	if got, want := c.P(), (2.5+.5)/5; math.Abs(got-want) > 1e-15 {
		t.Errorf("chance %g, want %g", got, want)
	}
	if not := c.Not(); not != (Chance{Won: 1, Tied: 1, Of: 4}) || math.Abs(not.P()+c.P()-1) > 1e-15 {
		t.Errorf("the opposite of %+v is %+v", c, not)
	}
	if alike := count([]float64{1, 2}, []float64{1, 2}, cmp.Compare); alike.Verdict() != Alike || alike.P() != .5 {
		t.Errorf("alike: %+v %s", alike, alike.Verdict())
	}
}

func TestVerdictsBeginAtTheirChances(t *testing.T) {
	for won, want := range map[int]Verdict{999: Wins, 901: Wins, 900: Wins, 899: Probably, 701: Probably, 700: Probably, 699: CannotTell, 500: CannotTell, 0: CannotTell} {
		// 999 draws: P = (won + ½)/1000.
		c := Chance{Won: won, Of: 999}
		if p := c.P(); (p >= .9) != (want == Wins) || c.Verdict() != want {
			t.Errorf("%d of 999, chance %g: %s, want %s", won, p, c.Verdict(), want)
		}
	}
	// Where P is a threshold to the last bit, the verdict is the one that begins there.
	for _, e := range []struct {
		c    Chance
		p    float64
		want Verdict
	}{
		{Chance{Won: 4, Of: 4}, .9, Wins},
		{Chance{Won: 13, Of: 14}, .9, Wins},
		{Chance{Won: 8, Tied: 1, Of: 9}, .9, Wins},
		{Chance{Won: 3, Of: 4}, .7, Probably},
		{Chance{Won: 6, Tied: 1, Of: 9}, .7, Probably},
		{Chance{Won: 89, Tied: 2, Of: 99}, .905, Wins},
	} {
		if p, v := e.c.P(), e.c.Verdict(); p != e.p || v != e.want {
			t.Errorf("%+v, chance %g: %s, want %s at %g", e.c, p, v, e.want, e.p)
		}
	}
	if v := (Chance{}).Verdict(); v != CannotTell {
		t.Errorf("no draws: %s", v)
	}
}

func TestMoreDrawsSettleWhatIsNearAThreshold(t *testing.T) {
	// z²·p(1 − p)/(next − p)², z = 1.644854 at 0.90 (the sums made by hand).
	for _, e := range []struct {
		c    Chance
		want int
	}{
		{Chance{Won: 200, Of: 300}, 525},     // 0.666113, next 0.70
		{Chance{Won: 262, Of: 300}, 388},     // 0.872093, next 0.90
		{Chance{Won: 264, Of: 300}, 638},     // 0.878738, next 0.90
		{Chance{Won: 6, Tied: 1, Of: 9}, 15}, // 0.7 exactly: next is 0.90
		{Chance{Won: 209, Of: 300}, 0},       // 0.696013: more than a hundred times the draws
		{Chance{Won: 208, Of: 300}, 10_781},  // 0.692691
	} {
		if n := e.c.MoreDraws(.9); n != e.want {
			t.Errorf("%+v, chance %g: %d draws, want %d", e.c, e.c.P(), n, e.want)
		}
	}
	for _, c := range []Chance{{Won: 150, Of: 300}, {Won: 290, Of: 300}, {Won: 240, Of: 300}, {Tied: 300, Of: 300}} {
		if n := c.MoreDraws(.9); n != 0 {
			t.Errorf("%+v: %d draws, though it is known", c, n)
		}
	}
	// With so many draws the interval is clear of the threshold.
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(20, 500).Draw(t, "of")
		c := Chance{Won: rapid.IntRange(0, of).Draw(t, "won"), Of: of}
		n := c.MoreDraws(.9)
		if n == 0 {
			return
		}
		p := c.P()
		next := ProbablyFrom
		if p >= next {
			next = WinsFrom
		}
		if half := 1.645 * math.Sqrt(p*(1-p)/float64(n)); n <= of || p+half > next+.002 {
			t.Fatalf("%+v: %d draws leave %g ± %g across %g", c, n, p, half, next)
		}
	})
}
