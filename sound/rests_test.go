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
	"needlepace/stitch"
)

// runs is a design of so many runs of 50 stitches, with trims between.
func runs(n int) *stitch.Design {
	d := &stitch.Design{}
	for run := range n {
		if run > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.Trim}, stitch.Record{DX: 90, DY: 40, Op: stitch.Jump})
		}
		for i := range 50 {
			d.Records = append(d.Records, stitch.Record{DX: int16(20 - 10*(run%2)), DY: int16(6 * (i % 3)), Op: stitch.Sew})
		}
	}
	return d
}

// TestBreaksBesideARunsEndAreHeard: what is sewn between a stop and the trim is so little that only
// the length of the rest speaks for it.
func TestBreaksBesideARunsEndAreHeard(t *testing.T) {
	class, _ := machine.Class("multi-20")
	byHand := class.Clone()
	byHand.Needles = 1
	coloured := runs(6)
	for i := range coloured.Records {
		if coloured.Records[i].Op == stitch.Trim {
			coloured.Records[i].Op = stitch.ColourStop
		}
	}
	for _, c := range []struct {
		what  string
		stop  synth.Interruption
		d     *stitch.Design
		class *machine.Sheet
	}{
		{"a break after a run's last stitch", synth.Interruption{Stitch: 149, Back: 9, Seconds: 22}, runs(6), class},
		{"a pause three stitches before a run's end", synth.Interruption{Stitch: 146, Seconds: 25}, runs(6), class},
		{"a pause after a run's first five", synth.Interruption{Stitch: 104, Seconds: 9}, runs(6), class},
		{"a break whose stitches end the run", synth.Interruption{Stitch: 148, Back: 4, Seconds: 25}, runs(6), class},
		{"a pause after a run's first four, colours changed by hand", synth.Interruption{Stitch: 103, Seconds: 60}, coloured, byHand},
	} {
		rng := rand.New(rand.NewPCG(6, 14))
		d, class := c.d, c.class
		p := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 900}, Jitter: 0.0006, Phase: 1, RestSpread: 0.1, Lead: 2, Tail: 2,
			Interrupted: []synth.Interruption{c.stop}}, rng)
		scene := synth.Quiet
		scene.Noise = 20
		curve := heardBy(t, p.Record(scene, rng), synth.Rate)
		h, err := Hear(context.Background(), curve, d, class, clock.Job{Speed: 900}, Options{Known: true})
		if err != nil {
			t.Errorf("%s: %v", c.what, err)
			continue
		}
		t.Run(c.what, func(t *testing.T) { (&recorded{class, nil, clock.Job{}, d, p, curve}).holdsBreaks(t, h, false) })
	}
}

// TestNoRunIsMadeOfALongRestsNoise: colours changed by hand in a minute, 20 dB over noise. Without what stitches sewn
// again cost, 22 were heard of a rest that were none.
func TestNoRunIsMadeOfALongRestsNoise(t *testing.T) {
	for again, want := range map[int]float64{0: 0, 9: 0, 34: 24} {
		if got := resewn([]halt{{last: 60, next: 61 - again}}); got != want {
			t.Errorf("%d stitches sewn again cost %g, want %g", again, got, want)
		}
	}
	if testing.Short() {
		return
	}
	class, _ := machine.Class("multi-20")
	byHand := class.Clone()
	byHand.Needles = 1
	d := runs(8)
	for i := range d.Records {
		if d.Records[i].Op == stitch.Trim {
			d.Records[i].Op = stitch.ColourStop
		}
	}
	rng := rand.New(rand.NewPCG(1, 14))
	p := synth.Perform(d, byHand, synth.Script{Job: clock.Job{Speed: 700}, Jitter: 0.0006, Phase: 1, RestSpread: 0.1, Lead: 2, Tail: 2,
		Interrupted: []synth.Interruption{{Stitch: 120, Back: 3, Seconds: 40}}, Rest: func(kind string, s float64) float64 {
			if kind == "colour_stop" {
				return 60
			}
			return s
		}}, rng)
	scene := synth.Quiet
	scene.Noise = 20
	curve := heardBy(t, p.Record(scene, rng), synth.Rate)
	h, err := Hear(context.Background(), curve, d, byHand, clock.Job{Speed: 700}, Options{Known: true})
	if err != nil {
		t.Fatal(err)
	}
	(&recorded{byHand, nil, clock.Job{}, d, p, curve}).holdsBreaks(t, h, false)
}

// TestALongRestCosts: among rests of one kind, one that takes five times as long; not one that an
// operator may make as long as they like, nor among too few.
func TestALongRestCosts(t *testing.T) {
	class, _ := machine.Class("multi-20")
	hear := func(d *stitch.Design, s *machine.Sheet, kind Kind, rests ...float64) (cost float64, z []float64) {
		h := &hearing{law: law{sheet: s}}
		h.score = h.law.score(d)
		now := 2.0
		for k := range h.score.passages {
			p := &h.score.passages[k]
			if k > 0 {
				now += rests[(k-1)%len(rests)]
				h.score.rests[k].kind = kind
			}
			l := &laid{passage: p}
			for _, t := range p.at {
				l.heard = append(l.heard, now+t)
			}
			h.laid = append(h.laid, l)
			now += p.total
		}
		z = h.unusual()
		for _, v := range z {
			cost += restCost(v)
		}
		return cost, z
	}
	byHand := class.Clone()
	byHand.Needles = 1
	for _, c := range []struct {
		what  string
		kind  Kind
		on    *machine.Sheet
		rests []float64
		cost  float64
	}{
		{"rests alike", Trim, class, []float64{5, 5.5, 4.7, 5.1, 4.9}, 0},
		{"one of 30 s", Trim, class, []float64{5, 5.5, 30, 5.1, 4.9}, mostForRest},
		{"one of 0.5 s", Trim, class, []float64{5, 0.5, 5.5, 5.1, 4.9}, mostForRest},
		{"colour stops by hand", ColourStop, byHand, []float64{50, 60, 300, 55, 45}, 0},
		{"the same on a machine of more needles", ColourStop, class, []float64{50, 60, 300, 55, 45}, 0},
		{"one by hand on a machine that changes needles", ColourStop, class, []float64{5, 6, 30, 5.5, 4.5}, mostForRest},
	} {
		if cost, z := hear(runs(6), c.on, c.kind, c.rests...); math.Abs(cost-c.cost) > 0.3 {
			t.Errorf("%s: %.2f, want %.2f; %.2f standard deviations off", c.what, cost, c.cost, z)
		}
	}
}

// TestASilentStrokeCostsWhereMostAreClear: but not in noise, nor where the recorder left it out.
func TestASilentStrokeCostsWhereMostAreClear(t *testing.T) {
	h := &hearing{curve: &Curve{n: 20000, level: make([]uint8, 20000)}}
	for i := range h.curve.level {
		h.curve.level[i] = 100
	}
	l := &laid{passage: &passage{}}
	for i := range 200 {
		l.number, l.heard, l.gain = append(l.number, i), append(l.heard, 0.05*float64(i)), append(l.gain, 1)
	}
	h.laid = []*laid{l}
	l.gain[0], l.gain[1] = 0, 0
	h.curve.level[int(l.heard[1]/Step)] = 0
	if cost, n := h.silentCosts(), h.silent(l); cost != silentCost || n != 1 {
		t.Errorf("%d silent strokes cost %.2f each, want 1 that costs %.2f", n, cost, silentCost)
	}
	for i := 0; i < 200; i += 10 {
		l.gain[i] = 0.1
	}
	if cost := h.silentCosts(); cost != 0 {
		t.Errorf("where every tenth stroke is not clear, one costs %.2f", cost)
	}
	for i := 0; i < 200; i += 10 {
		h.curve.level[int(l.heard[i]/Step)] = 0
	}
	if cost := h.silentCosts(); cost != silentCost {
		t.Errorf("where the recorder left out every tenth stroke and all others are clear, a silent one costs %.2f, want %.2f", cost, silentCost)
	}
}

// TestSilentStrokesWidenWhatIsSaid: 14 strokes of one of four passages are silent in a recording that is clear; the
// numbers of no other are doubted, nor any where every tenth stroke is silent anyway. One that is silent alone is doubted, too.
func TestSilentStrokesWidenWhatIsSaid(t *testing.T) {
	h := &hearing{curve: &Curve{n: 1 << 16, level: slices.Repeat([]uint8{100}, 1<<16)}}
	for k := range 4 {
		l := &laid{passage: &passage{}}
		for i := range 300 {
			gain := 1.0
			if k == 2 && i >= 100 && i < 114 {
				gain = 0.1
			}
			l.at = append(l.at, 0.05*float64(i))
			l.number, l.heard, l.gain = append(l.number, i), append(l.heard, 15*float64(k)+l.at[i]), append(l.gain, gain)
		}
		h.laid = append(h.laid, l)
	}
	h.doubtSilent()
	for k, l := range h.laid {
		if k == 2 && (l.within < 9 || l.within > 14) || k != 2 && l.within > 0 {
			t.Errorf("passage %d: ± %d", k, l.within)
		}
	}
	for i := range h.laid[2].gain { // one alone: of another version the run may have a stitch less
		h.laid[2].within, h.laid[2].gain[i] = 0, 1
	}
	h.laid[2].gain[107] = 0
	if h.doubtSilent(); h.laid[2].within != 1 || h.laid[1].within != 0 {
		t.Errorf("± %d where one stroke of all is silent, ± %d in the next run, want 1 and 0", h.laid[2].within, h.laid[1].within)
	}
	for _, l := range h.laid {
		l.within = 0
		for i := 5; i < 300; i += 10 {
			l.gain[i] = 0
		}
	}
	if h.doubtSilent(); h.laid[2].within != 0 {
		t.Errorf("± %d where every tenth stroke is silent", h.laid[2].within)
	}
}

// TestARunIsMatchedWhereItLiesThoughKnocksHideItsBeginning: what a machine does at rest may sound like the first strokes.
func TestARunIsMatchedWhereItLiesThoughKnocksHideItsBeginning(t *testing.T) {
	h, p := sixRuns(t)
	l := h.laid[3]
	begins := p.Runs[3][0]
	if at := h.match(l, 0, alike, []float64{begins - 4, begins + 0.1}, false); math.Abs(at-begins) > 0.02 {
		t.Errorf("it begins at %.3f s, it was %.3f", at, begins)
	}
}

// TestASlowCreepIsSoughtInOneGo: at another creep the runs' last strokes are laid where nothing is heard, and
// no small step earns anything. All numbers of a recording were one off, and no ± was said.
func TestASlowCreepIsSoughtInOneGo(t *testing.T) {
	class, _ := machine.Class("multi-12")
	slow := class.Clone()
	slow.Shaft.CreepSpeed, slow.Shaft.AccelDown = 36, 6.3
	h, _ := sixRunsOn(t, slow, 1, synth.Quiet)
	c := h.cut()
	own := way{law: h.law}
	own.weigh(h, c, 0, true)
	h.opt.Known = false
	off := way{law: h.law.clone()}
	off.law.sheet.Shaft.CreepSpeed = 52
	for _, step := range []float64{0.03, 0.015, 0.007} {
		h.sharpenBy(&off, c, true, step)
	}
	if off.sum < own.sum-2 {
		t.Errorf("sought from a creep of 52/min: %.1f clear strokes at %.1f/min, the machine's own 36 earns %.1f", off.sum, off.law.sheet.Shaft.CreepSpeed, own.sum)
	}
}

// TestARiseIsSoughtAlongItsTime: from another soft speed with as long a rise one pair of constants leads
// back; one constant alone puts all soft strokes elsewhere. A wrong way to begin had put all numbers off by one.
func TestARiseIsSoughtAlongItsTime(t *testing.T) {
	class, _ := machine.Class("multi-12")
	rng := rand.New(rand.NewPCG(9, 14))
	d := runs(6)
	job := clock.Job{Speed: 640}
	p := synth.Perform(d, class, synth.Script{Job: job, Jitter: 0.0006, Phase: 1, RestSpread: 0.1, Lead: 2, Tail: 2}, rng)
	h, err := work(context.Background(), heardBy(t, p.Record(synth.Quiet, rng), synth.Rate), d, class, job, Options{Known: true}, false)
	if err != nil {
		t.Fatal(err)
	}
	c := h.cut()
	at := way{law: h.law}
	at.weigh(h, c, 0, false)
	off := way{law: h.law.clone()}
	off.law.sheet.Shaft.SoftStartSpeed *= math.Exp(-0.09)
	off.law.sheet.Shaft.AccelUp *= math.Exp(0.09)
	for _, step := range []float64{0.06, 0.03, 0.015, 0.007} {
		h.sharpenBy(&off, c, false, step)
	}
	if off.sum < at.sum-2 {
		t.Errorf("sought from a soft speed 9 %% lower: %.1f clear strokes, it was %.1f", off.sum, at.sum)
	}
}

// TestColoursChangedByHandAreHeard: between the colours of a machine of one needle people change the thread, handle things and talk. Beside so
// much else that sounds what sews was too little of it, and the recording was refused.
func TestColoursChangedByHandAreHeard(t *testing.T) {
	class, _ := machine.Class("home-1")
	rng := rand.New(rand.NewPCG(3, 15))
	d := runs(5)
	for i := range d.Records {
		if d.Records[i].Op == stitch.Trim {
			d.Records[i].Op = stitch.ColourStop
		}
	}
	took := []float64{180, 25, 60, 140}
	stop := -1
	p := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 700}, Jitter: 0.0006, Phase: 0.5, Lead: 2, Tail: 2,
		Rest: func(kind string, s float64) float64 {
			if kind != "colour_stop" || s < 4 { // the frame's way
				return s
			}
			stop++
			return took[stop]
		}}, rng)
	scene := synth.Quiet
	scene.Noise, scene.Hands = 20, 0.7
	curve := heardBy(t, p.Record(scene, rng), synth.Rate)
	h, err := Hear(context.Background(), curve, d, class, clock.Job{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	at, numbers, within := h.stitches()
	if j := p.Judge(at, numbers, within, nil); j.Near < 0.985 || j.Said < 0.97 {
		t.Errorf("%.4f of the stitches within 5 ms, %.4f with their number or what is said of it", j.Near, j.Said)
	}
	if len(h.Events) != len(took) {
		t.Fatalf("%d events, there were %d", len(h.Events), len(took))
	}
	for i, e := range h.Events {
		if e.Kind != ColourStop || math.Abs(e.End-e.Start-(p.Happenings[i].End-p.Happenings[i].Start)) > 0.2 {
			t.Errorf("event %d is a %v of %.1f s, it was a change of colour in %.0f s", i, e.Kind, e.End-e.Start, took[i])
		}
	}
}

// TestAMinuteOfSewingInAnHourIsAMachine: what goes on as a machine does counts by how long it takes beside the design, not beside the recording.
func TestAMinuteOfSewingInAnHourIsAMachine(t *testing.T) {
	class, _ := machine.Class("home-1") // 800/min: 750 stitches take 56 s at the least
	for _, c := range []struct {
		what     string
		row, gap int // frames of a tenth of a second that have a rhythm, and that have none after
		jumps    int // places on the grid from one to the next
		seconds  float64
		still    bool
	}{
		{"a minute in an hour, run by run", 50, 2950, 0, 3600, false},
		{"five seconds in an hour", 50, 36000, 0, 3600, true},
		{"as much as a minute, by tenths of a second", 1, 59, 0, 3600, true},
		{"a minute, at speeds that jump", 50, 2950, 20, 3600, true},
		{"five seconds in a minute", 5, 55, 0, 60, false},
		{"nothing", 0, 10, 0, 3600, true},
	} {
		h := &hearing{whole: runs(15), sheet: class, rhythm: &rhythm{every: 0.1, n: int(c.seconds / 0.1)}}
		h.rhythm.e = make([]float32, h.rhythm.n*gridSize)
		for f := range h.rhythm.n {
			if f%(c.row+c.gap) < c.row {
				h.rhythm.at(f)[60+c.jumps*(f%3)] = 0.8
			}
		}
		if h.still() != c.still {
			t.Errorf("%s: taken for still: %v", c.what, !c.still)
		}
	}
}

// TestKnocksMakeNoBreak: in a rest with many knocks a few may follow one another as strokes do; fewer in a quiet rest, and a piece of many strokes, are sewn.
func TestKnocksMakeNoBreak(t *testing.T) {
	for _, c := range []struct {
		strokes, knocks, needles int
		cost                     float64
	}{{4, 4, 1, 0}, {4, 100, 1, 3.4}, {20, 100, 1, 0}, {4, 100, 9, 0}} { // ln(100/10) / (2/3)
		h := &hearing{o: make([]float32, 120000), score: &score{rests: slices.Repeat([]rest{{kind: ColourStop}}, 3)},
			law: law{sheet: &machine.Sheet{Needles: c.needles}}}
		lay := func(from float64, n int) {
			l := &laid{passage: &passage{}}
			for i := range n {
				l.at, l.heard, l.gain = append(l.at, 0.1*float64(i)), append(l.heard, from+0.1*float64(i)), append(l.gain, 1)
				h.o[int(math.Round(l.heard[i]/Step))] = 1
			}
			h.laid = append(h.laid, l)
		}
		lay(1, 50)
		lay(40, c.strokes)
		lay(110, 50)
		for k := range c.knocks {
			h.o[50000+500*k] = 1
		}
		h.halted, h.after = []halt{{}}, []int{2}
		if got := h.knocked(); math.Abs(got-c.cost) > 0.1 {
			t.Errorf("%d needles: a piece of %d strokes in a rest of %d knocks costs %.2f, want %.2f", c.needles, c.strokes, c.knocks, got, c.cost)
		}
	}
}
