package shop

import (
	"context"
	"encoding/json"
	"time"

	"needlepace/book"
)

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

// LastPlan is the kept plan; nil where none was made yet.
func (s *Shop) LastPlan(ctx context.Context) (*book.Plan, error) {
	k, err := s.store.LastPlan(ctx)
	if err != nil || k == nil {
		return nil, err
	}
	p := &book.Plan{}
	if err := json.Unmarshal([]byte(k.Doc), p); err != nil {
		return nil, Errorf(Storage, "the kept plan cannot be read any more: %w; make it anew", err)
	}
	p.Version, p.Made, p.By = k.Version, k.Made, k.By
	return p, nil
}

// Quotes are the kept quotes of an order, newest first.
func (s *Shop) Quotes(ctx context.Context, orderID string) ([]*book.Quote, error) {
	kept, err := s.store.Quotes(ctx, orderID)
	if err != nil {
		return nil, err
	}
	var out []*book.Quote
	for _, k := range kept {
		q := &book.Quote{}
		if err := json.Unmarshal([]byte(k.Doc), q); err != nil {
			return nil, Errorf(Storage, "a kept quote cannot be read any more: %w", err)
		}
		out = append(out, q)
	}
	return out, nil
}
