package sound

import (
	"math"
	"slices"
	"testing"

	"needlepace/machine"
	"needlepace/sound/synth"
)

// strokes is a curve of clear strokes, as many a second, for so many seconds; with a second one as
// loud after a part of each revolution, where that is not 0.
func strokes(perSecond, second, seconds float64) []float32 {
	o := make([]float32, int(seconds/Step))
	for t := 0.5; t < seconds-0.5; t += 1 / perSecond {
		o[int(t/Step)] = 1
		if second > 0 {
			o[int((t+second/perSecond)/Step)] = 1
		}
	}
	return o
}

// A machine that strikes twice in each revolution is counted by its revolutions: not at double
// the speed, and none at half of it.
func TestTwoStrokesARevolutionAreOneTurn(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	for _, c := range []struct{ perMinute, second float64 }{{900, 0}, {900, 0.4}, {600, 0.35}, {480, 0.4}, {1150, 0.3}} {
		speed := c.perMinute / 60
		o := strokes(speed, c.second, 8)
		r := rhythmOf(o, coarseEvery)
		near := func(v float64) (most float32) {
			if v < gridSpeed(0) || v > gridSpeed(gridSize-1) {
				return 0
			}
			k := gridIndex(v)
			return slices.Max(r.at(r.n / 2)[max(0, k-1):min(gridSize, k+2)])
		}
		own := near(speed)
		for _, times := range []float64{0.5, 2} {
			if other := near(times * speed); own < 0.3 || other > own*0.75 {
				t.Errorf("%v/min, a second stroke after %v of a revolution: evidence %.2f, at %v times the speed %.2f", c.perMinute, c.second, own, times, other)
			}
		}
	}
	// What is heard most clearly may be every stroke of two, or every second one: both are tried.
	h := &hearing{law: law{sheet: class}}
	for _, c := range []struct{ clearest, set float64 }{{480, 480}, {960, 480}, {450, 900}} {
		r := rhythmOf(strokes(c.clearest/60, 0, 8), coarseEvery)
		if tried := h.speeds(r, 0.045); !slices.ContainsFunc(tried, func(v float64) bool { return math.Abs(v/c.set-1) < 0.045 }) {
			t.Errorf("where %v strokes a minute are heard, a set speed of %v is not among those tried: %.0f", c.clearest, c.set, tried)
		}
	}
}

// Where only one rhythm is heard, its half and its double are tried as set speeds, too.
func TestHalfAndDoubleOfWhatIsHeardAreTried(t *testing.T) {
	class, _ := machine.Class("single-15-1200")
	h := &hearing{law: law{sheet: class}}
	heard := gridIndex(450. / 60)
	r := &rhythm{every: 0.1, n: 20, e: make([]float32, 20*gridSize)}
	for f := range r.n {
		r.at(f)[heard] = 0.8
	}
	tried := h.speeds(r, 0.045)
	for _, times := range []float64{1, 2} {
		v := times * gridSpeed(heard) * 60
		if !slices.ContainsFunc(tried, func(have float64) bool { return math.Abs(have/v-1) < 0.01 }) {
			t.Errorf("%.0f/min is not tried where %.0f is heard, but %.0f", v, gridSpeed(heard)*60, tried)
		}
	}
	heard = gridIndex(1000. / 60)
	r = &rhythm{every: 0.1, n: 20, e: make([]float32, 20*gridSize)}
	for f := range r.n {
		r.at(f)[heard] = 0.8
	}
	if tried := h.speeds(r, 0.045); !slices.ContainsFunc(tried, func(have float64) bool { return math.Abs(have/gridSpeed(heard)/30-1) < 0.01 }) {
		t.Errorf("half of %.0f/min is not tried, but %.0f", gridSpeed(heard)*60, tried)
	}
}

// TestOnWhichStrokeIsTold: a machine strikes twice a revolution. A run begins with the stitch's stroke and ends with the other of its last
// revolution, so laid on the other strokes it has one before it and none after it, whatever knocks at rest beyond that. Where one run lies on
// the strokes that it begins with and the other on those between, their ends do not tell which are the stitches'.
func TestOnWhichStrokeIsTold(t *testing.T) {
	const turn, second, runs = 0.1, 0.04, 2
	for _, c := range []struct {
		lies   [runs]float64 // s after the strokes that the runs begin with
		knocks []float64     // s before each run's first stroke
		unsure bool
		moves  float64 // s
	}{
		{[runs]float64{0, 0}, nil, false, 0},
		{[runs]float64{second, second}, nil, false, -second},
		{[runs]float64{0, second}, nil, true, 0},
		{[runs]float64{0, 0}, []float64{0.36}, false, 0},
		{[runs]float64{second, second}, []float64{0.36}, false, -second},
		{[runs]float64{0, 0}, []float64{0.15}, false, 0},
		{[runs]float64{0, 0}, []float64{0.06}, true, 0},
		{[runs]float64{0, 0}, []float64{0.045}, false, 0}, // sooner than a shaft that rises strikes
		{[runs]float64{second, second}, []float64{0.045}, false, -second},
	} {
		var knocks []float64
		var all []*laid
		for k, lies := range c.lies {
			from := 5 + 20*float64(k)
			for i := range 100 {
				knocks = append(knocks, from+float64(i)*turn, from+float64(i)*turn+second)
			}
			for _, t := range c.knocks {
				knocks = append(knocks, from-t)
			}
			all = append(all, laidEvenly(100, from+lies, turn, nil, func(int) bool { return false }).laid[0])
		}
		h := laidEvenly(1, 0, turn, knocks, func(int) bool { return true })
		h.laid = all
		was := all[0].heard[50]
		h.untwin()
		if h.unsure != c.unsure {
			t.Errorf("runs that lie %v s after the strokes that they begin with, a knock %v s before: which is the stitch's is not told: %v", c.lies, c.knocks, h.unsure)
		}
		if by := all[0].heard[50] - was; !c.unsure && math.Abs(by-c.moves) > 0.002 {
			t.Errorf("runs that lie %v s after the strokes that they begin with, a knock %v s before: laid %.3f s later, want %.3f", c.lies, c.knocks, by, c.moves)
		}
	}
}

// TestRunsOnTheOtherStrokeBeginAnew: by a law in which runs begin with the stitch's stroke and go on with the other, named one too high, what
// lies between is silent.
func TestRunsOnTheOtherStrokeBeginAnew(t *testing.T) {
	class, _ := machine.Class("multi-12")
	scene := synth.Quiet
	scene.Second, scene.SecondAt = 1, 0.42
	h, _ := sixRunsOn(t, class, 1, scene)
	by := roundsDrift[2]
	other := h.unknown()
	other.law.phase = 0.42
	other.relay()
	for k, l := range other.laid {
		own := h.laid[k]
		for i := 1; i < len(l.heard); i++ { // the other stroke of the turn before
			l.heard[i], l.gain[i] = pick(h.o, int((own.heard[i-1]+0.42*(own.heard[i]-own.heard[i-1]))/Step+0.5))
		}
	}
	other = other.lay(by)
	silent := other.silentAll()
	if own, unsure := other.ownStrokes(); own >= 0 || unsure || silent < len(other.laid) {
		t.Fatalf("by the runs' ends %d say that they lie on the stitch's stroke, unsure: %v; %d strokes of %d runs are silent", own, unsure, silent, len(other.laid))
	}
	for k, l := range other.retwinned(by).laid {
		for _, i := range []int{0, 1, 2, 3, 20, len(l.heard) - 1} {
			if off := l.heard[i] - h.laid[k].heard[i]; math.Abs(off) > 0.003 {
				t.Errorf("stroke %d of run %d is heard %.3f s off", i, k, off)
			}
		}
	}
	if h = h.unknown(); h.retwinned(by) != h {
		t.Error("runs that lie on the stitch's stroke are sought on the other")
	}
}
