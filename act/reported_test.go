package act_test

import (
	"math"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
)

// What the reports make of a machine is one thing in the plan, on the run sheet
// and on a simulated floor; switched off, none of them goes by it.
func TestPlansAndTheFloorGoByTheSameReports(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "ostrel-light.dst", 5000, "", book.Agreed)
	gannet := b.m["Gannet"]
	cycle := func() float64 {
		t.Helper()
		r, err := b.MakeRunSheet(bg, o.ID, 1, gannet, 10)
		if err != nil {
			t.Fatal(err)
		}
		return r.Cycle
	}
	const shift = "name = \"s\"\n[shift]\nhours = 8\nfrom_reports = FROM\n[work]\nbreaks_per_1000 = 0.006\n" +
		"[[machine]]\nname = \"Gannet\"\nsheet = \"Gannet\"\n[[operator]]\n[[job]]\ndesign = \"ostrel-light.dst\"\n"
	pieces := func(from string) float64 {
		t.Helper()
		a, err := act.Answer(bg, b.Shop, ask.Shift, ask.ShiftQuestion{Name: "s",
			TOML: []byte(strings.ReplaceAll(shift, "FROM", from))})
		if err != nil {
			t.Fatal(err)
		}
		return a.Pieces.Mean
	}
	before, yield := cycle(), pieces("true")
	if off := pieces("false"); math.Abs(off-yield) > 1e-9 {
		t.Errorf("without reports a shift yields %v, and %v where it goes by them", off, yield)
	}
	for range 6 {
		r := book.Report{OrderID: o.ID, Line: 1, MachineID: gannet, Good: 100, Breaks: 40}
		x, err := b.Record(bg, r, act.Recording{}, "")
		if err != nil {
			t.Fatal(err)
		}
		r = x.Report
		r.Seconds = 1.4 * r.Predicted
		if _, err := b.Correct(bg, o.ID, r.ID, r, act.Recording{}, ""); err != nil {
			t.Fatal(err)
		}
	}
	a, err := ask.Reported(bg, b.Asked(), gannet)
	if err != nil || len(a.Machines) != 1 || !a.Used {
		t.Fatal(a, err)
	}
	m := &a.Machines[0]
	if math.Abs(m.PaceEvidence-1.4) > 1e-9 || !(m.Pace > 1.1 && m.Pace < 1.4) || m.BreaksPrior != .006 ||
		!(m.Breaks > m.BreaksPrior && m.Breaks < m.BreaksEvidence && m.BreaksLow < m.Breaks && m.Breaks < m.BreaksHigh) {
		t.Errorf("prior, evidence, now: %+v", m)
	}
	floor, err := b.Reported(bg, "Gannet", .006)
	if err != nil || floor.Breaks != m.Breaks || floor.Pace != m.Pace {
		t.Errorf("the floor has %+v, %v; the reports say %+v", floor, err, m)
	}
	slower, fewer := cycle()/before, pieces("true")/yield
	if slower < m.Pace || math.Abs(1/fewer/slower-1) > .05 {
		t.Errorf("a cycle on the run sheet is %.3f times as long, a shift yields %.3f of what it did", slower, fewer)
	}
	if off := pieces("false"); math.Abs(off-yield) > 1e-9 {
		t.Errorf("switched off, a shift yields %v, before the reports %v", off, yield)
	}
	toml, err := b.Setups.Get(bg, shop.WorkshopID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Setups.SaveWorkshop(bg, "WORKSHOP.toml", "from_reports = false\n"+toml.TOML, -1); err != nil {
		t.Fatal(err)
	}
	if off := cycle(); math.Abs(off-before) > 1e-9 {
		t.Errorf("switched off, a cycle is %v s, before the reports %v s", off, before)
	}
}
