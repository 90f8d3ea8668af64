package shop

import (
	"time"

	"needlepace/book"
)

// OrderQuery asks for a page of the list of orders.
type OrderQuery struct {
	Search  string            // words that must all be in number, customer, note or garments
	States  []book.OrderState // none: all
	Sort    string            // one of OrderSorts; "" is due
	Reverse bool
	Offset  int
	Limit   int // 1…5000
}

// OrderSorts are what orders are listed by: soonest due, soonest promised, newest, by
// customer, by how far they have come.
var OrderSorts = []string{"due", "promised", "number", "customer", "state"}

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
