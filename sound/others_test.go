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
		{"a dozen strokes at its pace before it", row(12, from-12*turn, turn), all, 12},
		{"a dozen strokes at its pace after it", row(12, end+turn, turn), all, 12},
		{"a dozen that are slower", row(12, end+1.6*turn, 1.6*turn), all, 0},
		{"knocks all the time, as loud between its strokes", row(400, end+turn/4, turn/4), all, 0},
		{"five are masked", nil, mid(5), 0},
		{"six others in the place of five", row(6, from+149.8*turn, 0.9*turn), mid(5), 5},
		{"others at two thirds of its turns from its beginning on, every second one of its own between", row(28, from+16*turn+turn/3, turn*2/3),
			func(i int) bool { return i > 15 && i < 35 && i%2 == 1 }, 6},
		{"its own stroke between each two that are masked", nil, func(i int) bool { return i > 140 && i < 161 && i%2 == 1 }, 0},
		{"two others in the place of five", row(2, from+150.3*turn, 2*turn), mid(5), 2},
	} {
		h := laidEvenly(300, from, turn, c.others, c.silent)
		if got := h.others(); got != c.want {
			t.Errorf("%s: %d strokes in a row that the design does not have, want %d", c.what, got, c.want)
		}
		h.laid[0].within = 1
		h.doubtOthers()
		want := 1
		if c.want > 2 && c.want < 8 {
			want = c.want
		}
		if h.laid[0].within != want {
			t.Errorf("%s: numbers are said to be wrong by up to %d, want %d", c.what, h.laid[0].within, want)
		}
		if h.opt.Known = true; h.others() != 0 {
			t.Errorf("%s: beside a machine that is known another's strokes are the design's", c.what)
		}
	}
	// By the law the shaft rises and slows at the ends: a stroke that is silent there lies between those that go on.
	h := laidEvenly(300, from, turn, row(12, end, turn), func(i int) bool { return i == 299 })
	h.laid[0].heard[299] += turn / 2
	if got := h.others(); got != 8 {
		t.Errorf("strokes go on beyond a run's last one, which is silent: %d in a row that the design does not have, want 8", got)
	}
	h = laidEvenly(300, from, turn, row(12, from-11*turn, turn), func(i int) bool { return i == 0 })
	h.laid[0].heard[0] -= turn / 2
	if got := h.others(); got != 8 {
		t.Errorf("strokes come before a run's first one, which is silent: %d in a row that the design does not have, want 8", got)
	}
	h = laidEvenly(34, from, turn, row(12, from+34*turn, turn), all)
	if got := h.others(); got != 12 {
		t.Errorf("strokes go on beyond a short run: %d in a row that the design does not have, want 12", got)
	}
	// A shaft that rises before the run, as a run's beginning does, or slows after it; knocks are no such.
	for _, c := range []struct {
		strokes int
		ratio   float64
		knocks  bool
		want    int
	}{{16, 1.12, false, 16}, {8, 1.12, false, 0}, {16, 1.12, true, 0}} {
		for _, before := range []bool{true, false} {
			var others []float64
			t0, by, at := from, -turn, turn
			if !before {
				t0, by = end, turn
			}
			for i := range c.strokes {
				t0 += by
				others = append(others, t0)
				if at = by * (c.ratio - 1); i >= 3 {
					by += at / (1 + 0.3*float64(i))
				}
				if c.knocks {
					others = append(others, t0+by/2)
				}
			}
			h = laidEvenly(300, from, turn, others, all)
			if got := h.others(); got != c.want {
				t.Errorf("%+v, before: %v: %d in a row that the design does not have", c, before, got)
			}
		}
	}
	// The next run begins where these would be.
	h = laidEvenly(300, from, turn, row(12, end+turn, turn), all)
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

// TestARunThatIsNotHeardWhereItLies: of 45 strokes a few lie on knocks by chance.
func TestARunThatIsNotHeardWhereItLies(t *testing.T) {
	for _, c := range []struct {
		strokes, heard int
		dropped        bool
		want           int
	}{{45, 45, false, 0}, {45, 20, false, 0}, {45, 4, false, 45}, {12, 1, false, 0}, {45, 4, true, 0}} {
		h := laidEvenly(300, 20, 0.08, nil, func(int) bool { return false })
		l := laidEvenly(c.strokes, 5, 0.08, nil, func(int) bool { return false }).laid[0]
		l.score = float64(c.heard)
		h.laid = append([]*laid{l}, h.laid...)
		if c.dropped {
			clear(h.curve.level[6000:7000])
		}
		if got := h.deaf(); got != c.want {
			t.Errorf("%d of a run's %d strokes are heard, the recorder left some out: %v; %d are said not to be heard, want %d", c.heard, c.strokes, c.dropped,
				got, c.want)
		}
	}
}

// TestARunThatIsSewnTwice: a run of another version, as long as one of the design's and alike, is taken for this, sewn again.
func TestARunThatIsSewnTwice(t *testing.T) {
	class, _ := machine.Class("multi-6")
	for _, c := range []struct{ last, next, want int }{
		{49, 0, 50}, // the whole run again
		{49, 5, 45}, // all of it but its beginning
		{49, 44, 6}, // a thread broke at its end
		{40, 0, 41}, // what was sewn of it again, and then the rest
		{30, 12, 0}, // a break in its midst, far gone back
		{4, 0, 5},   // a break after its first stitches
		{25, 26, 0}, // a pause
	} {
		h := knocked(class, runs(3), 120, nil)
		h.stopped([]halt{{passage: 1, last: c.last, next: c.next}}, 2, 20, 40, 60)
		if got := h.doubled(); got != c.want {
			t.Errorf("after stroke %d of 50 it goes on with %d: %d strokes are said to be sewn twice, want %d", c.last, c.next, got, c.want)
		}
	}
}
