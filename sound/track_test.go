package sound

import (
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/clock"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// sung is a run that is heard second by second.
type sung struct {
	class  *machine.Sheet
	design *stitch.Design
	run    *synth.Performance
	sound  []float64
	set    float64
}

func sing(t *testing.T, class string, stitches int, seed uint64, scene synth.Scene, beside bool) *sung {
	t.Helper()
	c, ok := machine.Class(class)
	if !ok {
		t.Fatal(class)
	}
	rng := rand.New(rand.NewPCG(seed, 15))
	s := &sung{class: c, design: synth.Design(stitches, rng)}
	perform := func(d *stitch.Design) (*synth.Performance, float64) {
		m := zoo.Sheet(c, rng)
		script := synth.Script{Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 3, Tail: 2}
		script.Job.Speed = min((0.6+0.4*rng.Float64())*c.MaxSpeed, m.MaxSpeed)
		return synth.Perform(d, m, script, rng), script.Job.Speed
	}
	s.run, s.set = perform(s.design)
	if beside {
		scene.Other, _ = perform(synth.Design(stitches, rng))
	}
	s.sound = s.run.Record(scene, rng)
	return s
}

// follow hears a run a second at a time.
func (s *sung) follow(t *testing.T, speed float64, each func(second float64, w Whereabouts)) *Tracker {
	t.Helper()
	tr, err := NewTracker(synth.Rate, s.design, s.class, clock.Job{Speed: speed})
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(s.sound); i += synth.Rate {
		end := min(i+synth.Rate, len(s.sound))
		tr.Hear(s.sound[i:end])
		each(float64(end)/synth.Rate, tr.Where())
	}
	return tr
}

// at is the last stitch sewn by a time.
func (s *sung) at(second float64) int {
	last := -1
	for _, k := range s.run.Strokes {
		if k.At <= second && k.Stitch >= 0 {
			last = k.Stitch
		}
	}
	return last
}

// TestARunIsFollowedWhileItSews: on machines that the sheet does not know, with
// noise, the stitch that is believed is near the one sewn.
func TestARunIsFollowedWhileItSews(t *testing.T) {
	scene := synth.Quiet
	scene.Noise = 15
	for _, c := range []struct {
		class string
		seed  uint64
		known bool // the set speed is given
		near  int  // stitches
	}{
		{"compact-8", 1, true, 15}, {"single-15-1200", 4, false, 35}, {"home-1", 7, false, 25}, {"multi-6", 10, true, 150},
	} {
		s := sing(t, c.class, 1500, c.seed, scene, false)
		speed := 0.0
		if c.known {
			speed = s.set
		}
		all, off, worst, standing := 0, 0, 0, 0
		tr := s.follow(t, speed, func(second float64, w Whereabouts) {
			is := s.at(second - 0.45)
			d := w.Stitch - is
			if d < 0 {
				d = -d
			}
			worst = max(worst, d)
			if d > 12 {
				off++
			}
			all++
			if is < 0 && w.Sewing && w.Stitch > 5 {
				standing++
			}
		})
		w := tr.Where()
		if worst > c.near || 10*off > all || standing > 0 || !w.Done {
			t.Errorf("%s, seed %d: %d of %d seconds more than 12 stitches off, the worst %d; done %v, sewing before it began in %d",
				c.class, c.seed, off, all, worst, w.Done, standing)
		}
		if math.Abs(w.SetSpeed/s.set-1) > 0.03 {
			t.Errorf("%s: set to %.0f, heard %.0f", c.class, s.set, w.SetSpeed)
		}
		if got := tr.Curve().Seconds(); math.Abs(got-float64(len(s.sound))/synth.Rate) > 0.02 {
			t.Errorf("%s: %.2f s of sound make a curve of %.2f s", c.class, float64(len(s.sound))/synth.Rate, got)
		}
	}
}

// TestTheSignalSaysWhatIsWrong: what a person beside the machine can put right.
func TestTheSignalSaysWhatIsWrong(t *testing.T) {
	count := func(s *sung) map[Signal]float64 {
		n, out := 0.0, map[Signal]float64{}
		s.follow(t, s.set, func(second float64, w Whereabouts) {
			if second > 8 {
				out[w.Signal]++
				n++
			}
		})
		for k := range out {
			out[k] /= n
		}
		return out
	}
	quiet := count(sing(t, "compact-8", 400, 5, synth.Quiet, false))
	if quiet[SignalGood] < 0.5 || quiet[SignalForeign]+quiet[SignalClipped]+quiet[SignalNone] > 0.03 {
		t.Errorf("a machine alone: %v", quiet)
	}
	beside := synth.Quiet
	beside.OtherDB = -3
	if got := count(sing(t, "compact-8", 400, 5, beside, true)); got[SignalForeign] < 0.1 {
		t.Errorf("a louder machine beside it: %v", got)
	}
	loud := synth.Quiet
	loud.Clip = true
	if got := count(sing(t, "compact-8", 400, 5, loud, false)); got[SignalClipped] < 0.3 {
		t.Errorf("too loud: %v", got)
	}
	none := sing(t, "compact-8", 200, 5, synth.Quiet, false)
	clear(none.sound)
	if got := count(none); got[SignalNone] < 1 {
		t.Errorf("silence: %v", got)
	}
	far := sing(t, "compact-8", 200, 5, synth.Quiet, false)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range far.sound { // only the room is heard
		far.sound[i] = 0.01 * rng.NormFloat64()
	}
	if got := count(far); got[SignalFaint] < 0.95 {
		t.Errorf("a room: %v", got)
	}
}
