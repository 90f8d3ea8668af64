package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/machine"
	"needlepace/stitch"
)

// What stitches gathered by length cost is near what they cost one by one, along x, along y and with turns, on a machine
// that is not the one they were gathered for; and the short way without corrections is the long one.
func TestStitchesGatheredByLengthCostWhatTheyDo(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 1))
	for name, set := range map[string]func(*machine.Sheet){
		"plain":  func(*machine.Sheet) {},
		"turn":   func(s *machine.Sheet) { s.Frame.Turn = 0.6 },
		"settle": func(s *machine.Sheet) { s.Frame.Settle = 0.012 },
	} {
		for _, along := range [][2]int{{90, 3}, {3, 90}, {60, 60}} {
			d := &stitch.Design{}
			for k := range 4000 {
				way := 1
				if k%3 == 1 { // turns of every kind
					way = -1
				}
				d.Records = append(d.Records, stitch.Record{DX: int16(way * rng.IntN(along[0])), DY: int16(rng.IntN(along[1]))})
			}
			class, _ := machine.Class("single-15-1200")
			s, drawn := class.Clone(), class.Clone()
			set(s)
			set(drawn)
			drawn.Frame.AccelX, drawn.Frame.AccelY = 0.7*s.Frame.AccelX, 0.7*s.Frame.AccelY
			job := Job{}
			g := gather(d, s, job, Run(d, s, job))
			l := newCore(drawn, job)
			long, _ := g.seconds(l)
			if want := Run(d, drawn, job).Parts.LongStitches; math.Abs(long/want-1) > 0.03 || want < 5 {
				t.Errorf("%s, up to %d along x and %d along y: gathered %.2f s, one by one %.2f s", name, along[0], along[1], long, want)
			}
			whole := l
			whole.corrected = true // by nothing
			if a, b := g.long(l), g.long(whole); math.Abs(a-b) > 1e-12*b {
				t.Errorf("%s, up to %d along x and %d along y: %v s the short way, %v s the long one", name, along[0], along[1], a, b)
			}
		}
	}
}
