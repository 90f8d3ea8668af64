package shop

import (
	"context"
	"sync"
)

// reportLog remembers all reports until there are more: every plan, quote and
// run sheet asks for them.
type reportLog struct {
	mu  sync.Mutex
	at  int // book.Seen.Reports when all was read; 0: never
	all []Report
}

// AllReports are all reports, oldest first. They are shared: nobody may change
// them.
func (s *orderThings) AllReports(ctx context.Context) ([]Report, error) {
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
