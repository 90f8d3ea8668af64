package sound

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// recorded is one run and how it sounds.
type recorded struct {
	class  *machine.Sheet
	true   *machine.Sheet
	job    clock.Job
	design *stitch.Design
	run    *synth.Performance
	curve  *Curve
}

// record draws a machine of a class and records a run of a drawn design.
func record(t *testing.T, class string, seed uint64, script synth.Script, scene synth.Scene) *recorded {
	t.Helper()
	c, ok := machine.Class(class)
	if !ok {
		t.Fatal(class)
	}
	rng := rand.New(rand.NewPCG(seed, 14))
	s := zoo.Sheet(c, rng)
	script.Job.Speed = min((0.6+0.4*rng.Float64())*c.MaxSpeed, s.MaxSpeed)
	script.Jitter, script.Phase, script.RestSpread, script.Lead, script.Tail = 0.0006, 0.5, 0.1, 2+2*rng.Float64(), 2
	d := synth.Design(700, rng)
	p := synth.Perform(d, s, script, rng)
	return &recorded{c, s, script.Job, d, p, heardBy(t, p.Record(scene, rng), synth.Rate)}
}

func heardBy(t *testing.T, samples []float64, rate int) *Curve {
	t.Helper()
	l, err := NewListener(rate)
	if err != nil {
		t.Fatal(err)
	}
	l.Hear(samples)
	return l.Curve()
}

func hear(t *testing.T, r *recorded) *Heard {
	t.Helper()
	h, err := Hear(context.Background(), r.curve, r.design, r.class, clock.Job{}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// TestStitchesAreHeardToFiveMilliseconds holds recordings of drawn machines to
// what each scene allows; the study (docs/listening.md) has many more.
func TestStitchesAreHeardToFiveMilliseconds(t *testing.T) {
	noisy, hall, loud, soft := synth.Quiet, synth.Quiet, synth.Quiet, synth.Quiet
	noisy.Noise = 10
	hall.Noise, hall.Hall = 20, 0.8
	loud.Noise, loud.Speech, loud.Gain, loud.Clip = 20, 3, true, true
	soft.Noise, soft.Codec = 25, true
	for _, c := range []struct {
		name         string
		class        string
		scene        synth.Scene
		seed         uint64
		near, number float64 // least shares of the stitches
	}{
		{"quiet", "single-15-1200", synth.Quiet, 1, 0.985, 0.97},
		{"10 dB of noise", "compact-8", noisy, 3, 0.985, 0.97},
		{"hall", "single-15-1200", hall, 11, 0.97, 0.92},
		{"speech, gain and clipping", "multi-6", loud, 5, 0.97, 0.92},
		{"codec", "home-1", soft, 6, 0.97, 0.92},
	} {
		if testing.Short() && (c.name == "hall" || c.name == "codec") {
			continue
		}
		r := record(t, c.class, c.seed, synth.Script{}, c.scene)
		h := hear(t, r)
		at, numbers, within := h.stitches()
		j := r.run.Judge(at, numbers, within, nil)
		near, number, speed := j.Near, j.Number, j.Speed
		if near < c.near || number < c.number || !(speed < 0.0025) {
			t.Errorf("%s: %.4f of the stitches within 5 ms, %.4f with their number, speed %.4f off; at least %.3f and %.2f",
				c.name, near, number, speed, c.near, c.number)
		}
		if len(h.Runs) != len(r.run.Runs) || len(h.Events) != len(r.run.Happenings) {
			t.Fatalf("%s: %d runs and %d events, %d and %d were", c.name, len(h.Runs), len(h.Events), len(r.run.Runs),
				len(r.run.Happenings))
		}
		for i, run := range h.Runs {
			if d := run.Start - r.run.Runs[i][0]; math.Abs(d) > 0.3 {
				t.Errorf("%s: run %d begins %.2f s off", c.name, i, d)
			}
			if d := run.End - r.run.Runs[i][1]; math.Abs(d) > 0.3 {
				t.Errorf("%s: run %d ends %.2f s off", c.name, i, d)
			}
		}
		holdToErrors(t, c.name, r, h)
		for i, e := range h.Events {
			if want := r.run.Happenings[i].Kind; e.Kind.String() != want {
				t.Errorf("%s: event %d is a %v, it was a %s", c.name, i, e.Kind, want)
			}
		}
	}
}

// TestBreaksAreHeard: the machine stops where the design does not; some stitches are
// sewn again, or none.
func TestBreaksAreHeard(t *testing.T) {
	scene := synth.Quiet
	scene.Noise = 20
	r := record(t, "single-15-1200", 21, synth.Script{Interrupted: []synth.Interruption{{Stitch: 330, Back: 6, Seconds: 25},
		{Stitch: 520, Seconds: 5}}}, scene)
	r.holdsBreaks(t, hear(t, r), false)
}

// TestABreakInAShortRunIsHeard: on a machine with long rests, where half a run that
// stops earns the way through the design less than a stop costs it.
func TestABreakInAShortRunIsHeard(t *testing.T) {
	class, _ := machine.Class("multi-20")
	rng := rand.New(rand.NewPCG(5, 14))
	d := &stitch.Design{}
	for run := range 5 {
		if run > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.Trim}, stitch.Record{DX: 90, DY: 40, Op: stitch.Jump})
		}
		for i := range 50 {
			d.Records = append(d.Records, stitch.Record{DX: int16(20 - 10*(run%2)), DY: int16(6 * (i % 3)), Op: stitch.Sew})
		}
	}
	p := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 930}, Jitter: 0.0006, Phase: 1, RestSpread: 0.1, Lead: 2, Tail: 2,
		Interrupted: []synth.Interruption{{Stitch: 70, Back: 7, Seconds: 9}}}, rng)
	scene := synth.Quiet
	scene.Noise = 20
	curve := heardBy(t, p.Record(scene, rng), synth.Rate)
	h, err := Hear(context.Background(), curve, d, class, clock.Job{Speed: 930}, Options{Known: true})
	if err != nil {
		t.Fatal(err)
	}
	(&recorded{class, nil, clock.Job{}, d, p, curve}).holdsBreaks(t, h, true)
}

// TestWhatIsHeardBeyondARunsEndTells: on a machine that starts and slows softly a stroke more or
// less at every run's end is as likely by the law; where what is heard just before a run's
// first stroke and after its last told nothing (blurred.beyond), this recording was refused.
func TestWhatIsHeardBeyondARunsEndTells(t *testing.T) {
	class, _ := machine.Class("multi-20")
	rng := rand.New(rand.NewPCG(7, 14))
	s := zoo.Sheet(class, rng)
	job := clock.Job{Speed: min((0.6+0.4*rng.Float64())*class.MaxSpeed, s.MaxSpeed)}
	d := synth.Design(250, rng)
	p := synth.Perform(d, s, synth.Script{Job: job, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 2, Tail: 2,
		Interrupted: []synth.Interruption{{Stitch: 130, Back: 3, Seconds: 6}}}, rng)
	scene := synth.Quiet
	scene.Noise = 20
	r := &recorded{class, nil, clock.Job{}, d, p, heardBy(t, p.Record(scene, rng), synth.Rate)}
	r.holdsBreaks(t, hear(t, r), false)
}

// holdsBreaks holds the breaks and pauses that were heard, and the runs, to those that were; kinds: also
// which of them were breaks.
func (r *recorded) holdsBreaks(t *testing.T, h *Heard, kinds bool) {
	t.Helper()
	var was []synth.Happening
	for _, e := range r.run.Happenings {
		if e.Kind == "break" || e.Kind == "pause" {
			was = append(was, e)
		}
	}
	for _, e := range h.Events {
		if e.Kind != Break && e.Kind != Pause {
			continue
		}
		i := slices.IndexFunc(was, func(w synth.Happening) bool {
			return math.Abs(e.Start-w.Start) < 0.1 && math.Abs(e.End-w.End) < 0.1
		})
		if i < 0 {
			t.Errorf("a %v from %.2f to %.2f s, there was none; were %v", e.Kind, e.Start, e.End, was)
			continue
		}
		// Between two stops of one run of like stitches nothing tells which of them had stitches sewn again.
		if kinds && was[i].Kind != e.Kind.String() {
			t.Errorf("a %v at %.2f s, it was a %s", e.Kind, e.Start, was[i].Kind)
		}
		was = slices.Delete(was, i, i+1)
	}
	if len(was) > 0 {
		t.Errorf("not heard: %v", was)
	}
	if len(h.Runs) != len(r.run.Runs) {
		t.Fatalf("%d runs, %d were", len(h.Runs), len(r.run.Runs))
	}
	for i, run := range h.Runs {
		if a, z := run.Start-r.run.Runs[i][0], run.End-r.run.Runs[i][1]; math.Abs(a) > 0.1 || math.Abs(z) > 0.1 {
			t.Errorf("run %d begins %.2f s off and ends %.2f s off", i, a, z)
		}
	}
}

// TestALagOfTheShaftIsHeard: where the shaft follows its cap with a lag that the sheet does
// not know, the strokes would run ahead of the law and the recording be refused.
func TestALagOfTheShaftIsHeard(t *testing.T) {
	class, _ := machine.Class("compact-10-light")
	rng := rand.New(rand.NewPCG(3, 14))
	s := zoo.Sheet(class, rng)
	s.Shaft.Lag = 0.25
	d := synth.Design(500, rng)
	job := clock.Job{Speed: 0.9 * s.MaxSpeed}
	p := synth.Perform(d, s, synth.Script{Job: job, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 2, Tail: 2}, rng)
	h, err := Hear(context.Background(), heardBy(t, p.Record(synth.Quiet, rng), synth.Rate), d, class, job, Options{})
	if err != nil {
		t.Fatal(err)
	}
	at, numbers, within := h.stitches()
	if j := p.Judge(at, numbers, within, nil); j.Near < 0.985 || j.Said < 0.97 || math.Abs(h.Sheet.Shaft.Lag-0.25) > 0.06 {
		t.Errorf("%.4f of the stitches within 5 ms, %.4f with their number or what is said of it, a lag of %.2f s", j.Near, j.Said, h.Sheet.Shaft.Lag)
	}
}

// TestTheStitchsStrokeIsToldFromItsTwin: of two equal strokes in a revolution the one with
// which runs begin is the stitch's.
func TestTheStitchsStrokeIsToldFromItsTwin(t *testing.T) {
	scene := synth.Quiet
	scene.Noise, scene.Second, scene.SecondAt = 20, 1, 0.4
	r := record(t, "compact-8", 8, synth.Script{}, scene)
	h := hear(t, r)
	at, numbers, within := h.stitches()
	j := r.run.Judge(at, numbers, within, nil)
	if j.Near < 0.97 || j.Said < 0.92 {
		t.Errorf("%.4f of the stitches within 5 ms, %.4f with their number or what is said of it", j.Near, j.Said)
	}
	n, counted := r.design.Count().Stitches, 0
	for _, run := range h.Runs {
		counted += run.Counted
	}
	if counted > n || counted < n*95/100 || len(at) != n || math.Abs(h.Speed/r.job.Speed-1) > 0.005 {
		t.Errorf("of %d stitches %d are heard, %d counted, at %.1f/min where %.1f was set", n, len(at), counted, h.Speed, r.job.Speed)
	}
}

// TestTwoEvenStrokesARevolutionAreHeard: half a revolution apart they sound as one stroke of a
// machine twice as fast, and are laid on the design only as two.
func TestTwoEvenStrokesARevolutionAreHeard(t *testing.T) {
	scene := synth.Quiet
	scene.Noise, scene.Second, scene.SecondAt = 20, 1, 0.5
	r := record(t, "compact-8", 8, synth.Script{}, scene)
	if _, err := heard(context.Background(), r.curve, r.design, r.class, clock.Job{}, Options{}, false); err == nil {
		t.Error("laid on the design as one stroke a revolution")
	}
	laid, err := heard(context.Background(), r.curve, r.design, r.class, clock.Job{}, Options{}, true)
	if err != nil {
		t.Fatal(err)
	}
	h := laid.result()
	at, numbers, within := h.stitches()
	if j := r.run.Judge(at, numbers, within, nil); j.Said < 0.92 || math.Abs(h.Speed/r.job.Speed-1) > 0.005 {
		t.Errorf("%.4f of the stitches with their number or what is said of it, at %.1f/min where %.1f was set", j.Said, h.Speed, r.job.Speed)
	}
	if laid.unsure = true; laid.refuse() != NotThis {
		t.Error("believed though the runs' ends do not tell which of the two strokes is the stitch's")
	}
}

// TestWhatIsNotTheDesignIsRefused: silence, noise, speech and another design.
func TestWhatIsNotTheDesignIsRefused(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 1))
	class, _ := machine.Class("single-15-1200")
	d := synth.Design(700, rng)
	other := record(t, "single-15-1200", 32, synth.Script{}, synth.Quiet)
	noise := make([]float64, 120*synth.Rate)
	for i := range noise {
		noise[i] = 0.1 * rng.NormFloat64()
	}
	for _, c := range []struct {
		name  string
		curve *Curve
	}{
		{"silence", heardBy(t, make([]float64, 120*synth.Rate), synth.Rate)},
		{"noise", heardBy(t, noise, synth.Rate)},
		{"speech", heardBy(t, synth.Speech(120*synth.Rate, rng), synth.Rate)},
		{"another design", other.curve},
		{"two seconds", heardBy(t, noise[:2*synth.Rate], synth.Rate)},
		{"nothing", heardBy(t, nil, synth.Rate)},
	} {
		_, err := Hear(context.Background(), c.curve, d, class, clock.Job{}, Options{})
		var why Refused
		if !errors.As(err, &why) {
			t.Errorf("%s: %v, want a refusal", c.name, err)
		}
		if sews, still := c.name == "another design", c.curve.n > 10000; still && sews == (why == NoMachine) {
			t.Errorf("%s: refused as %v", c.name, why)
		}
	}
}

// TestAClickIsPlacedToAMillisecond: what begins sharply is found where it begins,
// at every rate.
func TestAClickIsPlacedToAMillisecond(t *testing.T) {
	for _, rate := range []int{8000, 16000, 22050, 44100, 48000, 96000, 192000} {
		x := make([]float64, 3*rate)
		var at []float64
		for k := range 20 {
			s := 0.3 + 0.1234*float64(k)
			at = append(at, s)
			for i := range rate / 100 {
				x[int(s*float64(rate))+i] += 0.5 * math.Exp(-float64(i)/float64(rate)/0.003) *
					math.Sin(2*math.Pi*2100*float64(i)/float64(rate))
			}
		}
		c := heardBy(t, x, rate)
		o := c.pulses(&evenBands)
		for _, s := range at {
			got, gain := pick(o, int(math.Round(s/Step)))
			if math.Abs(got-s) > 0.0016 || gain < 0.5 {
				t.Errorf("%d/s: a click at %.4f s is heard at %.4f, %.2f clear", rate, s, got, gain)
			}
		}
	}
}

func (h *Heard) stitches() (at []float64, number, within []int) {
	for _, s := range h.Strokes {
		at, number, within = append(at, s.At), append(number, s.Stitch), append(within, s.Within)
	}
	return at, number, within
}

// holdToErrors holds the times of stretches and rests to the errors that are said of them.
func holdToErrors(t *testing.T, name string, r *recorded, h *Heard) {
	t.Helper()
	var record, run []int // of each stitch
	at, was := 0, -1
	seconds := clock.New(r.true, r.job).Trace(r.design).Seconds
	for i, rec := range r.design.Records {
		if seconds[i] > 0 && was != i-1 {
			at = i // where its run begins
		}
		if seconds[i] > 0 {
			was = i
		}
		if rec.Op == stitch.Sew {
			record, run = append(record, i), append(run, at)
		}
	}
	inside, covered, stitches := 0, 0, 0
	for _, s := range h.Sewn {
		from, want := run[s.First], 0.0
		if s.First > 0 && run[s.First-1] == from {
			from = record[s.First-1] + 1
		}
		for i := from; i <= record[s.Last]; i++ {
			want += seconds[i]
		}
		switch off := math.Abs(s.Seconds - want); {
		case off > 6*s.Error+0.001*want:
			t.Errorf("%s: stitches %d to %d took %.4f s, heard %.4f ± %.4f", name, s.First, s.Last, want, s.Seconds, s.Error)
		case off < 1.645*math.Hypot(s.Error, 0.001*want):
			inside++
		}
		if s.Last-s.First >= leastStretch {
			covered += s.Last - s.First + 1
		}
	}
	for _, x := range h.Runs {
		stitches += x.Stitches
	}
	if n := len(h.Sewn); n == 0 || n > mostStretches+4*mostEnds || float64(inside) < 0.85*float64(n) || float64(covered) < 0.4*float64(stitches) {
		t.Errorf("%s: %d of %d stretches within their 90 %%, %d of %d stitches in the long ones", name, inside, n, covered, stitches)
	}
	if len(h.Rested) != len(r.run.Happenings) {
		t.Errorf("%s: %d rests, there were %d", name, len(h.Rested), len(r.run.Happenings))
		return
	}
	for i, x := range h.Rested {
		w := r.run.Happenings[i]
		if off := math.Abs(x.Seconds - (w.End - w.Start)); off > 5*math.Hypot(x.Error, x.Doubt) || x.Kind.String() != w.Kind {
			t.Errorf("%s: a %v of %.3f s heard as a %v of %.3f ± %.3f", name, w.Kind, w.End-w.Start, x.Kind, x.Seconds, x.Error)
		}
		if last := x.After; last+1 < len(run) && run[last] == run[last+1] {
			t.Errorf("%s: stitch %d is not the last of its run", name, last)
		}
	}
}
