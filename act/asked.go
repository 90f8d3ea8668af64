package act

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/demo"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/shop/orders"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// asked is the shop as questions about orders see it.
type asked struct{ *Shop }

// From is where questions about orders and the papers of their answers find
// what they need.
type From interface {
	ask.QuoteFrom
	ask.TodayFrom
	ask.AfterFrom
	ask.RoughFrom
	paper.From
}

// Asked is what questions about orders are answered from.
func (s *Shop) Asked() From { return asked{s} }

// Machines are those on the list, by name.
func (s asked) Machines(ctx context.Context) ([]ask.Machine, error) {
	all, err := s.Shop.Machines.List(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]ask.Machine, len(all))
	for i, m := range all {
		out[i] = ask.Machine{ID: m.ID, Name: m.Name, Sheet: m.Sheet, Digest: m.Digest}
	}
	return out, nil
}

// Reports are all that the floor reported, oldest first.
func (s asked) Reports(ctx context.Context) ([]book.Report, error) { return s.Orders.AllReports(ctx) }

// Heard are the recordings of runs that were kept, oldest first.
func (s asked) Heard(ctx context.Context) ([]book.Heard, error) { return s.Timings.Heard(ctx) }

// Design finds a design, also one that was taken off the list.
func (s asked) Design(ctx context.Context, id string) (*book.Design, error) {
	d, err := s.Designs.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	return d.Book(), nil
}

// Memory keeps what was reckoned before.
func (s asked) Memory() *ask.Memory { return &s.memory }

// Planned are the orders that are agreed or being sewn. They are shared by those who only read: nobody may change
// them.
func (s asked) Planned(ctx context.Context) ([]*book.Order, error) {
	read := func(ctx context.Context) ([]*book.Order, error) {
		all, _, err := s.store.Orders(ctx, shop.OrderQuery{States: []book.OrderState{book.Agreed, book.Sewing},
			Limit: orders.Most})
		return all, err
	}
	if !shop.OnlyReads(ctx) {
		return read(ctx)
	}
	all, err := s.planned.Get(ctx, s.store, read)
	return slices.Clone(all), err
}

// Done are the orders that are sewn or delivered.
func (s asked) Done(ctx context.Context) ([]*book.Order, error) {
	all, _, err := s.store.Orders(ctx, shop.OrderQuery{States: []book.OrderState{book.Sewn, book.Delivered},
		Sort: "number", Limit: orders.Most})
	return all, err
}

// KeptQuotes are an order's quotes, newest first.
func (s asked) KeptQuotes(ctx context.Context, orderID string) ([]*book.Quote, error) {
	return s.Shop.Plans.Quotes(ctx, orderID)
}

// LastPlan is the kept plan.
func (s asked) LastPlan(ctx context.Context) (*book.Plan, error) { return s.Shop.Plans.Last(ctx) }

// Seen is the state of all that is asked.
func (s asked) Seen(ctx context.Context) (book.Seen, error) { return s.store.Seen(ctx) }

// State counts what was changed of all that is asked.
func (s asked) State(ctx context.Context) (string, error) {
	r, err := shop.Counts(ctx, s.store, shop.AllParts&^(shop.AddedPart|shop.ToldPart|shop.RestPart))
	return fmt.Sprint(r), err
}

// ShopName is the name of the settings.
func (s asked) ShopName(ctx context.Context) (string, error) {
	set, err := s.Settings.Get(ctx)
	return set.ShopName, err
}

// Slot waits for room for a heavy computation.
func (s asked) Slot(ctx context.Context) (free func(), err error) { return s.slots.Take(ctx) }

// Order finds an order by its ID or number.
func (s asked) Order(ctx context.Context, ref string) (*book.Order, error) {
	return s.Orders.Get(ctx, ref)
}

// Workshop is when and how the shop works; given is false where the hours are assumed.
func (s asked) Workshop(ctx context.Context) (w *book.Workshop, given bool, err error) {
	return s.Setups.Workshop(ctx)
}

// Stitches is a design decoded.
func (s asked) Stitches(ctx context.Context, id string) (*stitch.Design, error) {
	return s.Designs.Stitches(ctx, id)
}

// Logo is the shop's picture for papers.
func (s asked) Logo(ctx context.Context) ([]byte, error) { return s.Settings.Logo(ctx) }

// Known are the shop's own designs, the newest first.
func (s asked) Known(ctx context.Context, most int) ([]*book.Design, error) {
	page, _, err := s.Designs.List(ctx, shop.DesignQuery{Sort: "added", Limit: most})
	out := make([]*book.Design, len(page))
	for i, d := range page {
		out[i] = d.Book()
	}
	return out, err
}

// Samples are the invented demo's designs.
func (s asked) Samples(ctx context.Context) ([]*stitch.Design, error) { return samples() }

var samples = sync.OnceValues(func() (out []*stitch.Design, err error) {
	for _, d := range demo.Designs() {
		b, err := d.Read()
		if err != nil {
			return nil, err
		}
		x, err := stitchfile.Decode(b, d.File)
		if err != nil {
			return nil, err
		}
		x.Name = d.File
		out = append(out, x)
	}
	return out, nil
})
