package act_test

import (
	"math"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// The thread to buy is that of the run sheets, spread over the days on which the
// lots are sewn.
func TestThreadToBuyIsThatOfTheRunSheets(t *testing.T) {
	b := fresh(t)
	list := func(days int) *ask.ThreadListAnswer {
		t.Helper()
		a, err := ask.ThreadList(bg, b.Asked(), ask.ThreadQuestion{Days: days})
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	if _, err := ask.ThreadList(bg, b.Asked(), ask.ThreadQuestion{}); shop.CodeOf(err) != shop.NotFound {
		t.Errorf("without a plan: %v", err)
	}
	b.sized(t)
	b.order(t, "ostrel-light.dst", 1200, "2026-03-20", book.Agreed)
	p := b.plan(t).Plan
	want, bobbin := map[string]float64{}, 0
	for _, l := range p.Lots {
		r, err := ask.RunSheet(bg, b.Asked(), ask.RunSheetQuestion{Now: b.at, Order: l.OrderID, Line: l.Line, Machine: l.MachineID,
			Quantity: l.Quantity, Colour: l.Colour})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range r.Colours {
			want[strings.ToLower(c.Thread)] += c.Metres
		}
		bobbin += r.Bobbins
	}
	a := list(0)
	if len(a.Threads) != len(want) {
		t.Errorf("%d threads, the run sheets have %d", len(a.Threads), len(want))
	}
	for _, x := range a.Threads {
		if w := want[strings.ToLower(x.Thread)]; math.Abs(x.Metres-w) > 1e-6*w {
			t.Errorf("%s: %v m, the run sheets have %v", x.Thread, x.Metres, w)
		}
	}
	if a.Bobbins < 1 || a.Bobbins > bobbin {
		t.Errorf("%d bobbins; the sheets, where every head begins with a full one, want %d", a.Bobbins, bobbin)
	}
	sum, bobbins := map[string]float64{}, 0
	for _, d := range a.Days {
		for _, x := range d.Threads {
			sum[x.Thread] += x.Metres
		}
		bobbins += d.Bobbins
	}
	for _, x := range a.Threads {
		if math.Abs(sum[x.Thread]-x.Metres) > 1e-6*x.Metres {
			t.Errorf("%s: the days have %v m, together %v", x.Thread, sum[x.Thread], x.Metres)
		}
	}
	if len(a.Days) < 2 || bobbins != a.Bobbins {
		t.Errorf("%d days with %d bobbins, together %d", len(a.Days), bobbins, a.Bobbins)
	}
	for _, d := range a.Days {
		if w := p.Zone.Day(p.From); d.Day.Before(w) || d.Day.Weekday() == 0 || d.Day.Weekday() == 6 {
			t.Errorf("thread on %s, on which nobody works", d.Day)
		}
	}
	one := list(1)
	if len(one.Days) != 1 || one.Days[0].Bobbin != a.Days[0].Bobbin || one.Threads[0].Metres >= a.Threads[0].Metres {
		t.Errorf("the first day alone: %+v", one)
	}
	if _, err := ask.ThreadList(bg, b.Asked(), ask.ThreadQuestion{Days: -1}); shop.CodeOf(err) != shop.Invalid {
		t.Errorf("-1 days: %v", err)
	}
}
