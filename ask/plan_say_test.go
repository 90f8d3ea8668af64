package ask

import (
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
	p.Gap, p.BoundHours = 1, 0
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.")
	p.BoundHours = -1
	check("4 lines on 3 machines, all sewn Fri 3 Jul, 16:30; late: 2 lines, 26.5 h counted by priority.")
	p.Lots = nil
	check("Nothing is to be sewn; none is late.")
}
