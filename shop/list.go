package shop

import "context"

// List is a list of things as somebody keeps it under a name: what is searched in it,
// which state, in which order.
type List struct {
	ID      string `json:"id"`
	Account string `json:"-"`                          // whose it is: an account's ID; empty where nobody signs in
	Of      string `json:"of" doc:"designs or orders"` // what is listed
	Name    string `json:"name"`
	Query   string `json:"query" doc:"the query of the address of the page, e.g. sort=customer&state=ordered; empty: the list as it is"`
}

// What is listed.
const (
	ListOfDesigns = "designs"
	ListOfOrders  = "orders"
)

// ListStore keeps lists. It is part of Store.
type ListStore interface {
	// Lists are an account's, by what they list and by name.
	Lists(ctx context.Context, account string) ([]*List, error)
	// SaveList keeps a list, a new one or one that is there.
	SaveList(ctx context.Context, l *List) error
	// DropList forgets a list.
	DropList(ctx context.Context, id string) error
}
