package answer

import (
	"needlepace/report"
	"needlepace/shop"
)

// ShiftOf is a simulated shift as the API and the pages have it, with the
// yield of single shifts for a histogram.
func ShiftOf(r *shop.Shift) *report.Shift {
	out := report.ShiftOf(r.Result, r.Seed)
	out.AddChanges(r.Changes)
	for _, x := range r.Crews {
		out.AddCrew(x.Machine, x.Crews, x.Best, x.Cost)
	}
	out.ByShift = r.ByShift[:min(len(r.ByShift), 2000)]
	return out
}
