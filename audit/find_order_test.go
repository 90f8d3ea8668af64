package audit

import (
	"context"
	"math/rand/v2"
	"testing"

	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// TestNoOrderSavesMoreThanItsBound looks for better orders of designs at random
// and clocks them: what one saves is never more than was said before the search.
func TestNoOrderSavesMoreThanItsBound(t *testing.T) {
	rng := rand.New(rand.NewPCG(91, 92))
	close := 0
	for n := range 300 {
		sheet := machine.Classes()[n%len(machine.Classes())].Clone()
		sheet.Travel.ReturnToStart = rng.IntN(2) == 0
		if rng.IntN(3) == 0 {
			sheet.Travel.Mode = machine.ShaftTravel
		}
		s := &sketch{}
		for k := range 1 + rng.IntN(4) {
			if k > 0 {
				s.op(stitch.ColourStop)
			}
			for range 1 + rng.IntN(6) {
				s.dash(rng.IntN(900), rng.IntN(900), 1+rng.IntN(30))
			}
		}
		v := surveyOf(t, s.design(), sheet, clock.Job{})
		if len(v.l.objects) < 3 {
			continue
		}
		v.touch = newGrid(v.l.threads()).touching(len(v.l.objects))
		p := v.byOrder()
		order, _, err := p.solve(context.Background(), sequence.Options{Rounds: 500})
		if err != nil {
			t.Fatal(err)
		}
		saved, most := v.run.Seconds-v.secondsOf(v.l.rebuild(order, p.threads, p.build)), v.mostByOrder()
		if saved > most+1e-9 {
			t.Fatalf("design %d on %s: an order saves %.6f s, and none more than %.6f s was said", n, sheet.Name, saved, most)
		}
		if saved > most/2 && saved > 0.5 {
			close++
		}
	}
	if close < 30 {
		t.Errorf("only %d of 300 bounds came within twice what was saved: such a bound leaves nothing out", close)
	}
}

// Of blocks of two threads in turn each thread comes back: no stop stands between two blocks of one thread.
func TestThreadsInTurnComeBackAndDoNotStandStill(t *testing.T) {
	s := &sketch{}
	for k := range 4 {
		s.dash(0, 300*k, 20)
		if k < 3 {
			s.op(stitch.ColourStop)
		}
	}
	r, err := Check(context.Background(), s.design(), class(t, "multi-6"), clock.Job{}, Options{Threads: []int{0, 1, 0, 1}})
	if err != nil {
		t.Fatal(err)
	}
	returns := 0
	for _, f := range r.Findings {
		switch f.Kind {
		case NoChange:
			t.Errorf("%s", f.What.Raw())
		case ThreadReturns:
			returns += f.Count
		}
	}
	if returns != 2 {
		t.Errorf("%d returns, want 2", returns)
	}
}
