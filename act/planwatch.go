package act

import (
	"context"
	"slices"
	"strconv"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/orders"
)

// ChangedSince names the orders that were changed after a plan was made, or
// stand in it and are no longer to be sewn: with any, the plan wants making
// anew.
func (s *Shop) ChangedSince(ctx context.Context, p *book.Plan) ([]string, error) {
	all, _, err := s.store.Orders(ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing},
		Limit: orders.Most})
	if err != nil {
		return nil, err
	}
	out := []string{}
	open := map[string]bool{}
	for _, o := range all {
		open[o.ID] = true
		if o.Changed.After(p.Made) {
			out = append(out, strconv.Itoa(o.Number))
		}
	}
	for _, e := range p.Ends {
		if n := strconv.Itoa(e.Number); !open[e.OrderID] && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}
