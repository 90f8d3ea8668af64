package sound

import (
	"math"
	"slices"
	"testing"

	"needlepace/machine"
	"needlepace/sound/synth"
)

// bent is the hearing with all numbers of its runs one too high: a stroke laid in the rest before each, its last one left out.
func (h *hearing) bent() *hearing {
	b := h.unknown()
	s := &b.law.sheet.Shaft
	s.SoftStartStitches, s.CreepSpeed = s.SoftStartStitches+1, 300
	b.relay()
	for k, l := range b.laid {
		own := h.laid[k]
		copy(l.heard[1:], own.heard)
		copy(l.gain[1:], own.gain)
		l.heard[0], l.gain[0], l.liesAt = own.heard[0]-0.2, 0, nil
	}
	return b
}

// unknown is the hearing as of a machine of which only the class is known.
func (h *hearing) unknown() *hearing {
	b := h.again()
	b.opt.Known = false
	b.fitted, b.prior = b.terms(), nil
	for _, t := range b.fitted {
		b.prior = append(b.prior, t.get(&h.law))
	}
	b.law, b.told = b.law.clone(), &told{tried: map[beside]bool{}}
	return b
}

// TestATurnTooManyInEveryRunIsFound: a law by which every run's strokes lie right but for one that is silent at its
// beginning, and one that is left out at its end.
func TestATurnTooManyInEveryRunIsFound(t *testing.T) {
	class, _ := machine.Class("multi-12")
	h, _ := sixRunsOn(t, class, 1, synth.Quiet)
	by := roundsDrift[2]
	if _, found := h.slips(); found {
		t.Error("strokes are said to be silent again and again where all are heard")
	}
	bent := h.bent().lay(by)
	if rows, found := bent.slips(); !found || len(rows[3]) == 0 || rows[3][0].from != 0 {
		t.Fatalf("silent again and again: %v", rows)
	}
	now := bent.unslipped(by)
	for k, l := range now.laid {
		if off := l.heard[20] - h.laid[k].heard[20]; math.Abs(off) > 0.003 {
			t.Errorf("stroke 20 of run %d is heard %.3f s off", k, off)
		}
	}
	// Where no law is found, it is said.
	bent.doubtSilent()
	for k, l := range bent.laid {
		if l.within < 1 {
			t.Errorf("numbers of run %d are said to be sure", k)
		}
	}
}

// TestPlacesOfOneRunThatAreSilent: rows of silent strokes in one run, each a turn too many, count as many numbers.
func TestPlacesOfOneRunThatAreSilent(t *testing.T) {
	class, _ := machine.Class("multi-12")
	for _, c := range []struct {
		rows [][2]int // silent strokes from, to
		want int
	}{
		{nil, 0},
		{[][2]int{{100, 103}, {200, 203}}, 0},
		{[][2]int{{100, 103}, {200, 203}, {300, 302}}, 3},
		{[][2]int{{100, 101}, {200, 201}, {300, 301}}, 0},
	} {
		h := knocked(class, runs(1), 20, nil)
		n := 2000
		l := &laid{passage: &passage{}}
		for i := range n {
			l.at, l.heard = append(l.at, 0.06*float64(i)), append(l.heard, 1+0.006*float64(i))
			l.gain, l.number = append(l.gain, 1), append(l.number, i)
		}
		for _, r := range c.rows {
			for i := r[0]; i < r[1]; i++ {
				l.gain[i] = 0
			}
		}
		h.laid, h.after = []*laid{l}, nil
		rows, found := h.slips()
		if len(rows[0]) != c.want || found != (c.want > 0) {
			t.Errorf("rows %v of silent strokes: %v are told", c.rows, rows[0])
		}
	}
}

// TestStrokesAreNumberedByATurnLessOrMore: at a place of a run, on either side of it.
func TestStrokesAreNumberedByATurnLessOrMore(t *testing.T) {
	const turn, n = 0.1, 60
	h := &hearing{o: make([]float32, 12000)}
	sewn := func(i int) float64 { return 2 + turn*float64(i) }
	for i := -5; i < n+5; i++ {
		h.o[int(math.Round(sewn(i)/Step))] = 1
	}
	for _, r := range []rival{{more: -1}, {more: 1}, {more: -1, walked: true}, {more: 1, walked: true},
		{more: -1, front: true}, {more: 1, front: true}, {more: -1, front: true, walked: true}} {
		// Laid with a turn too many between strokes 29 and 31, or one too few, and right before it, or after it.
		l := &laid{passage: &passage{at: make([]float64, n)}}
		for i := range n {
			at := sewn(i)
			if i == 30 {
				at += float64(r.more) * turn / 2
			}
			if !r.front && i > 30 || r.front && i < 30 {
				at = sewn(i + r.more*map[bool]int{false: 1, true: -1}[r.front])
			}
			l.heard, l.gain = append(l.heard, at), append(l.gain, 1)
		}
		h.slip(l, slipRow{30, 31}, r)
		for i, at := range l.heard {
			if math.Abs(at-sewn(i)) > 0.002 {
				t.Errorf("%+v: stroke %d is heard at %.3f s, sewn at %.3f", r, i, at, sewn(i))
				break
			}
		}
	}
}

// TestPlacesOfOneRunAreBridged: three places of one run, each a turn too many or one too few; all strokes are numbered as they
// were sewn, and the stretch to fit at each place is from the last stroke before it to the first one after it.
func TestPlacesOfOneRunAreBridged(t *testing.T) {
	const turn, n = 0.1, 200
	sewn := func(i int) float64 { return 2 + turn*float64(i) }
	rows := []slipRow{{50, 51}, {90, 91}, {140, 141}}
	for _, r := range []rival{{more: -1}, {more: 1}, {more: -1, front: true}, {more: 1, front: true}} {
		h := &hearing{o: make([]float32, 24000)}
		for i := -5; i < n+5; i++ {
			h.o[int(math.Round(sewn(i)/Step))] = 1
		}
		l := &laid{passage: &passage{at: make([]float64, n)}}
		for i := range n {
			at := sewn(i)
			for _, p := range rows {
				if !r.front && i > p.from {
					at += float64(r.more) * turn
				}
				if r.front && i < p.from {
					at -= float64(r.more) * turn
				}
				if i == p.from && !r.front {
					at += float64(r.more) * turn / 2
				} else if i == p.from {
					at -= float64(r.more) * turn / 2
				}
			}
			l.heard, l.gain = append(l.heard, at), append(l.gain, 1)
		}
		was := slices.Clone(l.heard)
		h.laid = []*laid{l}
		h.slipAll([][]slipRow{rows}, r)
		for i, at := range l.heard {
			if math.Abs(at-sewn(i)) > 0.002 && i >= 4 && i < n-4 { // three turns at the far end are beyond what was laid
				t.Errorf("%+v: stroke %d is heard at %.3f s, sewn at %.3f", r, i, at, sewn(i))
				break
			}
		}
		bridges := h.bridges([][]slipRow{rows}, r)
		if len(bridges) != len(rows) {
			t.Fatalf("%+v: %d stretches for %d places", r, len(bridges), len(rows))
		}
		for i, b := range bridges {
			if before, after := was[rows[i].from-1], was[rows[i].to]; math.Abs(l.heard[b.from]-before) > 0.002 || math.Abs(l.heard[b.to]-after) > 0.002 {
				t.Errorf("%+v: the stretch at place %d is from %.3f to %.3f s, the place between %.3f and %.3f", r, i, l.heard[b.from], l.heard[b.to], before, after)
			}
		}
	}
}

// TestAMachineThatStrikesOnceIsNotHeardTwice: what was refused of a machine that strikes once is not right as of one
// that strikes twice a revolution.
func TestAMachineThatStrikesOnceIsNotHeardTwice(t *testing.T) {
	h, _ := sixRuns(t)
	if err := h.refuse(); err != nil {
		t.Fatal(err)
	}
	if h.twice = true; h.refuse() != NotThis {
		t.Error("heard as of a machine that strikes twice it is not refused")
	}
}

// TestBothOfTwoRunsThatBeginWithTheSameSilence: a stroke that is silent at one place of both runs there are may be a turn that was not.
func TestBothOfTwoRunsThatBeginWithTheSameSilence(t *testing.T) {
	for _, c := range []struct {
		silent []int // of each run, its silent stroke
		want   int
	}{{[]int{2, 2}, 1}, {[]int{2, 9}, 0}, {[]int{2}, 0}, {[]int{2, 9, 2}, 0}, {[]int{2, 2, 2}, 1}} {
		h := laidEvenly(300, 20, 0.08, nil, func(int) bool { return false })
		h.laid = nil
		for _, at := range c.silent {
			h.laid = append(h.laid, laidEvenly(300, 20, 0.08, nil, func(i int) bool { return i == at }).laid[0])
		}
		h.doubtSilent()
		for k, l := range h.laid {
			if want := c.want; l.within != want {
				t.Errorf("strokes %v are silent: numbers of run %d are said to be wrong by up to %d, want %d", c.silent, k, l.within, want)
			}
		}
	}
}

// TestTheNextPulseIsFoundAtEachMillisecond: forwards and, for times below 0, backwards, wherever between two milliseconds the stroke was.
func TestTheNextPulseIsFoundAtEachMillisecond(t *testing.T) {
	const turn = 0.1
	h := &hearing{o: make([]float32, 3000)}
	for _, stroke := range []float64{1.2345, 1.0005, 1.5, 1.33337, -1.2345, -1.7005} {
		for away := 65; away < 215; away++ {
			ms := int(math.Round(stroke/Step)) + away
			at := max(ms, -ms)
			h.o[at] = 1
			if got := h.nextPulse(stroke, turn); math.Abs(got-float64(ms)*Step) > 1e-9 {
				t.Errorf("a pulse at %d ms, %d after a stroke at %v s, is found at %v s", ms, away, stroke, got)
			}
			h.o[at] = 0
		}
	}
}
