package shop

import (
	"context"
	"sync"
	"sync/atomic"

	"needlepace/book"
)

// reportLog remembers all reports until another is kept: every plan, quote and
// run sheet asks for them. One process holds the shop, so all come through it.
type reportLog struct {
	kept atomic.Int64 // reports kept by this process
	mu   sync.Mutex
	at   int64 // kept + 1 when all was read; 0: never
	all  []Report
}

// allReports are all reports, oldest first. They are shared: nobody may change
// them.
func (s *Shop) allReports(ctx context.Context) ([]Report, error) {
	l := &s.reported
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.kept.Load() + 1 // 0 is never
	if l.at == now {
		return l.all, nil
	}
	all, err := s.store.Reports(ctx, "")
	if err != nil {
		return nil, err
	}
	l.at, l.all = now, all
	return all, nil
}

// floorRates sums the floor's reports by machine.
func (s *Shop) floorRates(ctx context.Context) (book.FloorRates, error) {
	all, err := s.allReports(ctx)
	if err != nil {
		return nil, err
	}
	return book.SumReports(all), nil
}
