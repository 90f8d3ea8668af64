package audit

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// TestStopCostsAreThoseOfTheWholeDesign puts groups together at random and
// clocks the whole design before and after each.
func TestStopCostsAreThoseOfTheWholeDesign(t *testing.T) {
	rng := rand.New(rand.NewPCG(81, 82))
	ways := map[string]int{}
	for n := range 400 {
		sheet := machine.Classes()[n%len(machine.Classes())].Clone()
		sheet.Travel.ReturnToStart = rng.IntN(2) == 0
		if rng.IntN(3) == 0 {
			sheet.Travel.Mode = machine.ShaftTravel
		}
		s := &sketch{}
		for k := range 4 + rng.IntN(12) {
			for range 1 + rng.IntN(2) {
				if k > 0 {
					s.op(stitch.ColourStop)
				}
				if rng.IntN(8) > 0 {
					break
				}
			}
			for range 1 + rng.IntN(3) {
				s.dash(rng.IntN(600), rng.IntN(600), 1+rng.IntN(30))
			}
		}
		job := clock.Job{}
		if rng.IntN(2) == 0 {
			for range Blocks(s.design()) - rng.IntN(2) {
				job.Needles = append(job.Needles, rng.IntN(10))
			}
		}
		v := surveyOf(t, s.design(), sheet, job)
		groups, cost := v.groups(), newStopCost(v)
		for len(groups) > 2 {
			b := rng.IntN(len(groups) - 1)
			c := b + 1 + rng.IntN(len(groups)-b-1)
			at := []int{b, c}[rng.IntN(2)]
			if c == b+1 {
				at = b
				ways["neighbours"]++
			}
			if v.l.fixed(v.in(groups[c])[0], build{}) {
				break // two stops: they stay
			}
			before := v.secondsOf(v.arrange(groups))
			saved := cost.saved(groups, b, c, at)
			next := v.merge(append([]group(nil), groups...), b, c, at)
			if want := before - v.secondsOf(v.arrange(next)); math.Abs(saved-want) > 1e-6 {
				t.Fatalf("design %d on %s, needles %v: groups %d and %d of %d at %d save %.6f s, on the whole design %.6f s",
					n, sheet.Name, job.Needles, b, c, len(groups), at, saved, want)
			}
			if saved <= leastSaved {
				ways["nothing"]++
				break
			}
			if at == c && b == 0 || at == b && c == len(groups)-1 && c > b+1 {
				ways["ends"]++
			} else {
				ways["within"]++
			}
			groups = next
		}
	}
	for _, way := range []string{"neighbours", "ends", "within", "nothing"} {
		if ways[way] < 20 {
			t.Errorf("%q happened %d times: the test does not test it", way, ways[way])
		}
	}
}

func surveyOf(t *testing.T, d *stitch.Design, sheet *machine.Sheet, job clock.Job) *survey {
	t.Helper()
	l, err := lay(d.Records, sheet.Reading.TrimAfterJumps)
	if err != nil {
		t.Fatal(err)
	}
	v := &survey{ctx: context.Background(), d: d, l: l, sheet: sheet, job: job, clock: clock.New(sheet, job),
		threads: make([]int, l.blocks)}
	v.run = v.clock.Run(d)
	v.clip = feltOver(v.sheet, v.run.SetSpeed)
	return v
}
