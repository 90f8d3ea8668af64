package learn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// later are runs of so many designs, off by these shares, predicted to ± half.
func later(half float64, designs int, off ...float64) []Foretold {
	var out []Foretold
	for i, v := range off {
		p := 600 + 37*float64(i%5)
		out = append(out, Foretold{Observation: Observation{Kind: WholeRun, Seconds: p * math.Exp(v), Step: 1},
			Design: fmt.Sprint(i % designs), Predicted: p, Low: p * (1 - half), High: p * (1 + half), Level: 0.9})
	}
	return out
}

func TestAScoreSaysWhatIsBeyondChance(t *testing.T) {
	for _, c := range []struct {
		name                        string
		runs                        []Foretold
		few, biased, narrow, inside bool
	}{
		{"none", nil, true, false, false, true},
		{"three that are off", later(0.01, 3, 0.03, 0.031, 0.029), true, false, false, false},
		{"three per cent short", later(0.05, 4, 0.03, 0.025, 0.035, 0.03, 0.028, 0.033, 0.03, 0.029, 0.031), false, true, false, true},
		{"three per cent, and it was sure", later(0.01, 4, 0.03, 0.025, 0.035, 0.03, 0.028, 0.033), false, true, true, false},
		{"to and fro", later(0.005, 4, 0.03, -0.03, 0.028, -0.031, 0.03, -0.029, 0.001, 0.03), false, false, true, false},
		{"as it should be", later(0.01, 4, 0.004, -0.003, 0.002, -0.005, 0.001, 0.003), false, false, false, true},
		{"sure, and too little to matter", later(0.01, 4, 0.002, 0.0021, 0.002, 0.0019, 0.002, 0.002), false, false, false, true},
	} {
		s, _ := ScoreOf(c.runs)
		if s.Few() != c.few || s.Biased() != c.biased || s.Narrow() != c.narrow || (s.Inside == s.Runs) != c.inside {
			t.Errorf("%s: %+v", c.name, s)
		}
	}
}

func TestAPausedRunDoesNotCount(t *testing.T) {
	runs := later(0.01, 4, 0.002, -0.001, 0.003, -0.002, 0.001, 0.002, -0.002, 0.12)
	s, counted := ScoreOf(runs)
	if s.Apart != 1 || counted[7] || s.Runs != 7 || s.Inside != 7 || math.Abs(s.Bias) > 0.002 {
		t.Errorf("%+v %v", s, counted)
	}
	// Three of eight that stand apart are the machine.
	runs = later(0.01, 4, 0.002, -0.001, 0.003, -0.002, 0.001, 0.1, 0.11, 0.12)
	if s, _ := ScoreOf(runs); s.Apart != 0 || s.Runs != 8 || s.Inside != 5 {
		t.Errorf("%+v", s)
	}
}

// A watch is no better than its presses: a short run may lie outside by that.
func TestTheReadingIsAllowedFor(t *testing.T) {
	f := Foretold{Observation: Observation{Seconds: 26.5, Step: 0.1}, Predicted: 26, Low: 25.9, High: 26.1, Level: 0.9}
	if !f.Inside() {
		t.Error("half a second on 26 s, read with a watch")
	}
	f.Error = 0.05
	if f.Inside() {
		t.Error("read by a film, half a second is half a second")
	}
	f.Seconds, f.High = 26.5, 26.6
	if !f.Inside() {
		t.Error("inside its range")
	}
	if f.Seconds = 25.5; f.Inside() {
		t.Error("the low end holds too")
	}
}

// On predictions that are right the words come in no more than one score in a
// hundred each; a bias of twice what a run scatters by is found in ten runs.
func TestAScoreIsSeldomWrong(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const trials = 4000
	biased, narrow, found := 0, 0, 0
	for range trials {
		draw := func(n int, bias float64) Score {
			off := make([]float64, n)
			for i := range off {
				off[i] = bias + 0.01*rng.NormFloat64()
			}
			s, _ := ScoreOf(later(0.01645, 5, off...))
			return s
		}
		s := draw(12, 0)
		if s.Biased() {
			biased++
		}
		if s.Narrow() {
			narrow++
		}
		if s = draw(10, 0.02); s.Biased() {
			found++
		}
	}
	t.Logf("biased %d, narrow %d, found %d of %d", biased, narrow, found, trials)
	if biased > trials*15/1000 || narrow > trials*15/1000 || found < trials*95/100 {
		t.Errorf("biased %d, narrow %d, found %d of %d", biased, narrow, found, trials)
	}
}
