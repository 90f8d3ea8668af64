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
