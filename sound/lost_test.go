package sound

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/sound/synth"
)

// sixRuns is a recording of six runs laid on its design, on a machine that is known.
func sixRuns(t *testing.T) (*hearing, *synth.Performance) {
	t.Helper()
	class, _ := machine.Class("multi-12")
	return sixRunsOn(t, class, 0.5, synth.Quiet)
}

func sixRunsOn(t *testing.T, class *machine.Sheet, phase float64, scene synth.Scene) (*hearing, *synth.Performance) {
	t.Helper()
	rng := rand.New(rand.NewPCG(11, 14))
	d := runs(6)
	job := clock.Job{Speed: 700}
	p := synth.Perform(d, class, synth.Script{Job: job, Jitter: 0.0006, Phase: phase, RestSpread: 0.1, Lead: 2, Tail: 2}, rng)
	h, err := work(context.Background(), heardBy(t, p.Record(scene, rng), synth.Rate), d, class, job, Options{Known: true}, false)
	if err != nil {
		t.Fatal(err)
	}
	return h, p
}

// TestALostPassageIsFound: a passage that is laid in a rest, where nothing of it is heard, is laid where it was
// sewn, and so are two beside one another.
func TestALostPassageIsFound(t *testing.T) {
	h, _ := sixRuns(t)
	by := roundsDrift[2]
	for _, lost := range [][]int{{2}, {2, 3}, {0}, {5}} {
		try := h.again()
		for _, k := range lost {
			l := try.laid[k]
			for i := range l.heard {
				l.heard[i] -= 1.9
			}
			l.liesAt = nil
		}
		if try = try.lay(by); try.earned > h.earned-10 {
			t.Fatalf("passages %v laid in a rest earn %.1f, %.1f where they were sewn", lost, try.earned, h.earned)
		}
		now := try.found(by)
		for k, l := range now.laid {
			if off := l.heard[20] - h.laid[k].heard[20]; math.Abs(off) > 0.003 {
				t.Errorf("passages %v lost: %d is laid %.3f s off", lost, k, off)
			}
		}
	}
}

// TestWhatIsNotHeardOfOneRunTells: of a recording of which as a whole enough is heard.
func TestWhatIsNotHeardOfOneRunTells(t *testing.T) {
	h := &hearing{curve: &Curve{n: 1 << 20, level: slices.Repeat([]uint8{100}, 1<<20)}}
	for k := range 30 {
		l := &laid{passage: &passage{}}
		for i := range 90 {
			gain := 1.0
			if k == 7 && i%5 > 0 || i%20 == 3 {
				gain = 0
			}
			l.at = append(l.at, 0.1*float64(i))
			l.number, l.heard, l.gain = append(l.number, i), append(l.heard, 10*float64(k)+0.1*float64(i)), append(l.gain, gain)
		}
		h.laid = append(h.laid, l)
	}
	if n := h.unheard(); n < mostUnheard || n > 90 {
		t.Errorf("of a run of 90 that is not heard, %d strokes are said not to be", n)
	}
	for i := range h.curve.level[70000:80000] { // the recorder left it out
		h.curve.level[70000+i] = 0
	}
	if n := h.unheard(); n != 0 {
		t.Errorf("where the recorder left them out, %d strokes are said not to be heard", n)
	}
}

// TestALookThatFindsNoWayChangesNothing: what is laid stays of the score that it was laid by.
func TestALookThatFindsNoWayChangesNothing(t *testing.T) {
	h, _ := sixRuns(t)
	h.play([]halt{{passage: 2, last: 24, next: 25, from: 100, to: 120}})
	h.score = h.law.score(h.design)
	was := h.score
	h.rhythm = &rhythm{every: coarseEvery, n: 2, e: make([]float32, 2*gridSize)}
	if h.look() || h.score != was {
		t.Error("a recording of 0.2 s was laid, or the score is another")
	}
}

// TestAWrongBeginningIsLeft: from a beginning with a stroke more at another soft speed, which earns less, the
// search comes to the machine's own.
func TestAWrongBeginningIsLeft(t *testing.T) {
	h, _ := sixRuns(t)
	c := h.cut()
	own := way{law: h.law}
	own.weigh(h, c, 0, true)
	h.opt.Known = false
	h.law = h.law.clone()
	s := &h.law.sheet.Shaft
	s.SoftStartStitches, s.SoftStartSpeed, s.CreepSpeed = s.SoftStartStitches+1, 408, 208
	h.told = &told{tried: map[beside]bool{}}
	h.fitted, h.prior = h.terms(), nil
	for _, t := range h.fitted {
		h.prior = append(h.prior, t.get(&own.law))
	}
	if found := h.ways(c)[0]; found.sum < own.sum-2 {
		t.Errorf("%.1f clear strokes are earned by %+v, the machine's own earns %.1f", found.sum, found.law.sheet.Shaft, own.sum)
	}
	// By another frame the search goes on from what was found, and not again from everywhere.
	h.law = h.law.clone()
	h.law.sheet.Frame.AccelX *= 1.2
	h.relay()
	other := h.cut()
	if other.alike(h.told.by) || !other.sameEnds(h.told.by) {
		t.Fatal("the ends are not the same but for the frame")
	}
	if found := h.ways(other)[0]; found.sum < own.sum-2 {
		t.Errorf("by another frame %.1f clear strokes are earned, %.1f before", found.sum, own.sum)
	}
}

// TestTheFrameIsSoughtWhereLeastIsHeard: few runs of a long design may tell a constant.
func TestTheFrameIsSoughtWhereLeastIsHeard(t *testing.T) {
	h := &hearing{}
	for k := range 60 {
		l := &laid{passage: &passage{at: make([]float64, 100)}, score: 70}
		if k == 17 || k == 43 {
			l.score = 10
		}
		h.laid = append(h.laid, l)
	}
	some := h.climbSample()
	strokes := 100 * len(some)
	if !slices.Contains(some, 17) || !slices.Contains(some, 43) || strokes > climbStrokes+300 || len(some) < 6 {
		t.Errorf("sought in passages %v", some)
	}
}

// TestHowLongALongDesignTakesIsKnownFromAPart: by laws far from the one that it was read by.
func TestHowLongALongDesignTakesIsKnownFromAPart(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	d := synth.Design(12000, rand.New(rand.NewPCG(3, 14)))
	l := law{sheet: class, job: clock.Job{Speed: 900}, phase: 0.7}
	s := search{hearing: &hearing{law: l, sheet: class}}
	full := l.score(d)
	s.sample(full)
	for _, times := range []float64{0.3, 1, 2} {
		other := l.changed(times, times, 2*times, 1)
		want := s.rests
		for _, p := range full.by(other).passages {
			want += p.total
		}
		if got := s.least(other); math.Abs(got/want-1) > 0.08 {
			t.Errorf("at %v times the speed the design takes %.1f s, reckoned %.1f", times, want, got)
		}
	}
}

// TestEachSignRefuses: a recording is trusted where all signs are good.
func TestEachSignRefuses(t *testing.T) {
	good := signs{clear: 0.99, earned: 0.7, explained: 0.8, rhythm: 0.7, earns: 0.8, earnsOn: 0.8, strokes: 1000}
	with := func(change func(*signs)) signs {
		s := good
		change(&s)
		return s
	}
	for _, c := range []struct {
		what  string
		signs signs
		known bool
		want  error
	}{
		{"all is good", good, false, nil},
		{"no rhythm", with(func(s *signs) { s.still = true }), false, NoMachine},
		{"a minute in an hour", with(func(s *signs) { s.rhythm = 0.01 }), false, nil},
		{"the way earns little", with(func(s *signs) { s.earns, s.clear = 0.29, 0.97 }), false, NotThis},
		{"the way earns little of what goes on as a machine does", with(func(s *signs) { s.earnsOn = 0.29 }), false, NotThis},
		{"the way earns next to nothing, the law is known", with(func(s *signs) { s.earns = 0.14 }), true, NotThis},
		{"the way earns little, the law is known", with(func(s *signs) { s.earns = 0.17 }), true, nil},
		{"seven stops", with(func(s *signs) { s.halts = 7 }), false, nil},
		{"eight stops", with(func(s *signs) { s.halts = 8 }), false, NotThis},
		{"few strokes are clear", with(func(s *signs) { s.clear = 0.94 }), false, NotThis},
		{"a run is not heard", with(func(s *signs) { s.unheard = 61 }), false, NotThis},
		{"strokes earn little", with(func(s *signs) { s.earned = 0.29 }), false, NotThis},
		{"strokes run ahead", with(func(s *signs) { s.drift = 0.31 }), false, NotThis},
		{"strokes run ahead, and many are sewn again", with(func(s *signs) { s.drift, s.resewn = 0.05, 4 }), false, NotThis},
		{"many are sewn again", with(func(s *signs) { s.drift, s.resewn = 0.04, 4 }), false, nil},
		{"either stroke of a turn may be the stitch's, all is clear", with(func(s *signs) { s.unsure, s.clear = true, 0.999 }), false, nil},
		{"the same, and not all is", with(func(s *signs) { s.unsure, s.clear = true, 0.98 }), false, NotThis},
		{"others in the place of seven", with(func(s *signs) { s.others = 7 }), false, nil},
		{"others in the place of eight", with(func(s *signs) { s.others = 8 }), false, NotThis},
		{"a run is laid where it is not heard", with(func(s *signs) { s.deaf = 22 }), false, NotThis},
		{"the last twenty of a run are sewn again", with(func(s *signs) { s.doubled = 20 }), false, nil},
		{"a run is sewn twice", with(func(s *signs) { s.doubled = 21 }), false, NotThis},
		{"something else sews", with(func(s *signs) { s.left, s.clear = 0.03, 0.97 }), false, NotThis},
		{"people talk, all is clear", with(func(s *signs) { s.left, s.earns = 0.4, 0.05 }), false, nil},
		{"people talk, and strokes run ahead a little", with(func(s *signs) { s.left, s.drift = 0.12, 0.03 }), false, NotThis},
		{"two runs in one", with(func(s *signs) { s.left, s.leftOn = 0.5, 0.1 }), false, NotThis},
		{"the same beside a machine that is known", with(func(s *signs) { s.left = 0.5 }), true, nil},
		{"something sews beside it, not all clear", with(func(s *signs) { s.left, s.clear = 0.03, 0.97 }), true, NotThis},
		{"the same, a little ahead", with(func(s *signs) { s.left, s.drift = 0.5, 0.04 }), true, nil},
		{"the same, ahead", with(func(s *signs) { s.left, s.drift = 0.03, 0.06 }), true, NotThis},
		{"most of the rhythm is another's", with(func(s *signs) { s.clear, s.explained = 0.9, 0.4 }), false, TooCrowded},
	} {
		if got := c.signs.refused(c.known); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
	for _, c := range []struct {
		pressed int
		mute    float64
		want    bool
	}{{0, 0, false}, {0, 1. / 6, false}, {0, 0.6, true}, {1, 0, true}} {
		if got := with(func(s *signs) { s.pressed, s.mute = c.pressed, c.mute }).another(); got != c.want {
			t.Errorf("of %d rests that are none and %.0f %% of the ends mute another machine is said to sew: %v", c.pressed, 100*c.mute, got)
		}
	}
}
