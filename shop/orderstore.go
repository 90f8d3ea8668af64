package shop

import (
	"context"

	"needlepace/book"
)

// OrderStore keeps orders with their history, what the floor reported, quotes
// and plans. It is part of Store.
type OrderStore interface {
	// AddOrder keeps a new order (Version 1) with the first entry of its
	// history and gives it the next number. A line's design that is not there
	// is NotFound.
	AddOrder(ctx context.Context, o *book.Order, c book.Change) error
	Order(ctx context.Context, id string) (*book.Order, error)
	OrderNumbered(ctx context.Context, number int) (*book.Order, error)
	// Orders is a page of the list, and how many there are in all.
	Orders(ctx context.Context, q OrderQuery) (page []*book.Order, total int, err error)
	// ChangeOrder keeps an order as it is now with an entry of its history;
	// o.Version must be one more than the kept one, else Conflict.
	ChangeOrder(ctx context.Context, o *book.Order, c book.Change) error
	// OrderHistory is oldest first.
	OrderHistory(ctx context.Context, id string) ([]book.Change, error)

	// AddReport keeps a report, the timed runs that came with it, the order
	// after it (as ChangeOrder) and the entry of its history, all or nothing.
	AddReport(ctx context.Context, r *book.Report, runs []Run, o *book.Order, c book.Change) error
	// Reports lists those of an order ("" for all), oldest first.
	Reports(ctx context.Context, orderID string) ([]book.Report, error)

	// AddQuote keeps a quote; its document is as the shop wrote it (JSON).
	AddQuote(ctx context.Context, q KeptQuote) error
	Quotes(ctx context.Context, orderID string) ([]KeptQuote, error) // newest first

	// AddPlan keeps a plan; its Version must be one more than the newest one's
	// (1 for the first), else Conflict. Older plans are kept, at most
	// KeptPlans of them.
	AddPlan(ctx context.Context, p KeptPlan) error
	// LastPlan is the newest plan; nil where there is none.
	LastPlan(ctx context.Context) (*KeptPlan, error)
	// Seen is the state of what answers about orders are made from: all but
	// Order, which is zero.
	Seen(ctx context.Context) (book.Seen, error)
	// PlanVersion is one that is still kept.
	PlanVersion(ctx context.Context, version int) (*KeptPlan, error)
}

// KeptPlans is how many plans stay in the store.
const KeptPlans = 50
