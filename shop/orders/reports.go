package orders

import (
	"context"
	"strconv"
	"sync"

	"needlepace/book"
	"needlepace/shop"
)

// reportLog remembers all reports that stand until they change: every plan, quote and
// run sheet asks for them.
type reportLog struct {
	mu  sync.Mutex
	at  int // book.Seen.Reports when all was read; 0: never
	all []book.Report
}

// AllReports are all reports that stand, oldest first. They are shared: nobody
// may change them.
func (s *Orders) AllReports(ctx context.Context) ([]book.Report, error) {
	l := &s.reported
	l.mu.Lock()
	defer l.mu.Unlock()
	seen, err := s.store.Seen(ctx)
	if err != nil {
		return nil, err
	}
	if l.at == seen.Reports {
		return l.all, nil
	}
	all, err := s.store.Reports(ctx, "")
	if err != nil {
		return nil, err
	}
	l.at, l.all = seen.Reports, book.Standing(all)
	return l.all, nil
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
	return nil, shop.Errorf(shop.NotFound, "order %d has no report %q", o.Number, ref)
}

// Deliveries is what the customer got of an order, oldest first, also what was
// taken back.
func (s *Orders) Deliveries(ctx context.Context, orderID string) ([]book.HandOver, error) {
	return s.store.Deliveries(ctx, orderID)
}
