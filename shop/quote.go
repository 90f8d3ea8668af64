package shop

import "time"

// KeptQuote is a quote as a store keeps it.
type KeptQuote struct {
	ID      string
	OrderID string
	Made    time.Time
	By      string
	Doc     string // JSON of a Quote
}
