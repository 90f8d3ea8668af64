package ask

import (
	"strings"
	"testing"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// Days and times of day are by the shop's clocks, whatever the process's are.
func TestAPlanSaysWhatItComesTo(t *testing.T) {
	local := time.Local
	time.Local = time.FixedZone("far", 14*3600)
	t.Cleanup(func() { time.Local = local })
	zone, err := words.LoadZone("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	p := &book.Plan{
		Zone: zone, From: time.Date(2026, 7, 1, 6, 0, 0, 0, time.UTC), Complete: true,
		Machines: make([]book.PlanMachine, 3), Lots: make([]book.PlanLot, 2), Ends: make([]book.LineEnd, 1),
		PlanTotals: book.PlanTotals{Done: time.Date(2026, 7, 3, 15, 30, 0, 0, time.UTC)}, BoundHours: 0,
	}
	said := func() (out []string) {
		for _, m := range PlanOf(p).Say() {
			out = append(out, m.Text(nil))
		}
		return out
	}
	check := func(want ...string) {
		t.Helper()
		got := said()
		if len(got) != len(want) {
			t.Fatalf("said is %q, want %q", got, want)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("said is %q, want %q", got[i], want[i])
			}
		}
	}
	check("1 line on 3 machines, all sewn Fri 3 Jul, 16:30; none is late.")
	p.Late, p.LateHours, p.BoundHours, p.Gap = 2, 26.5, 20, .2453
	p.Ends, p.Assumed, p.Complete = make([]book.LineEnd, 4), true, false
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.",
		"No plan has fewer than 20 h late, counted by priority: a better one could save at most 25 % of them.",
		"Put in your working hours: until then they are assumed (Monday to Friday, 08:00 to 16:00, two operators).",
		"The search was stopped early; a longer one may find a better plan.")
	p.Gap, p.Assumed, p.Complete = 0, false, true
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.",
		"No plan has fewer late hours: this is proved.")
	p.Gap, p.BoundHours = .996, .02 // it would read: at most 100 % of no hours
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.")
	p.Gap, p.BoundHours = 1, 0
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.")
	p.BoundHours = -1
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.")
	// The latest is named; what is in time with a small chance after it.
	p.Ends[0].OnTime = 1
	p.Ends[1] = book.LineEnd{Name: "1004/2", Customer: "Pellsand", Late: 7200, End: time.Date(2026, 7, 2, 10, 0, 0, 0, time.UTC)}
	p.Ends[2] = book.LineEnd{Name: "1005", Customer: "Maud", Late: 26 * 3600, End: time.Date(2026, 7, 3, 15, 30, 0, 0, time.UTC)}
	p.Ends[3] = book.LineEnd{Name: "1006", Customer: "Maud", OnTime: .4}
	p.Chance = .9
	sum := "4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority."
	unsure := "The least sure is 1006 of Maud: in time by the plan, but only with a chance of 40 %."
	check("The line most late is 1005 of Maud: sewn Fri 3 Jul, 16:30, 26 h late.", unsure, sum)
	p.Late, p.Ends[2] = 1, book.LineEnd{OnTime: 1}
	check("1004/2 of Pellsand is late: sewn Thu 2 Jul, 11:00, 2.0 h late.", unsure, strings.Replace(sum, "2 lines", "1 line", 1))
	p.Lots, p.Ends = nil, nil
	check("Nothing is to be sewn; none is late.")
}

// What is in time by the plan at a small chance is told; what is late already is
// in the verdict. What is left out and what is otherwise than asked follow.
func TestAPlanSaysWhatToWatch(t *testing.T) {
	p := &book.Plan{
		Chance: .9, Lots: make([]book.PlanLot, 1),
		Ends: []book.LineEnd{
			{Number: 1003, Name: "1003/2", OnTime: .42}, {Number: 1004, Name: "1004", OnTime: .97},
			{Number: 1005, Name: "1005", OnTime: .05, Late: 7200}, {Number: 1006, Name: "1006", OnTime: -1},
		},
		Left:  []book.LeftOut{{Number: 1007, Line: 2, Customer: "Pellsand", Why: "no machine can make it"}},
		Notes: []book.LeftOut{{Number: 1008, Line: 1, Customer: "Maud", Why: "it is held on a machine that is down"}},
	}
	want := []struct {
		number int
		say    string
	}{
		{1003, "Watch 1003/2: it is in time by the plan, but only with a chance of 42 %."},
		{1007, "Not in the plan: 1007, line 2, of Pellsand: no machine can make it."},
		{1008, "1008, line 1, of Maud: it is held on a machine that is down."},
	}
	got := PlanOf(p).Watch
	if len(got) != len(want) {
		t.Fatalf("told %+v, want %+v", got, want)
	}
	for i, w := range want {
		if got[i].Number != w.number || got[i].Say.Text(nil) != w.say {
			t.Errorf("told of %d %q, want %d %q", got[i].Number, got[i].Say.Text(nil), w.number, w.say)
		}
	}
}
