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
		return nil, nil, noLine(o, d.Line)
	}
	if o.State != book.Sewing && o.State != book.Sewn {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.deliver-state", words.Args{"order": orderNumber(o), "state": o.State.Name()}))
	}
	if o.Together && o.Left() > 0 {
		return nil, nil, shop.Saying(shop.Invalid, words.Say("refused.deliver-together", words.Args{"order": orderNumber(o),
			"pieces": words.Count(o.Left(), "piece")}))
	}
	have := l.Good - l.Delivered
	if d.Pieces == 0 {
		d.Pieces = have
	}
	if d.Pieces < 1 || d.Pieces > have {
		return nil, nil, shop.At("pieces", shop.Saying(shop.Invalid, words.Say("refused.deliver-pieces", words.Args{"n": words.Whole(d.Pieces),
			"line": words.Whole(l.Line), "have": words.Whole(have)})))
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
		return nil, nil, shop.At("day", shop.Saying(shop.Invalid, words.Say("refused.ahead", words.Args{"day": d.Day, "today": today})))
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
		return nil, shop.Saying(shop.Conflict, words.Say("refused.deliver-back", words.Args{"n": words.Whole(d.Number), "order": orderNumber(o)}))
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

// orderNumber is an order's number, in a sentence.
func orderNumber(o *book.Order) words.Value { return words.Name(strconv.Itoa(o.Number)) }

// noLine says that an order has no such line.
func noLine(o *book.Order, line int) error {
	return shop.Saying(shop.NotFound, words.Say("refused.no-line", words.Args{"order": orderNumber(o), "line": words.Whole(line)}))
}
