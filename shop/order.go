package shop

import (
	"time"

	"needlepace/book"
)

// OrderQuery asks for a page of the list of orders.
type OrderQuery struct {
	Search  string            // words that must all be in number, customer, note or garments
	States  []book.OrderState // none: all
	Sort    string            // "due" (soonest first), "number" (newest first), "customer"; "" is due
	Reverse bool
	Offset  int
	Limit   int // 1…5000
}

// KeptPlan is a plan as a store keeps it.
type KeptPlan struct {
	Version int
	Made    time.Time
	By      string
	Doc     string // JSON of a Plan
}

// KeptQuote is a quote as a store keeps it.
type KeptQuote struct {
	ID      string
	OrderID string
	Made    time.Time
	By      string
	Doc     string // JSON of a Quote
}
