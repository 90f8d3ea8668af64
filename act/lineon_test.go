package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/book"
	"needlepace/words"
)

// Where somebody names an order and a machine, the line is told by what is on the machine, what is planned there and
// what is left to sew; else it is asked for, never guessed.
func TestTheLineOnAMachine(t *testing.T) {
	b := fresh(t)
	o := b.twoLines(t, "2026-03-20", book.Agreed, false)
	asks := -1
	is := func(what string, machine string, want int) {
		t.Helper()
		now, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		line, err := b.LineOn(bg, now, b.m[machine])
		if want == asks {
			if err == nil || !strings.Contains(err.Error(), "which line of order") || !strings.Contains(err.Error(), " and 2 (") {
				t.Errorf("%s: line %d, %v; it should ask", what, line, err)
			}
		} else if err != nil || line != want {
			t.Errorf("%s: line %d, %v; want %d", what, line, err, want)
		}
	}
	is("nothing is known", "Gannet", asks)
	if _, err := b.Start(bg, o.ID, 2, b.m["Gannet"], 0, "", ""); err != nil {
		t.Fatal(err)
	}
	is("line 2 is on it", "Gannet", 2)
	is("neither is on it", "Six Sisters", asks)
	if _, err := b.HoldLine(bg, o.ID, 1, b.m["Six Sisters"], b.at, ""); err != nil {
		t.Fatal(err)
	}
	b.plan(t)
	is("line 1 is planned on it", "Six Sisters", 1)
	now, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 2, MachineID: b.m["Gannet"], Good: now.Line(2).Quantity, Breaks: -1},
		act.Recording{}, ""); err != nil {
		t.Fatal(err)
	}
	is("line 1 alone is left", "Skipper", 1)
}

// Who presses start on one of several machines that sew a line by the plan takes what is planned there, not what the
// others have.
func TestALineThatTheMachinesShareIsStartedInParts(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "harbour-jacket-back.dst", 120, "2026-03-04", book.Agreed)
	p := b.plan(t).Plan
	planned := map[string]int{}
	for _, l := range p.Lots {
		planned[l.MachineID] += l.Quantity
	}
	if len(planned) < 2 {
		t.Fatalf("the plan does not part the line: %v", planned)
	}
	held := func(m string) int {
		now, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range now.Lines[0].Holds {
			if h.MachineID == m && h.Running {
				return h.Quantity
			}
		}
		return -1
	}
	first := ""
	for m, n := range planned {
		if _, err := b.Start(bg, o.ID, 1, m, 0, "", ""); err != nil {
			t.Fatal(err)
		}
		if got := held(m); got != n {
			t.Errorf("%d pieces are held on a machine that has %d by the plan", got, n)
		}
		first = m
	}
	b.at = b.at.Add(time.Hour)
	if _, err := b.Record(bg, book.Report{OrderID: o.ID, Line: 1, MachineID: first, Good: 6, Breaks: -1}, act.Recording{Off: true}, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Start(bg, o.ID, 1, first, 0, "", ""); err != nil {
		t.Fatal(err)
	}
	if got := held(first); got != planned[first]-6 {
		t.Errorf("after 6 pieces of %d, %d are held", planned[first], got)
	}
	if _, err := b.Start(bg, o.ID, 1, first, 10, "", ""); err != nil || held(first) != 10 {
		t.Errorf("10 pieces that were asked for: %d, %v", held(first), err)
	}
}

// Of a garment colour the part is what the plan has of that colour there.
func TestAColourThatTheMachinesShareIsStartedInParts(t *testing.T) {
	b := fresh(t)
	o, _, err := b.AddOrder(bg, book.Order{Customer: "C", Due: words.NewDay(2026, 3, 3), Weight: 1, State: book.Agreed, Lines: []book.OrderLine{{
		DesignID: b.designs["harbour-jacket-back.dst"], Quantity: 200,
		LinePieces: book.LinePieces{Sizes: []book.SizeRow{{Colour: "navy", Pieces: 110}, {Colour: "red", Pieces: 90}},
			GarmentThreads: []book.GarmentThreads{{Colour: "red", Threads: []string{"black"}}}}}}}, "")
	if err != nil {
		t.Fatal(err)
	}
	on, all, of := map[[2]string]int{}, map[string]int{}, map[string]int{}
	for _, l := range b.plan(t).Plan.Lots {
		on[[2]string{l.MachineID, l.Colour}] += l.Quantity
		all[l.MachineID] += l.Quantity
		of[l.Colour] += l.Quantity
	}
	told := false
	for at, n := range on {
		if n == of[at[1]] { // no other machine has some
			continue
		}
		if _, err := b.Start(bg, o.ID, 1, at[0], 0, at[1], ""); err != nil {
			t.Fatal(err)
		}
		now, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range now.Lines[0].Holds {
			if h.MachineID == at[0] && (h.Quantity != n || h.Colour != at[1]) {
				t.Errorf("%d pieces in %s are held, %d in %s are planned there", h.Quantity, h.Colour, n, at[1])
			}
		}
		told = told || all[at[0]] > n
	}
	if !told {
		t.Errorf("no machine has two colours of which others have some: %v", on)
	}
	// What is reported of the other colour is nothing of the part that is on the machine.
	now, err := b.Orders.Get(bg, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	part := now.Lines[0].Holds[0]
	other := map[string]string{"navy": "red", "red": "navy"}[part.Colour]
	for _, c := range []struct {
		colour string
		left   int
	}{{other, part.Quantity}, {part.Colour, part.Quantity - 3}} {
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: part.MachineID, Good: 3, Colour: c.colour, Breaks: -1}
		out, err := b.Record(bg, r, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, h := range out.Order.Lines[0].Holds {
			if h.MachineID == part.MachineID && h.Colour == part.Colour && h.Quantity != c.left {
				t.Errorf("3 in %s reported: %d in %s are held, want %d", c.colour, h.Quantity, h.Colour, c.left)
			}
		}
	}
}
