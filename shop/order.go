package shop

// OrderQuery asks for a page of the list of orders.
type OrderQuery struct {
	Search  string       // words that must all be in number, customer, note or garments
	States  []OrderState // none: all
	Sort    string       // "due" (soonest first), "number" (newest first), "customer"; "" is due
	Reverse bool
	Offset  int
	Limit   int // 1…5000
}
