package act

import (
	"context"

	"needlepace/shop"
)

// mostFound is how many things of a kind a search gives.
const mostFound = 8

// Find finds orders, designs, customers and machines that have a word that begins
// with each of the words given, without case and accents: at most eight of a kind.
func (s *Shop) Find(ctx context.Context, search string) ([]shop.Found, error) {
	if err := shop.CheckText("find", search, 200, false); err != nil {
		return nil, shop.At("find", err)
	}
	return s.store.Find(ctx, search, mostFound)
}
