package sound

import (
	"testing"

	"needlepace/machine"
)

// laidEvenly is a run of strokes, turn seconds from one to the next, that are all heard from a time on; in a recording with knocks
// there and at other times.
func laidEvenly(n int, from, turn float64, others []float64, silent func(i int) bool) *hearing {
	class, _ := machine.Class("multi-6")
	l := &laid{passage: &passage{}, score: float64(n)}
	var at []float64
	for i := range n {
		t := from + float64(i)*turn
		l.at, l.number, l.turn = append(l.at, t-from), append(l.number, i), append(l.turn, turn)
		gain := 0.0
		if !silent(i) {
			gain, at = 1, append(at, t)
		}
		l.heard, l.gain = append(l.heard, t), append(l.gain, gain)
	}
	h := knocked(class, runs(1), 60, append(at, others...))
	h.opt.Known = false
	h.laid, h.after = []*laid{l}, nil
	return h
}

// TestStrokesThatTheDesignDoesNotHave: another version of a design is laid on the recording of this one, and what the one has more
// sounds where the other has nothing, or another rhythm.
func TestStrokesThatTheDesignDoesNotHave(t *testing.T) {
	const from, turn = 20.0, 0.08
	row := func(n int, first, every float64) (all []float64) {
		for i := range n {
			all = append(all, first+float64(i)*every)
		}
		return all
	}
	end := from + 299*turn
	all := func(int) bool { return false }
	mid := func(n int) func(int) bool { return func(i int) bool { return i >= 150 && i < 150+n } }
	for _, c := range []struct {
		what   string
		others []float64
		silent func(i int) bool
		want   int
	}{
		{"nothing else", nil, all, 0},
		{"a few knocks at its pace before it", row(3, from-3*turn, turn), all, 0},
		{"a dozen strokes at its pace before it", row(12, from-12*turn, turn), all, 8},
		{"a dozen strokes at its pace after it", row(12, end+turn, turn), all, 8},
		{"a dozen that are slower", row(12, end+1.5*turn, 1.5*turn), all, 0},
		{"knocks all the time, as loud between its strokes", row(400, end+turn/4, turn/4), all, 0},
		{"five are masked", nil, mid(5), 0},
		{"six others in the place of five", row(6, from+149.8*turn, 0.9*turn), mid(5), 5},
		{"two others in the place of five", row(2, from+150.3*turn, 2*turn), mid(5), 2},
	} {
		h := laidEvenly(300, from, turn, c.others, c.silent)
		if got := h.others(); got != c.want {
			t.Errorf("%s: %d strokes in a row that the design does not have, want %d", c.what, got, c.want)
		}
		h.laid[0].within = 1
		h.doubtOthers()
		if want := map[bool]int{false: 1, true: 5}[c.want == 5]; h.laid[0].within != want {
			t.Errorf("%s: numbers are said to be wrong by up to %d, want %d", c.what, h.laid[0].within, want)
		}
		if h.opt.Known = true; h.others() != 0 {
			t.Errorf("%s: beside a machine that is known another's strokes are the design's", c.what)
		}
	}
	// The next run begins where these would be.
	h := laidEvenly(300, from, turn, row(12, end+turn, turn), all)
	next := &laid{passage: &passage{}}
	next.heard, next.at = row(12, end+turn, turn), row(12, 0, turn)
	h.laid = append(h.laid, next)
	if got := h.others(); got != 0 {
		t.Errorf("%d strokes of the next run are said to be none of the design's", got)
	}
}

// TestStitchesSewnAgainByTheDozenAreDoubted: another version with a row of stitches more sounds so.
func TestStitchesSewnAgainByTheDozenAreDoubted(t *testing.T) {
	class, _ := machine.Class("multi-6")
	for again, want := range map[int]int{4: 0, 10: 0, 24: 24} {
		h := knocked(class, runs(3), 120, nil)
		h.stopped([]halt{{passage: 1, last: 40, next: 41 - again}}, 2, 20, 40, 60)
		h.doubtAgain()
		for k, l := range h.laid {
			if of := map[bool]int{true: want}[k == 1 || k == 2]; l.within != of {
				t.Errorf("%d stitches sewn again: numbers of run %d are said to be wrong by up to %d, want %d", again, k, l.within, of)
			}
		}
	}
}
