package orders

import (
	"context"
	"sync"

	"needlepace/book"
)

// reportLog remembers all reports until there are more: every plan, quote and
// run sheet asks for them.
type reportLog struct {
	mu  sync.Mutex
	at  int // book.Seen.Reports when all was read; 0: never
	all []book.Report
}

// AllReports are all reports, oldest first. They are shared: nobody may change
// them.
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
	l.at, l.all = seen.Reports, all
	return all, nil
}
