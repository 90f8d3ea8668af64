package book

import (
	"math"
	"slices"
	"testing"
	"time"

	"needlepace/words"
)

// A plan that wants its days met with 90 %: who is late, who is at risk, who is
// neither, and that what reads as 90 % is no risk.
func TestWhoIsLateAndWhoIsAtRisk(t *testing.T) {
	p := &Plan{Chance: .9, Ends: []LineEnd{
		{Name: "sure", OnTime: .99}, {Name: "as wanted", OnTime: .9}, {Name: "reads as wanted", OnTime: .895},
		{Name: "at risk", OnTime: .8949}, {Name: "late", OnTime: .2, Late: 1}, {Name: "late, no chance", OnTime: 0, Late: 7200},
		{Name: "never", OnTime: 0}, {Name: "no day", OnTime: -1}, {Name: "late, not simulated", OnTime: -1, Late: 60},
	}}
	want := map[string]Risk{"at risk": AtRisk, "never": AtRisk, "late": IsLate, "late, no chance": IsLate, "late, not simulated": IsLate}
	for i := range p.Ends {
		if e := &p.Ends[i]; p.Risk(e) != want[e.Name] {
			t.Errorf("%s: risk %q, want %q", e.Name, p.Risk(e), want[e.Name])
		}
	}
	var names []string
	for _, e := range p.Watch() {
		names = append(names, e.Name)
	}
	if want := []string{"late, not simulated", "late, no chance", "never", "late", "at risk"}; !slices.Equal(names, want) {
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
	// The smallest chance counts, wherever it stands; none where none is known.
	for _, c := range []struct {
		chances []float64
		want    float64
	}{{[]float64{-1, .7}, .7}, {[]float64{-1, .7, .4}, .4}, {[]float64{.4, .7}, .4}, {[]float64{.4, 0}, 0},
		{[]float64{0, .4}, 0}, {[]float64{-1, -1}, -1}} {
		q := &Plan{}
		for i, chance := range c.chances {
			q.Ends = append(q.Ends, LineEnd{OrderID: "a", Line: i + 1, OnTime: chance})
		}
		if e, _ := q.OrderEnd("a"); e.OnTime != c.want {
			t.Errorf("lines with chances %v make one of %v", c.chances, e.OnTime)
		}
	}
	if _, ok := p.OrderEnd("c"); ok {
		t.Error("an order that is not planned has an end")
	}
	o := &Order{ID: "a", Lines: []OrderLine{{Line: 1, Quantity: 3}, {Line: 2, Quantity: 4}, {Line: 3, Quantity: 5}}}
	if day, ok := p.DayOf(o); !ok || day != words.NewDay(2026, 3, 8) {
		t.Errorf("the day to promise is %s, %v", day, ok)
	}
	first := &Plan{Ends: []LineEnd{{OrderID: "a", Line: 1, Day: words.NewDay(2026, 3, 9)}, p.Ends[2], p.Ends[3]}}
	if day, ok := first.DayOf(o); !ok || day != words.NewDay(2026, 3, 9) {
		t.Errorf("the plan's first line is the last to be done, and the day is %s, %v", day, ok)
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

// A plan is given back as it was kept: in seconds from its beginning, with every
// lot on its machine, and a job without a day due never.
func TestAKeptPlanComesBackAsItWas(t *testing.T) {
	begin := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	at := func(s int) time.Time { return begin.Add(time.Duration(s) * time.Second) }
	p := &Plan{
		From: begin, PlanTotals: PlanTotals{Late: 1, LateHours: 2.5},
		Machines: []PlanMachine{{ID: "m1", Name: "Gannet"}, {ID: "m2", Name: "Skipper", Open: []Span{{at(0), at(28800)}}}},
		Jobs: []PlannedJob{{ID: "a/1", Quantity: 5, Due: NoDue}, {ID: "b/1", Quantity: 7, Due: 3600, Weight: 2, Release: 60},
			{ID: "c/1", Due: -90}},
		Lots: []PlanLot{{Job: "b/1", MachineID: "m2", Quantity: 7, Runs: 2, SetupFrom: at(60), From: at(120), To: at(3720), Setup: 60, Work: 3600},
			{Job: "gone", MachineID: "m2"}, {Job: "a/1", MachineID: "sold"}},
	}
	got := p.AsPlan()
	if s := got.Schedule; s.Late != 1 || s.Lateness != 9000 || len(s.Lots) != 1 {
		t.Fatalf("the schedule is %+v", s)
	}
	l := got.Schedule.Lots[0]
	if l.Job != 1 || l.Machine != 1 || l.Quantity != 7 || l.Runs != 2 || l.SetupFrom != 60 || l.From != 120 || l.To != 3720 || l.Setup != 60 ||
		l.Work != 3600 {
		t.Errorf("the lot is %+v", l)
	}
	if w := got.Problem.Machines[1].Windows; len(w) != 1 || w[0].From != 0 || w[0].To != 28800 || w[0].Rate != 1 {
		t.Errorf("Skipper is open %+v", w)
	}
	for i, due := range []float64{math.Inf(1), 3600, -90} {
		if j := got.Problem.Jobs[i]; j.Due != due {
			t.Errorf("%s is due at %v, was kept for %v", j.ID, j.Due, due)
		}
	}
}
