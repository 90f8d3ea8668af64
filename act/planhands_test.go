package act_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// One operator fewer matters where the machines ask for more than are left,
// and only there; Plan.Hands tells where that is. (One alone loads alone, and asks
// for fewer hands at a time.)
func TestOneOperatorFewerMattersWhereTheyAreAskedFor(t *testing.T) {
	b := fresh(t)
	// Short runs: the hands are at the machines most of the time.
	b.order(t, "ostrel-light.dst", 300, "2026-03-09", book.Agreed)
	b.order(t, "gull-cap.dst", 300, "2026-03-09", book.Agreed)
	b.order(t, "crew-names.dst", 100, "2026-03-09", book.Agreed)
	try := func(more float64) *ask.PlanAnswer {
		t.Helper()
		a, err := b.TryPlan(bg, ask.PlanQuestion{Seed: 1, Moves: 3000, NoBound: true, Operators: more})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	fewer, more := try(-1), try(1)
	hands := fewer.Plan.Hands
	if !(hands > 1 && hands < 2) || more.Plan.Hands != more.Before.Hands {
		t.Fatalf("the machines ask for %v operators: this test wants more than one and fewer than the demo's two", hands)
	}
	was, is := fewer.Before.Done.Sub(fewer.Before.From), fewer.Plan.Done.Sub(fewer.Plan.From)
	if is <= was {
		t.Errorf("with one of two operators all is sewn after %v, with two after %v", is, was)
	}
	// Of the hours its machine is open, a lot takes more than at full pace, and at
	// most as many times more as the operators are short (fewer machines ask for
	// them while one is down).
	open := func(p *book.Plan, l *book.PlanLot) (hours float64) {
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

// What stands in the way of a move by hand is said: the hoop, the frame, the
// needles or a hold.
func TestWhyAJobCannotBeMovedThere(t *testing.T) {
	b := fresh(t)
	b.workshop(t, "field = [500, 350]", "field = [120, 120]")
	big := b.order(t, "harbour-jacket-back.dst", 5, "", book.Agreed)
	held := b.order(t, "ostrel-light.dst", 20, "", book.Agreed)
	from := time.Date(2027, 3, 4, 9, 30, 0, 0, time.UTC)
	if _, err := b.HoldLine(bg, held.ID, 1, b.m["Gannet"], from, ""); err != nil {
		t.Fatal(err)
	}
	past, err := b.Orders.History(bg, held.ID)
	if err != nil {
		t.Fatal(err)
	}
	zone, err := b.Setups.Zone(bg)
	if err != nil {
		t.Fatal(err)
	}
	if want := "held on Gannet from " + zone.Moment(from).Text(&words.Writer{Zone: zone}); !slices.ContainsFunc(past, func(c book.Change) bool { return strings.HasSuffix(c.What, want) }) {
		t.Errorf("the history does not say %q: %+v", want, past)
	}
	caps, _, err := b.AddOrder(bg, book.Order{Customer: "Pilots", State: book.Agreed, Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs["gull-cap.dst"], Quantity: 9, LineGoods: book.LineGoods{CapFrame: true}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	few, ok := machine.Class("compact-8")
	if !ok {
		t.Fatal("no class compact-8")
	}
	few.Name, few.Needles = "Six Needles", 6
	m, err := b.Machines.Add(bg, string(few.TOML()), "", "")
	if err != nil {
		t.Fatal(err)
	}
	b.m[m.Name] = m.ID
	names := make([]string, 8)
	for i := range names {
		names[i] = fmt.Sprint("colour ", i)
	}
	many, _, err := b.AddOrder(bg, book.Order{Customer: "Ferry", State: book.Agreed, Weight: 1, Lines: []book.OrderLine{{DesignID: b.designs["larkess-ferry.dst"], Quantity: 2, Threads: names}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	for _, c := range []struct {
		what, order, to, words string
	}{
		{"hoop", big.ID, "Gannet", "cannot be made on Gannet: the design is 242.0 × 279.2 mm, its field 120.0 × 120.0 mm"},
		{"needles", many.ID, "Six Needles", "cannot be made on Six Needles: 8 thread colours on 6 needles"},
		{"frame", caps.ID, "Six Sisters", "cannot be made on Six Sisters: it has no cap frame"},
		{"hold", held.ID, "Six Sisters", "is held on Gannet by hand: release it"},
	} {
		_, err := b.MoveCost(bg, c.order, 1, "", b.m[c.to], -1)
		if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: %v", c.what, err)
		}
	}
}
