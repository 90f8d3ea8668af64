package act

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// Deliver says that the customer got a part of a line: pieces 0 is all that are
// sewn and not delivered yet. A Day empty is today. When the customer has all
// pieces of all lines, the order is Delivered. saw is the version of the order
// that was looked at, 0 for whatever it is.
func (s *Shop) Deliver(ctx context.Context, d book.HandOver, saw int, by string) (
	*book.Order, *book.HandOver, error,
) {
	o, err := s.Orders.Get(ctx, d.OrderID)
	if err != nil {
		return nil, nil, err
	}
	if err := at(o, saw); err != nil {
		return nil, nil, err
	}
	l := o.Line(d.Line)
	if l == nil {
		return nil, nil, shop.Errorf(shop.NotFound, "order %d has no line %d", o.Number, d.Line)
	}
	if o.State != book.Sewing && o.State != book.Sewn {
		return nil, nil, shop.Invalidf("order %d is %s: parts of it are delivered while it is %s or %s", o.Number, o.State,
			book.Sewing, book.Sewn)
	}
	if o.Together && o.Left() > 0 {
		return nil, nil, shop.Invalidf("order %d leaves in one delivery, and of it are still to be made: %s; wait for them, or take "+
			"“in one delivery” off the order", o.Number, words.Count(o.Left(), "piece").Text(nil))
	}
	have := l.Good - l.Delivered
	if d.Pieces == 0 {
		d.Pieces = have
	}
	if d.Pieces < 1 || d.Pieces > have {
		return nil, nil, shop.At("pieces", shop.Invalidf("%d pieces to deliver; sewn of line %d and not delivered yet: %d",
			d.Pieces, l.Line, have))
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, nil, err
	}
	today := w.Zone.Day(s.now())
	if d.Day.IsZero() {
		d.Day = today
	}
	if d.Day.After(today) {
		return nil, nil, shop.At("day", shop.Invalidf("the day %s lies ahead: today is %s", d.Day, today))
	}
	if err := shop.CheckText("note", d.Note, 1000, false); err != nil {
		return nil, nil, shop.At("note", err)
	}
	d.ID, d.OrderID, d.By, d.Added, d.Note, d.TakenBack = shop.NewID(), o.ID, by, s.now().UTC(), strings.TrimSpace(d.Note), nil
	l.Delivered += d.Pieces
	what := fmt.Sprintf("line %d: %s delivered on %s", l.Line, words.Count(d.Pieces, "piece").Text(nil), d.Day.Text(nil))
	all := o.Left() == 0
	for i := range o.Lines {
		all = all && o.Lines[i].Delivered == o.Lines[i].Good
	}
	if all {
		o.State = book.Delivered
		what += "; the customer has all of it"
	}
	if d.Note != "" {
		what += ": " + d.Note
	}
	kept, err := s.keep(ctx, book.Seen{}, o, by, what, shop.Keeping{Delivery: &d})
	return kept, &d, err
}

// TakeBackDelivery takes a delivery back: it stays in the list and no longer
// counts; an order that was Delivered by it is Sewn again. ref is the
// delivery's number or ID.
func (s *Shop) TakeBackDelivery(ctx context.Context, order, ref string, saw int, why, by string) (
	*book.Order, error,
) {
	o, err := s.Orders.Get(ctx, order)
	if err != nil {
		return nil, err
	}
	all, err := s.Orders.Deliveries(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	var d *book.HandOver
	for i := range all {
		if all[i].ID == ref || strconv.Itoa(all[i].Number) == ref {
			d = &all[i]
		}
	}
	switch {
	case d == nil:
		return nil, shop.Errorf(shop.NotFound, "order %d has no delivery %q", o.Number, ref)
	case d.TakenBack != nil:
		return nil, shop.Errorf(shop.Conflict, "delivery %d of order %d was taken back already", d.Number, o.Number)
	}
	if err := at(o, saw); err != nil {
		return nil, err
	}
	if err := shop.CheckText("note", why, 1000, false); err != nil {
		return nil, shop.At("why", err)
	}
	if l := o.Line(d.Line); l != nil {
		l.Delivered = max(0, l.Delivered-d.Pieces)
	}
	what := fmt.Sprintf("delivery %d taken back: line %d: %s", d.Number, d.Line, words.Count(d.Pieces, "piece").Text(nil))
	if o.State == book.Delivered {
		o.State = book.Sewn
		what += fmt.Sprintf("; the order is %s (was %s)", book.Sewn, book.Delivered)
	}
	if why = strings.TrimSpace(why); why != "" {
		what += ": " + why
	}
	back := &shop.Back{ID: d.ID, TakenBack: book.TakenBack{At: s.now().UTC(), By: by, Why: why}}
	return s.keep(ctx, book.Seen{}, o, by, what, shop.Keeping{BackDelivery: back})
}
