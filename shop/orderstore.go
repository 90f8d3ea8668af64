package shop

import (
	"context"

	"needlepace/book"
)

// OrderStore keeps orders with their history, what the floor reported, quotes
// and plans. It is part of Store.
type OrderStore interface {
	RevisionStore
	// AddOrder keeps a new order (Version 1) with the first entry of its
	// history and gives it the next number. A line's design that is not there
	// is NotFound.
	AddOrder(ctx context.Context, o *book.Order, c book.Change) error
	// AddOrders keeps new orders as AddOrder does, all or none. A key that an order
	// was kept with before is a Conflict.
	AddOrders(ctx context.Context, all []NewOrder) error
	// KeyedOrders are the orders that were kept with keys, by key.
	KeyedOrders(ctx context.Context, keys []string) (map[string]KeyedOrder, error)
	// TableColumns says which column is what of a table of orders with such headings;
	// nil where none was kept.
	TableColumns(ctx context.Context, headings string) (map[string]string, error)
	KeepTableColumns(ctx context.Context, headings string, columns map[string]string) error
	Order(ctx context.Context, id string) (*book.Order, error)
	OrderNumbered(ctx context.Context, number int) (*book.Order, error)
	// Orders is a page of the list, and how many there are in all.
	Orders(ctx context.Context, q OrderQuery) (page []*book.Order, total int, err error)
	// ChangeOrder keeps an order as it is now with an entry of its history;
	// o.Version must be one more than the kept one, else Conflict.
	ChangeOrder(ctx context.Context, o *book.Order, c book.Change) error
	// OrderHistory is oldest first.
	OrderHistory(ctx context.Context, id string) ([]book.Change, error)

	// Keep keeps all of k or nothing. It is a Conflict, which says in words what
	// changed, where a part of seen that is not zero is no longer the state: with
	// Seen.Order, that of k.Order (for a quote without one, of the quote's order);
	// also where k.Order or k.Plan is not the next version.
	Keep(ctx context.Context, seen book.Seen, k Keeping) error
	// Reports lists those of an order ("" for all), oldest first, also those taken back.
	Reports(ctx context.Context, orderID string) ([]book.Report, error)
	// Deliveries lists those of an order, oldest first.
	Deliveries(ctx context.Context, orderID string) ([]book.HandOver, error)
	// Quotes lists an order's quotes, newest first.
	Quotes(ctx context.Context, orderID string) ([]KeptQuote, error)

	// Of the plans that are kept at most KeptPlans stay.

	// LastPlan is the newest plan; nil where there is none.
	LastPlan(ctx context.Context) (*KeptPlan, error)
	// Seen is the state of what answers about orders are made from: all but
	// Order, which is zero.
	Seen(ctx context.Context) (book.Seen, error)
	// PlanVersion is one that is still kept.
	PlanVersion(ctx context.Context, version int) (*KeptPlan, error)
}

// NewOrder is an order of a table.
type NewOrder struct {
	Order       *book.Order
	Change      book.Change // the first entry of its history
	Key, Digest string      // by which the table's order is known again, and what it said
}

// KeyedOrder is an order that was taken in from a table.
type KeyedOrder struct {
	Number int
	Digest string // of what the table said then
}

// KeptPlans is how many plans stay in the store.
const KeptPlans = 50
