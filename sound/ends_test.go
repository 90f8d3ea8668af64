package sound

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/machine"
)

// TestAStrokeBeyondTheFirstTellsAgainstIt: what is heard where one stroke more would be costs
// a passage, unless as much is heard in the rest anyway or the machine strikes twice a turn.
func TestAStrokeBeyondTheFirstTellsAgainstIt(t *testing.T) {
	heard := func(at ...float64) *blurred {
		wide := make([]int16, 6000)
		for i := range wide {
			wide[i] = -300
		}
		for _, s := range at {
			wide[int(s/Step)] = wideUnit
		}
		return newBlurred(wide)
	}
	twice := heard(3)
	twice.twins = true
	for _, c := range []struct {
		name     string
		b        *blurred
		at, turn float64
		costs    float64
	}{
		{"a stroke one turn before", heard(3), 3.4, -0.4, unheard},
		{"the passage's own first stroke", heard(3), 3, -0.4, 0},
		{"three turns before, a rest's own sound", heard(3), 4.2, -0.4, 0},
		{"one turn before, and as loud all over the rest", heard(3, 2.2, 1.6, 0.8), 3.4, -0.2, 0},
		{"six strokes before it", heard(3, 2.7, 2.4, 2.1, 1.8, 1.5), 3.3, -0.3, unheard},
		{"six strokes after it", heard(3, 3.3, 3.6, 3.9, 4.2), 2.7, 0.3, unheard},
		{"one turn after", heard(3), 2.6, 0.4, unheard},
		{"less than a turn after: the rest begins", heard(3), 2.85, 0.4, 0},
		{"one turn before, where it strikes twice", twice, 3.4, -0.4, 0},
		{"before the recording", heard(3), 0.1, -0.4, 0},
	} {
		if got := c.b.beyond(c.at, c.turn); math.Abs(got-c.costs) > 0.01 {
			t.Errorf("%s costs %.2f, want %.2f", c.name, got, c.costs)
		}
	}
}

// TestTheMostBetweenTwoTimes: by rows of blocks as by looking at each.
func TestTheMostBetweenTwoTimes(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 14))
	sharp := make([]int16, 40000)
	for i := range sharp {
		sharp[i] = int16(rng.IntN(4000) - 3000)
		if rng.IntN(300) == 0 {
			sharp[i] = int16(rng.IntN(20000))
		}
	}
	b := newBlurred(sharp)
	for range 2000 {
		from := rng.IntN(len(sharp) - 1)
		to := min(from+rng.IntN(1+rng.IntN(30000)), len(sharp)-1)
		want := slices.Max(sharp[from/16*16 : min(to/16*16+16, len(sharp))]) // the blocks that they lie in
		if got := b.most((float64(to)+0.5)*Step, (float64(from)+0.5)*Step); math.Abs(got-float64(want)/wideUnit) > 1e-9 {
			t.Fatalf("from %d to %d ms: %v, want %v", from, to, got, float64(want)/wideUnit)
		}
	}
}

// TestARunsRiseAsTheStrokesSayItIsTried: with every number of soft stitches, beside others far from it.
func TestARunsRiseAsTheStrokesSayItIsTried(t *testing.T) {
	class, _ := machine.Class("multi-12")
	h := &hearing{sheet: class, law: law{sheet: class.Clone(), phase: 0.5}}
	h.law.sheet.Shaft.AccelUp = 1.4 * class.Shaft.AccelUp
	tried := map[int]bool{}
	for _, l := range h.begins()[1:] {
		if math.Abs(l.sheet.Shaft.AccelUp/h.law.sheet.Shaft.AccelUp-1) < 0.01 {
			tried[l.sheet.Shaft.SoftStartStitches] = true
		}
	}
	for soft := range 14 {
		if !tried[soft] {
			t.Errorf("with %d soft stitches no run rises as the strokes say", soft)
		}
	}
}
