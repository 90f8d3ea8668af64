package book_test

import (
	"slices"
	"testing"
	"time"

	"needlepace/book"
)

// What the floor reported since a plan was made fills the plan's lots in their
// order, each machine's own, and no lot more than it has.
func TestReportsFillTheLotsOfAPlan(t *testing.T) {
	made := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	p := &book.Plan{Made: made, Lots: []book.PlanLot{
		{OrderID: "a", Line: 1, MachineID: "m", Quantity: 10}, {OrderID: "b", Line: 1, MachineID: "m", Quantity: 5},
		{OrderID: "a", Line: 1, MachineID: "m", Quantity: 10}, {OrderID: "a", Line: 1, MachineID: "n", Quantity: 10},
		{OrderID: "a", Line: 2, MachineID: "m", Quantity: 10},
	}}
	report := func(order string, line int, on string, good int, after time.Duration) book.Report {
		return book.Report{OrderID: order, Line: line, MachineID: on, Good: good, Added: made.Add(after)}
	}
	back := report("a", 2, "m", 4, time.Hour)
	back.TakenBack = &book.TakenBack{}
	got := p.Sewn([]book.Report{report("a", 1, "m", 8, time.Hour), report("a", 1, "m", 5, 2*time.Hour), report("a", 1, "n", 3, time.Hour),
		report("b", 1, "m", 9, time.Hour), report("a", 2, "m", 7, -time.Hour), back})
	if want := []int{10, 5, 3, 3, 0}; !slices.Equal(got, want) {
		t.Errorf("the lots have %v sewn, want %v", got, want)
	}
}

// A report from before the plan that is corrected after it changes what the plan knew by the difference, and so does one that
// is taken back; what was corrected before the plan is known to it.
func TestCorrectionsSinceAPlanCountByTheirDifference(t *testing.T) {
	made := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	p := &book.Plan{Made: made, Lots: []book.PlanLot{{OrderID: "a", Line: 1, MachineID: "m", Quantity: 40}}}
	for _, c := range []struct {
		what                string
		was, is             int           // pieces of the report and of the one in its place; below 0: taken back alone
		recorded, corrected time.Duration // after the plan
		since               int
	}{
		{"more, since", 24, 26, -time.Hour, time.Hour, 2 + 10}, {"fewer, since", 24, 20, -time.Hour, time.Hour, 10 - 4},
		{"before the plan", 24, 26, -2 * time.Hour, -time.Hour, 10}, {"both since", 24, 26, time.Hour, 2 * time.Hour, 26 + 10},
		{"taken back since", 8, -1, -time.Hour, time.Hour, 10 - 8},
	} {
		old := book.Report{ID: "r1", OrderID: "a", Line: 1, MachineID: "m", Good: c.was, Added: made.Add(c.recorded),
			TakenBack: &book.TakenBack{At: made.Add(c.corrected)}}
		all := []book.Report{old}
		if c.is >= 0 {
			all = append(all, book.Report{ID: "r2", OrderID: "a", Line: 1, MachineID: "m", Good: c.is, Added: old.Added, Corrects: "r1"})
		}
		all = append(all, book.Report{ID: "r3", OrderID: "a", Line: 1, MachineID: "m", Good: 10, Added: made.Add(3 * time.Hour)})
		if got := p.Sewn(all); got[0] != c.since {
			t.Errorf("%s: %d sewn since, want %d", c.what, got[0], c.since)
		}
	}
}

// Where the threads of a line differ by the colour of the garments, each colour's pieces are of its own lots; what is
// reported without a colour fills what is left, and where the threads are the same any colour does.
func TestReportsFillTheLotsOfTheirColour(t *testing.T) {
	made := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	p := &book.Plan{Made: made, Lots: []book.PlanLot{
		{OrderID: "a", Line: 1, MachineID: "m", Colour: "navy", Quantity: 10}, {OrderID: "a", Line: 1, MachineID: "m", Colour: "white", Quantity: 6},
		{OrderID: "a", Line: 1, MachineID: "m", Colour: "navy", Quantity: 4}, {OrderID: "b", Line: 1, MachineID: "m", Quantity: 9},
	}}
	for _, c := range []struct {
		navy, white, none, plain int
		want                     []int
	}{
		{0, 4, 0, 0, []int{0, 4, 0, 0}}, {12, 0, 0, 0, []int{10, 0, 2, 0}}, {0, 9, 0, 0, []int{0, 6, 0, 0}},
		{3, 1, 9, 0, []int{10, 3, 0, 0}}, {0, 0, 0, 5, []int{0, 0, 0, 5}}, {20, 20, 20, 20, []int{10, 6, 4, 9}},
	} {
		var reports []book.Report
		for _, r := range []struct {
			order, colour string
			good          int
		}{{"a", "navy", c.navy}, {"a", "white", c.white}, {"a", "", c.none}, {"b", "red", c.plain - c.plain/2}, {"b", "", c.plain / 2}} {
			reports = append(reports, book.Report{OrderID: r.order, Line: 1, MachineID: "m", Colour: r.colour, Good: r.good, Added: made.Add(time.Hour)})
		}
		if got := p.Sewn(reports); !slices.Equal(got, c.want) {
			t.Errorf("%d navy, %d white, %d of no colour, %d of b: %v, want %v", c.navy, c.white, c.none, c.plain, got, c.want)
		}
	}
}
