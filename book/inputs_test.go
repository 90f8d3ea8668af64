package book

import (
	"testing"
	"time"
)

// What is over changes nothing of a plan any more: a day off before today, a down time that has ended. What goes on or comes does, and
// so does all else, whenever it was.
func TestWhatIsOverIsNoChange(t *testing.T) {
	w, err := ParseWorkshop("w", []byte("time_zone = \"America/New_York\"\n[[shift]]\ndays = [\"mon\"]\nfrom = \"07:00\"\nto = \"15:00\"\noperators = 1\n"))
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2026, 3, 3, 2, 0, 0, 0, time.UTC) // Monday evening there
	down := func(to string) InputChange {
		return InputChange{Kind: DownInput, Facts: map[string]string{"from": "2026-03-01 07:00", "to": to}}
	}
	for what, c := range map[string]struct {
		change InputChange
		past   bool
	}{
		"yesterday off":             {InputChange{Kind: DayOffInput, ID: "2026-03-01"}, true},
		"today off":                 {InputChange{Kind: DayOffInput, ID: "2026-03-02"}, false},
		"tomorrow off":              {InputChange{Kind: DayOffInput, ID: "2026-03-03"}, false},
		"down until an hour ago":    {down("2026-03-02 20:00"), true},
		"down for an hour more":     {down("2026-03-02 22:00"), false},
		"an order, whenever it was": {InputChange{Kind: OrderInput, ID: "2026-03-01"}, false},
	} {
		if got := c.change.Past(w, now); got != c.past {
			t.Errorf("%s: over %v, want %v", what, got, c.past)
		}
	}
}
