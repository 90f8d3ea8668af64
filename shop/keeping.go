package shop

import "needlepace/book"

// Keeping is what an act keeps: all of it or nothing.
type Keeping struct {
	// Order is the order as it is then; its Version one more than the kept one.
	// nil: no order changes.
	Order  *book.Order
	Change book.Change // the entry of its history
	Report *book.Report
	Runs   []Run // timed runs that came with the report
	Quote  *KeptQuote
	Plan   *KeptPlan // its Version one more than the newest one's, 1 for the first
}
