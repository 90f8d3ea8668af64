package book

import (
	"slices"
	"testing"
	"time"

	"needlepace/words"
)

// A plan that wants its days met with 90 %: who is late, who is at risk, who is
// neither, and that what reads as 90 % is no risk.
func TestWhoIsLateAndWhoIsAtRisk(t *testing.T) {
	p := &Plan{Chance: .9, Ends: []LineEnd{
		{Name: "sure", OnTime: .99}, {Name: "as wanted", OnTime: .9}, {Name: "reads as wanted", OnTime: .8951},
		{Name: "at risk", OnTime: .8949}, {Name: "late", OnTime: .2, Late: 1}, {Name: "late, no chance", OnTime: 0, Late: 7200},
		{Name: "no day", OnTime: -1}, {Name: "late, not simulated", OnTime: -1, Late: 60},
	}}
	want := map[string]Risk{"at risk": AtRisk, "late": IsLate, "late, no chance": IsLate, "late, not simulated": IsLate}
	for i := range p.Ends {
		if e := &p.Ends[i]; p.Risk(e) != want[e.Name] {
			t.Errorf("%s: risk %q, want %q", e.Name, p.Risk(e), want[e.Name])
		}
	}
	var names []string
	for _, e := range p.Watch() {
		names = append(names, e.Name)
	}
	if want := []string{"late, not simulated", "late, no chance", "late", "at risk"}; !slices.Equal(names, want) {
		t.Errorf("to watch are %q, want %q", names, want)
	}
}

func TestAnOrderIsDoneWithItsLastLine(t *testing.T) {
	at := func(day int) time.Time { return time.Date(2026, 3, day, 12, 0, 0, 0, time.UTC) }
	p := &Plan{Ends: []LineEnd{
		{OrderID: "a", Line: 1, End: at(5), Late: 30, OnTime: .7, Day: words.NewDay(2026, 3, 6), Quantity: 3},
		{OrderID: "b", Line: 1, End: at(9), Late: 90, OnTime: .1, Day: words.NewDay(2026, 3, 10), Quantity: 9},
		{OrderID: "a", Line: 2, End: at(4), Late: 60, OnTime: -1, Day: words.NewDay(2026, 3, 8), Quantity: 4},
		{OrderID: "a", Line: 3, End: at(6), Late: 10, OnTime: .6, Day: words.NewDay(2026, 3, 7), Quantity: 5},
	}}
	e, ok := p.OrderEnd("a")
	if !ok || !e.End.Equal(at(6)) || e.Late != 60 || e.OnTime != .6 || e.Day != words.NewDay(2026, 3, 8) || e.Quantity != 12 {
		t.Errorf("%+v, %v", e, ok)
	}
	if _, ok := p.OrderEnd("c"); ok {
		t.Error("an order that is not planned has an end")
	}
	o := &Order{ID: "a", Lines: []OrderLine{{Line: 1, Quantity: 3}, {Line: 2, Quantity: 4}, {Line: 3, Quantity: 5}}}
	if day, ok := p.DayOf(o); !ok || day != words.NewDay(2026, 3, 8) {
		t.Errorf("the day to promise is %s, %v", day, ok)
	}
	o.Lines = append(o.Lines, OrderLine{Line: 4, Quantity: 1})
	if _, ok := p.DayOf(o); ok {
		t.Error("a day is promised for an order with a line that is not planned")
	}
	o.Lines[3].Good = 1
	if day, ok := p.DayOf(o); !ok || day != words.NewDay(2026, 3, 8) {
		t.Errorf("with the fourth line sewn the day is %s, %v", day, ok)
	}
}
