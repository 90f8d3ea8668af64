package sound

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// TestAStrokeWhoseTimeIsKnownHoldsTheRow: a row of strokes as long apart as the turns is not taken
// for itself a stroke later where one's time is known.
func TestAStrokeWhoseTimeIsKnownHoldsTheRow(t *testing.T) {
	wide := make([]int16, 3000)
	o := make([]float32, len(wide))
	for i := range wide {
		wide[i] = -300
	}
	for k := range 10 { // at 1 to 1.9 s
		wide[1000+100*k], o[1000+100*k] = wideUnit, 1
	}
	lay := func(known int) float64 { // ten strokes from 1.1 s on, of which nine are heard
		l := laid{passage: &passage{at: make([]float64, 10), number: make([]int, 10)}}
		for i := range 10 {
			l.want = append(l.want, 1.1+0.1*float64(i))
		}
		l.follow(wide, o, drifting{reach: 0.15, step: 0.1, ends: 0.1, known: known})
		return l.score
	}
	if free := lay(0); math.Abs(free-10) > 0.01 {
		t.Errorf("where no stroke's time is known the row earns %.2f, want all ten", free)
	}
	for _, known := range []int{1, 5} {
		if held := lay(known); math.Abs(held-8.85) > 0.01 {
			t.Errorf("with stroke %d known the row earns %.2f, want nine less what one costs where nothing is", known-1, held)
		}
	}
}

// TestPiecesAreSortedAsByTryingAll holds the search over a passage's pieces to one that tries
// every way.
func TestPiecesAreSortedAsByTryingAll(t *testing.T) {
	rng := rand.New(rand.NewPCG(14, 2))
	const n = 60
	for range 60 {
		pieces := []piece{{0, 0, 20}, {0, 18, 40}, {0, 40, n}}
		all := make([][]move, len(pieces))
		for i := range all {
			for _, by := range []int{-2, 0, 3} {
				m := move{by: by, mid: rng.Float64()}
				for g := range m.begins {
					m.begins[g], m.ends[g] = math.Inf(-1), math.Inf(-1)
				}
				for range 4 {
					g := stopMost - 5 + rng.IntN(10)
					if i == 0 {
						g = stopMost
					}
					m.begins[g] = 3 * rng.Float64()
					if g = stopMost - 5 + rng.IntN(10); i == len(pieces)-1 {
						g = stopMost
					}
					m.ends[g] = 3 * rng.Float64()
				}
				all[i] = append(all[i], m)
			}
		}
		var best func(i, last int) float64
		best = func(i, last int) float64 {
			if i == len(pieces) {
				return 0
			}
			most := math.Inf(-1)
			for _, m := range all[i] {
				for g, begins := range m.begins {
					b := pieces[i].from + m.by + g - stopMost
					if i == 0 {
						b = 0
					}
					if math.IsInf(begins, -1) || i > 0 && b > last {
						continue
					}
					if i > 0 && b < last {
						begins -= sewnAgain
					}
					for h, ends := range m.ends {
						e := pieces[i].to + m.by + h - stopMost
						if i == len(pieces)-1 {
							e = n
						}
						if !math.IsInf(ends, -1) && e > b && e <= n {
							most = max(most, begins+m.mid+ends+best(i+1, e))
						}
					}
				}
			}
			return most
		}
		want := best(0, 0)
		found, got := sortPieces(all, pieces, n)
		if math.Abs(got-want) > 1e-9 && !(math.IsInf(got, -1) && math.IsInf(want, -1)) {
			t.Fatalf("sorted so that %.3f is earned, %.3f can be", got, want)
		}
		for i := 1; i < len(found); i++ {
			if found[i].from > found[i-1].to {
				t.Fatalf("stitches are left out: %v", found)
			}
		}
	}
}

// knocked is a recording of which only the knocks are known: a stroke's worth at some times, in s, and less
// than nothing elsewhere; the machine is a sheet's, its law known.
func knocked(s *machine.Sheet, d *stitch.Design, seconds float64, at []float64) *hearing {
	n := int(seconds / Step)
	h := &hearing{whole: d, design: d, sheet: s, law: law{sheet: s.Clone(), phase: 0.5}, opt: Options{Known: true}, told: &told{tried: map[beside]bool{}},
		o: make([]float32, n), wide: make([]int16, n), curve: &Curve{n: n, level: slices.Repeat([]uint8{1}, n)}}
	worth := slices.Repeat([]float32{-background}, n)
	for _, t := range at {
		i := int(t/Step + 0.5)
		worth[i], h.o[i] = 1, 1
	}
	h.worth = laying(worth)
	for i, v := range worth {
		h.wide[i] = int16(v * wideUnit)
	}
	h.rhythm = rhythmOf(h.o, coarseEvery)
	h.retrace(true)
	return h
}

// stopped lays the design's only passage with stops, its pieces beginning at these times.
func (h *hearing) stopped(halts []halt, at ...float64) {
	h.play(halts)
	h.score = h.law.score(h.design)
	h.laid = nil
	for k := range h.score.passages {
		l := &laid{passage: &h.score.passages[k]}
		for _, t := range l.at {
			l.want, l.heard, l.gain = append(l.want, at[k]+t), append(l.heard, at[k]+t), append(l.gain, 1)
		}
		h.laid = append(h.laid, l)
	}
}

// TestAKnockBeforeARunIsNoStitch: a knock in the rest before a run that was taken for its first stitch, all numbers
// to the run's next stop one too high, does not hide how the run begins, and is given up.
func TestAKnockBeforeARunIsNoStitch(t *testing.T) {
	class, _ := machine.Class("home-1")
	d := &stitch.Design{}
	for range 200 { // all alike: only the ends tell numbers
		d.Records = append(d.Records, stitch.Record{DX: 30, Op: stitch.Sew})
	}
	was := []halt{{passage: 0, last: 99, next: 100}}
	begins := []float64{4, 40}
	h := knocked(class, d, 70, nil)
	h.stopped(slices.Clone(was), begins...)
	times := []float64{1}
	for _, l := range h.laid {
		times = append(times, l.heard...)
	}
	h = knocked(class, d, 70, times)
	h.stopped([]halt{{passage: 0, last: 0, next: 1}, {passage: 0, last: 100, next: 100}}, 0.7, begins[0], begins[1])
	if c := h.cut(); c.runs != 1 || c.first[0].passage != 1 {
		t.Errorf("of %d runs the beginnings are read, want of the one that a knock stands before", c.runs)
	}
	by := drifting{reach: 0.3, step: 0.2, ends: 0.06}
	now := h.lay(by).without(by)
	if !slices.EqualFunc(now.halted, was, func(a, b halt) bool { return a.last == b.last && a.next == b.next }) {
		t.Errorf("heard with stops %+v, want %+v", now.halted, was)
	}
}

// TestRunsThatOverlapWereNotSewnSo: a rest that is much shorter than the law's is none; one that is heard a little short is.
func TestRunsThatOverlapWereNotSewnSo(t *testing.T) {
	class, _ := machine.Class("multi-6")
	h := knocked(class, runs(3), 70, nil)
	rest := h.first.rests[1].seconds
	for _, c := range []struct {
		rest    float64
		strokes int // of the last run: one of few may lie on a knock
		want    int
	}{{rest, 50, 0}, {0.5 * rest, 50, 0}, {0.05 * rest, 50, 1}, {-0.2, 50, 1}, {-0.2, 10, 0}} {
		h.laid = nil
		at := 2.0
		for k := range h.score.passages {
			of := h.score.passages[k]
			if k == 2 {
				at += c.rest - rest
				of.at = of.at[:min(c.strokes, len(of.at))]
			}
			l := &laid{passage: &of}
			for _, t := range l.at {
				l.heard = append(l.heard, at+t)
			}
			at += l.total + rest
			h.laid = append(h.laid, l)
		}
		if got := h.pressed(); got != c.want {
			t.Errorf("a rest of %.2f s where the law has %.2f, before a run of %d: %d rests are too short, want %d", c.rest, rest, c.strokes, got, c.want)
		}
	}
}

// TestARunThatIsNotHeardToBeginIsAnothers: of strokes that are all clear but where runs begin or end.
func TestARunThatIsNotHeardToBeginIsAnothers(t *testing.T) {
	class, _ := machine.Class("multi-6")
	for _, c := range []struct {
		what   string
		silent func(run, i, last int) bool
		want   float64
	}{
		{"all is heard", func(_, _, _ int) bool { return false }, 0},
		{"four of a run's first are not", func(_, i, _ int) bool { return i < 4 }, 0},
		{"half of the runs do not begin", func(run, i, _ int) bool { return run%2 == 0 && i < 5 }, 0.25},
		{"two runs do not begin", func(run, i, _ int) bool { return run < 2 && i < 5 }, 0},
		{"no run begins or ends", func(_, i, last int) bool { return i < 5 || i > last-5 }, 1},
		{"a third of the others is silent, too", func(_, i, last int) bool { return i < 5 || i > last-5 || i%3 == 0 }, 0},
	} {
		h := knocked(class, runs(6), 120, nil)
		at := 2.0
		for k := range h.score.passages {
			l := &laid{passage: &h.score.passages[k]}
			for i, t := range l.at {
				gain := 1.0
				if c.silent(k, i, len(l.at)-1) {
					gain = 0
				}
				l.heard, l.gain = append(l.heard, at+t), append(l.gain, gain)
			}
			at += l.total + 4
			h.laid = append(h.laid, l)
		}
		if got := h.mute(); got != c.want {
			t.Errorf("%s: %.2f of the ends are mute, want %.2f", c.what, got, c.want)
		}
	}
}

// TestARunThatIsNotHeardToBeginMayBeginLater: where strokes in a row are silent at a run's end, its numbers may be wrong
// by as many; of what is silent in its middle that is not so.
func TestARunThatIsNotHeardToBeginMayBeginLater(t *testing.T) {
	class, _ := machine.Class("multi-6")
	for _, c := range []struct {
		what   string
		silent func(i, last int) bool
		want   int
	}{
		{"all is heard", func(_, _ int) bool { return false }, 0},
		{"its first six are not", func(i, _ int) bool { return i < 6 }, 6},
		{"its last twelve are not", func(i, last int) bool { return i > last-12 }, 12},
		{"six in its middle are not", func(i, last int) bool { return i > last/2 && i <= last/2+6 }, 0},
	} {
		h := knocked(class, runs(1), 120, nil)
		l := &laid{passage: &h.score.passages[0]}
		for i, t := range l.at {
			gain := 1.0
			if c.silent(i, len(l.at)-1) {
				gain = 0
			}
			l.heard, l.gain = append(l.heard, 2+t), append(l.gain, gain)
		}
		h.laid = []*laid{l}
		if h.doubtSilent(); l.within != c.want {
			t.Errorf("%s: its numbers are said to be wrong by up to %d, want %d", c.what, l.within, c.want)
		}
	}
}
