package orders

import (
	"context"
	"strconv"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// AllReports are all reports that stand, oldest first. They are shared: nobody
// may change them.
func (s *Orders) AllReports(ctx context.Context) ([]book.Report, error) {
	return s.reported.Get(ctx, s.store, func(ctx context.Context) ([]book.Report, error) {
		all, err := s.store.Reports(ctx, "")
		return book.Standing(all), err
	})
}

// Reports is what the floor reported of an order ("" for all), oldest first,
// also what was taken back.
func (s *Orders) Reports(ctx context.Context, orderID string) ([]book.Report, error) {
	return s.store.Reports(ctx, orderID)
}

// Report finds a report of an order by its number or its ID.
func (s *Orders) Report(ctx context.Context, o *book.Order, ref string) (*book.Report, error) {
	all, err := s.store.Reports(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	for i := range all {
		if all[i].ID == ref || strconv.Itoa(all[i].Number) == ref {
			return &all[i], nil
		}
	}
	return nil, shop.Saying(shop.NotFound, words.Say("refused.no-report",
		words.Args{"order": words.Name(strconv.Itoa(o.Number)), "report": words.Name(ref)}))
}

// Deliveries is what the customer got of an order, oldest first, also what was
// taken back.
func (s *Orders) Deliveries(ctx context.Context, orderID string) ([]book.HandOver, error) {
	return s.store.Deliveries(ctx, orderID)
}
