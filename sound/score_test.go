package sound

import (
	"math/rand/v2"
	"reflect"
	"slices"
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
	lone := func(s *score) *score { s.room = nil; return s } // where its times lie is not what they are
	for range 20 {
		l := given.clone()
		s := zoo.Sheet(class, rng)
		l.sheet.Shaft, l.sheet.Frame = s.Shaft, s.Frame
		l.job.Speed, l.phase = 500+400*rng.Float64(), 0.3+0.7*rng.Float64()
		if got, want := lone(sc.by(l)), l.score(d); !reflect.DeepEqual(got, want) {
			t.Fatalf("by another law a score is %+v\nread anew %+v", got, want)
		}
		l.sheet.Frame, l.job.Speed = given.sheet.Frame, given.job.Speed // its tables are shared
		if got, want := lone(sc.by(l)), l.score(d); !reflect.DeepEqual(got, want) {
			t.Fatalf("by another shaft a score is %+v\nread anew %+v", got, want)
		}
	}
}

// TestARoomThatIsGivenBackIsUsedAnew: scores that are looked at once tell the same in a room that another has left.
func TestARoomThatIsGivenBackIsUsedAnew(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 44))
	class, _ := machine.Class("multi-6")
	given := law{sheet: class, job: clock.Job{Speed: 700}, phase: 0.5}
	long, short := given.score(synth.Design(900, rng)), given.score(synth.Design(200, rng))
	for k := range 6 {
		sc := []*score{long, short}[k%2]
		l := given.clone()
		l.job.Speed = 500 + 50*float64(k)
		got, want := sc.near(l, 30, k%3 == 0), l.score(sc.design)
		for i := range got.passages {
			if a, b := got.passages[i].turn, want.passages[i].turn; !slices.Equal(a, b) {
				t.Fatalf("passage %d takes %v, read anew %v", i, a, b)
			}
		}
		got.done()
		// By the same turns the needle strikes elsewhere; by other turns not.
		for _, other := range []func(*law){func(l *law) { l.phase = 0.9 }, func(l *law) { l.sheet.Shaft.CreepSpeed *= 1.5 }, func(l *law) { l.sheet.Frame.AccelY /= 2 }} {
			other(&l)
			got, want = sc.near(l, 30, k%3 == 0), l.score(sc.design)
			for i := range got.passages {
				n := len(want.passages[i].at)
				from, to := 0, min(30, n)
				if k%3 == 0 {
					from, to = n-to, n
				}
				a, b := got.passages[i], want.passages[i]
				if !slices.Equal(a.turn, b.turn) || from == 0 && !slices.Equal(a.at[:to], b.at[:to]) {
					t.Fatalf("law %d: passage %d takes %v and strikes at %v, read anew %v and %v", k, i, a.turn, a.at[from:to], b.turn, b.at[from:to])
				}
			}
			got.done()
		}
	}
}

// TestNumbersAreAsSureAsWhatIsHeard: evidence for one shift leaves no doubt; none
// leaves some; two ways to begin that earn alike leave the difference between them.
func TestNumbersAreAsSureAsWhatIsHeard(t *testing.T) {
	heard := func(shift int, earns float64) *way {
		r := readings{by: make([][2*mostShift + 1]float64, 1)}
		r.by[0][shift+mostShift] = earns
		return &way{shift: shift, begins: r, ends: r}
	}
	both := heard(0, 9).offBy(0)
	for d, v := range heard(2, 9).offBy(0) {
		both[d] += v / 2
	}
	clear, none, other := heard(0, 9).offBy(0), heard(0, 0).offBy(0), heard(-2, 9).offBy(0)
	for name, c := range map[string]struct {
		off  offBy
		want int
	}{
		"heard clearly": {clear, 0}, "nothing heard": {none, 1}, "heard two before": {other, 2}, "either": {both, 2},
		"as likely at the farthest looked at": {offBy{0.27, 0.32, 0.23, 0.18}, 5}, "seldom as far": {offBy{0.19, 0.23, 0.51, 0.07}, 3}, "not read": {offBy{0, 0, 0, 1}, 3},
		"nineteen in twenty": {offBy{0.951, 0.049}, 0}, "nine in ten": {offBy{0.9, 0.1}, 1},
	} {
		if got := within(c.off[:]); got != c.want {
			t.Errorf("%s: ± %d, want %d (%v)", name, got, c.want, c.off)
		}
	}
}
