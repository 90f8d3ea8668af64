package plans

import (
	"context"
	"encoding/json"

	"needlepace/book"
	"needlepace/shop"
)

// Plans keeps plans and quotes as they were made.
type Plans struct{ store shop.OrderStore }

// New keeps plans and quotes in a store.
func New(store shop.OrderStore) *Plans { return &Plans{store} }

// Keep keeps a plan as the newest; its version is one more than that of
// the plan it was made against (before, nil: none). Where another was kept
// meanwhile it is a Conflict.
func (s *Plans) Keep(ctx context.Context, p, before *book.Plan, by string) error {
	p.Version, p.By = 1, by
	if before != nil {
		p.Version = before.Version + 1
	}
	doc, err := json.Marshal(p)
	if err != nil {
		return err
	}
	return s.store.AddPlan(ctx, shop.KeptPlan{Version: p.Version, Made: p.Made, By: by, Doc: string(doc)})
}

// KeepQuote keeps a quote.
func (s *Plans) KeepQuote(ctx context.Context, q *book.Quote) error {
	doc, err := json.Marshal(q)
	if err != nil {
		return err
	}
	return s.store.AddQuote(ctx, shop.KeptQuote{ID: q.ID, OrderID: q.OrderID, Made: q.Made, By: q.By, Doc: string(doc)})
}

// Last is the kept plan; nil where none was made yet.
func (s *Plans) Last(ctx context.Context) (*book.Plan, error) {
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
