package report

import (
	"needlepace/ask"
	"needlepace/floor"
)

// Estimate is ask's.
type Estimate = ask.Estimate

// OEE is ask's.
type OEE = ask.OEE

// EstimateOf is an estimate as a report has it.
func EstimateOf(e floor.Estimate) Estimate { return ask.EstimateOf(e) }

// OEEOf is OEE as a report has it.
func OEEOf(o floor.OEE) OEE {
	return ask.OEEOf(o)
}
