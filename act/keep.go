package act

import (
	"context"
	"time"

	"needlepace/book"
	"needlepace/shop"
)

// Now is the time of day, for questions.
func (s *Shop) Now() time.Time { return s.now() }

// Revision counts what was changed, by whatever program.
func (s *Shop) Revision(ctx context.Context) (shop.Revision, error) { return s.store.Revision(ctx) }

// still refuses an act upon an answer that somebody saw (nil: nobody did) and
// that would be made from something else now.
func still(saw *book.Seen, now book.Seen) error {
	if saw == nil {
		return nil
	}
	if what := saw.Changed(now); what != "" {
		return shop.Stale(what)
	}
	return nil
}

// keep keeps an order that was changed in place, with what goes with it.
func (s *Shop) keep(
	ctx context.Context, seen book.Seen, o *book.Order, by, what string, k shop.Keeping,
) (*book.Order, error) {
	seen.Order = o.Version
	o.Version++
	o.Changed = s.now().UTC()
	k.Order = o
	k.Change = book.Change{OrderID: o.ID, Version: o.Version, At: o.Changed, By: by, What: what}
	if err := s.store.Keep(ctx, seen, k); err != nil {
		return nil, err
	}
	return s.Orders.Get(ctx, o.ID)
}
