package pages_test

import (
	"testing"

	"needlepace/internal/readback"
)

// The calendar of a shop of 40 machines and 2,000 orders, among them such that
// come to a machine more than once, is one that another program reads whole.
func TestTheCalendarOfALargePlan(t *testing.T) {
	if testing.Short() {
		t.Skip("a plan of 2,000 orders takes its time")
	}
	h, p := largePlan(t, 40, 2000)
	file := answerOf(t, h, "/plan/plan.ics").Body.Bytes()
	if read := readback.ICS(t, file); len(read) != len(p.Lots) || len(read) < 2000 {
		t.Errorf("another program reads %d appointments of %d lots", len(read), len(p.Lots))
	}
}
