package plans

import (
	"context"
	"encoding/json"

	"needlepace/book"
	"needlepace/shop"
)

// Plans reads plans and quotes as they were made; acts keep them.
type Plans struct {
	store shop.OrderStore
	last  shop.Kept[*book.Plan]
}

// New reads the plans and quotes of a store.
func New(store shop.OrderStore) *Plans { return &Plans{store: store} }

// Last is the kept plan; nil where none was made yet. It is shared: nobody may change it.
func (s *Plans) Last(ctx context.Context) (*book.Plan, error) {
	return s.last.Get(ctx, s.store, func(ctx context.Context) (*book.Plan, error) {
		k, err := s.store.LastPlan(ctx)
		if err != nil || k == nil {
			return nil, err
		}
		p := &book.Plan{}
		if err := json.Unmarshal([]byte(k.Doc), p); err != nil {
			return nil, shop.Errorf(shop.Storage, "the kept plan cannot be read any more: %w; make it anew", err)
		}
		p.Version, p.Made, p.By = k.Version, k.Made, k.By
		return p, nil
	})
}

// Quotes are the kept quotes of an order, newest first.
func (s *Plans) Quotes(ctx context.Context, orderID string) ([]*book.Quote, error) {
	kept, err := s.store.Quotes(ctx, orderID)
	if err != nil {
		return nil, err
	}
	var out []*book.Quote
	for _, k := range kept {
		q := &book.Quote{}
		if err := json.Unmarshal([]byte(k.Doc), q); err != nil {
			return nil, shop.Errorf(shop.Storage, "a kept quote cannot be read any more: %w", err)
		}
		out = append(out, q)
	}
	return out, nil
}
