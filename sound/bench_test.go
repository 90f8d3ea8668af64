package sound

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound/synth"
)

// BenchmarkHalfAnHour hears a run of 20,000 stitches of which only the class is known: the
// promise is ten seconds and 200 MB.
func BenchmarkHalfAnHour(b *testing.B) {
	class, _ := machine.Class("single-15-1200")
	rng := rand.New(rand.NewPCG(30, 14))
	s := zoo.Sheet(class, rng)
	d := synth.Design(20000, rng)
	scene := synth.Quiet
	scene.Noise = 20
	p := synth.Perform(d, s, synth.Script{Job: clock.Job{Speed: 0.8 * s.MaxSpeed}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 2, Tail: 2}, rng)
	samples := p.Record(scene, rng)
	b.ReportAllocs()
	for b.Loop() {
		l, err := NewListener(synth.Rate)
		if err != nil {
			b.Fatal(err)
		}
		for some := range slices.Chunk(samples, 4096) { // as a file is read
			l.Hear(some)
		}
		h, err := Hear(context.Background(), l.Curve(), d, class, clock.Job{}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(h.Seconds/60, "min-of-sound")
	}
}
