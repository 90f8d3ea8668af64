package sound

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"needlepace/clock"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// TestAScoreByAnotherLawIsTheOneReadAnew: the same passages, strokes and rests, jumps
// that are sewn over and trims that cut nothing too.
func TestAScoreByAnotherLawIsTheOneReadAnew(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 44))
	d := synth.Design(400, rng)
	for _, op := range []stitch.Op{stitch.Jump, stitch.Sew, stitch.Trim, stitch.Trim, stitch.Sew, stitch.Stop, stitch.Sew} {
		d.Records = append(d.Records, stitch.Record{DX: 30, Op: op})
	}
	class, _ := machine.Class("multi-6")
	given := law{sheet: class, job: clock.Job{Speed: 700}, phase: 0.5}
	sc := given.score(d)
	for range 20 {
		l := given.clone()
		s := zoo.Sheet(class, rng)
		l.sheet.Shaft, l.sheet.Frame = s.Shaft, s.Frame
		l.job.Speed, l.phase = 500+400*rng.Float64(), 0.3+0.7*rng.Float64()
		if got, want := sc.by(l), l.score(d); !reflect.DeepEqual(got, want) {
			t.Fatalf("by another law a score is %+v\nread anew %+v", got, want)
		}
	}
}
