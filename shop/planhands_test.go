package shop_test

import (
	"math"
	"testing"

	"needlepace/shop"
)

// One operator fewer matters where the machines ask for more than are left,
// and only there; Plan.Hands tells where that is.
func TestOneOperatorFewerMattersWhereTheyAreAskedFor(t *testing.T) {
	b := fresh(t)
	// Short runs: the hands are at the machines most of the time.
	b.order(t, "ostrel-light.dst", 300, "2026-03-09", shop.Agreed)
	b.order(t, "gull-cap.dst", 300, "2026-03-09", shop.Agreed)
	b.order(t, "crew-names.dst", 100, "2026-03-09", shop.Agreed)
	try := func(more float64) *shop.PlanAnswer {
		t.Helper()
		a, err := b.TryPlan(bg, shop.PlanQuestion{Seed: 1, Moves: 3000, NoBound: true, Operators: more})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	fewer, more := try(-1), try(1)
	hands := fewer.Plan.Hands
	if !(hands > 1 && hands < 2) || more.Plan.Hands != hands {
		t.Fatalf("the machines ask for %v operators: this test wants more than one and fewer than the demo's two", hands)
	}
	was, is := fewer.Before.Done.Sub(fewer.Before.From), fewer.Plan.Done.Sub(fewer.Plan.From)
	if is <= was {
		t.Errorf("with one of two operators all is sewn after %v, with two after %v", is, was)
	}
	// Of the hours its machine is open, a lot takes more than at full pace, and at
	// most as many times more as the operators are short (fewer machines ask for
	// them while one is down).
	open := func(p *shop.Plan, l *shop.PlanLot) (hours float64) {
		for _, m := range p.Machines {
			for _, o := range m.Open {
				if m.ID == l.MachineID {
					from, to := max(o.From.Unix(), l.From.Unix()), min(o.To.Unix(), l.To.Unix())
					hours += float64(max(to-from, 0))
				}
			}
		}
		return hours
	}
	for i := range fewer.Plan.Lots {
		if l := &fewer.Plan.Lots[i]; open(fewer.Plan, l) < 1.02*l.Work || open(fewer.Plan, l) > 1.01*hands*l.Work {
			t.Errorf("%s on %s: %v s at full pace, %v s with one operator where %v are asked for", l.Name, l.Machine, l.Work, open(fewer.Plan, l), hands)
		}
	}
	for i := range fewer.Before.Lots {
		if l := &fewer.Before.Lots[i]; math.Abs(open(fewer.Before, l)-l.Work) > 2 {
			t.Errorf("%s on %s: %v s at full pace, %v s with two operators", l.Name, l.Machine, l.Work, open(fewer.Before, l))
		}
	}
	if !more.Plan.Done.Equal(more.Before.Done) {
		t.Errorf("a third operator whom nobody asks for moves the end from %v to %v", more.Before.Done, more.Plan.Done)
	}
}
