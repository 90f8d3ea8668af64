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
	// Back is the report that is taken back; its timed run is no longer
	// learned from. One that was taken back already is a Conflict.
	Back     *Back
	Delivery *book.HandOver
	// BackDelivery is the delivery that is taken back, as Back is.
	BackDelivery *Back
	Quote        *KeptQuote
	Plan         *KeptPlan // its Version one more than the newest one's, 1 for the first
}

// Back takes a report or a delivery back: it stays and no longer counts.
type Back struct {
	ID string
	book.TakenBack
}
