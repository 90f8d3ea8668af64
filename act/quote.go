package act

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// KeepQuote makes a quote and keeps it. An order that was requested is quoted then,
// and the quote's day is the order's promised day; none is where it would be after the
// order's latest day. An agreed order keeps the day that it was promised. saw is the state the quote
// was looked at in; nil where nobody looked.
func (s *Shop) KeepQuote(
	ctx context.Context, q ask.QuoteQuestion, saw *book.Seen, by string,
) (*ask.PricedOrder, error) {
	a, err := ask.Quote(s.Elsewhere(ctx), s.Asked(), q)
	if err != nil {
		return nil, err
	}
	if err := still(saw, a.Seen); err != nil {
		return nil, err
	}
	o, err := s.Orders.Get(ctx, a.OrderID)
	if err != nil {
		return nil, err
	}
	if o.Version != a.Seen.Order {
		return nil, shop.Stale("the order")
	}
	a.ID, a.By = shop.NewID(), by
	doc, err := json.Marshal(a.Quote)
	if err != nil {
		return nil, err
	}
	if o.State == book.Requested {
		o.State = book.Quoted
	}
	if o.State == book.Quoted || o.Promised.IsZero() { // what was agreed stays until the new quote is
		o.Promised = a.Promise
	}
	what := fmt.Sprintf("quote %s, day to promise %s", a.Serial, orNone(a.Promise))
	kept := &shop.KeptQuote{ID: a.ID, OrderID: o.ID, Made: a.Made, By: by, Doc: string(doc)}
	_, err = s.keep(ctx, a.Seen, o, by, what, shop.Keeping{Quote: kept})
	return a, err
}

// AcceptQuote takes an order into the plan as one of its quotes has it: what the
// quote was for is agreed, and its day is promised. version is the order's that
// was looked at; 0: whatever it is. A day that is not sure any more as things are now is promised
// only where that is known: anyway.
func (s *Shop) AcceptQuote(ctx context.Context, orderID, quoteID string, version int, anyway bool, by string) (*book.Order, error) {
	o, err := s.at(ctx, orderID, version)
	if err != nil {
		return nil, err
	}
	all, err := s.Plans.Quotes(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(all, func(q *book.Quote) bool { return q.ID == quoteID })
	if i < 0 {
		return nil, shop.Errorf(shop.NotFound, "order %d has no such quote", o.Number)
	}
	q := all[i]
	if !slices.Contains([]book.OrderState{book.Requested, book.Quoted, book.Agreed}, o.State) {
		return nil, shop.Invalidf("order %d is %s: its quote cannot be accepted any more", o.Number, o.State)
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	today, first := w.Zone.Day(s.now()), cmp.Or(q.Promise, q.TooLate)
	switch {
	case q.Valid.Before(today):
		return nil, shop.Invalidf("quote %s was valid to %s; make a new one", q.Serial, q.Valid)
	case !first.IsZero() && first.Before(today):
		return nil, shop.Invalidf("the day that quote %s promises, %s, has passed; make a new one", q.Serial, first.Text(nil))
	case !o.Latest.IsZero() && first.After(o.Latest):
		return nil, shop.Invalidf("the first day of quote %s, %s, is after the latest day of order %d, %s: give it another latest day, or make a new quote",
			q.Serial, first.Text(nil), o.Number, o.Latest.Text(nil))
	case len(o.Roughs) > 0 || !q.IsFor(o):
		return nil, shop.Errorf(shop.Conflict, "order %d asks for other goods than quote %s; make a new one", o.Number,
			q.Serial)
	}
	sure, err := s.QuoteNow(ctx, o, q)
	if err != nil {
		return nil, err
	}
	if !sure.IsZero() && !anyway {
		return nil, shop.Errorf(shop.Conflict, "the day of quote %s, %s, is not sure any more: as things are now the first day that can be promised is %s. Accept it all the same, or make a new quote",
			q.Serial, first.Text(nil), sure.Text(nil))
	}
	was := o.State
	o.State, o.Promised = book.Agreed, first
	what := fmt.Sprintf("%s (was %s): quote %s accepted, %s promised", o.State, was, q.Serial, orNone(first))
	if !sure.IsZero() {
		what += fmt.Sprintf(", though the first sure day is %s by now", sure.Text(nil))
	}
	return s.keep(ctx, book.Seen{}, o, by, what, shop.Keeping{})
}

// QuoteNow is the first day that could be promised now for what a quote was made for, where that is after the
// day of the quote; zero: that day can be kept, or the quote has none.
func (s *Shop) QuoteNow(ctx context.Context, o *book.Order, q *book.Quote) (words.Day, error) {
	first := cmp.Or(q.Promise, q.TooLate)
	if first.IsZero() {
		return words.Day{}, nil
	}
	a, err := ask.Promise(s.Elsewhere(ctx), s.Asked(), ask.PromiseQuestion{Now: s.now(), Order: o.ID, Chance: q.Chance})
	if err != nil {
		return words.Day{}, err
	}
	if now := cmp.Or(a.Promise, a.TooLate); now.After(first) {
		return now, nil
	}
	return words.Day{}, nil
}

// KeepPromise freezes the day that the kept plan can promise an order: the plan
// works to it from then on. saw is the state the day was looked at in.
func (s *Shop) KeepPromise(ctx context.Context, orderID string, saw *book.Seen, by string) (*book.Order, error) {
	a, err := ask.Promise(ctx, s.Asked(), ask.PromiseQuestion{Now: s.now(), Order: orderID, AsPlanned: true})
	if err != nil {
		return nil, err
	}
	if err := still(saw, a.Seen); err != nil {
		return nil, err
	}
	o, err := s.at(ctx, orderID, a.Seen.Order)
	if err != nil {
		return nil, err
	}
	if !a.TooLate.IsZero() {
		return nil, shop.Invalidf("the first day that order %d could be promised by the plan, %s, is after its latest day, %s: give it another place in the plan, or "+
			"another latest day", o.Number, a.TooLate.Text(nil), a.Latest.Text(nil))
	}
	day := a.Promise
	if day == o.Promised {
		return o, nil
	}
	what := fmt.Sprintf("promised %s (was %s), as the plan has it", orNone(day), orNone(o.Promised))
	o.Promised = day
	return s.keep(ctx, a.Seen, o, by, what, shop.Keeping{})
}

func orNone(day words.Day) string {
	if day.IsZero() {
		return "no day"
	}
	return day.Text(nil)
}

// at finds an order and checks that it is still at the version seen.
func (s *Shop) at(ctx context.Context, id string, version int) (*book.Order, error) {
	o, err := s.Orders.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	if version != 0 && o.Version != version {
		return nil, shop.Stale("the order")
	}
	return o, nil
}
