package act

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// GarmentsQuestion says what became of a delivery of a line's garments.
type GarmentsQuestion struct {
	Order   string // its ID
	Version int    // of the order that was seen; 0: whatever it is
	Line    int
	Due     words.Day // the day on which it was to come
	Came    words.Day // the day on which it came; zero, with Late zero: today
	Late    words.Day // it is not here: the day on which it comes now
}

// GarmentsCame keeps that a delivery of garments came, or that it comes on
// another day. notes are what a planner should know then.
func (s *Shop) GarmentsCame(ctx context.Context, q GarmentsQuestion, by string) (*book.Order, []string, error) {
	o, err := s.Orders.Get(ctx, q.Order)
	if err != nil {
		return nil, nil, err
	}
	if q.Version != 0 {
		o.Version = q.Version
	}
	w, _, err := s.Setups.Workshop(ctx)
	if err != nil {
		return nil, nil, err
	}
	today := w.Zone.Day(s.now())
	l := o.Line(q.Line)
	if l == nil {
		return nil, nil, noLine(o, q.Line)
	}
	l.Deliveries = slices.Clone(l.Deliveries)
	k := slices.IndexFunc(l.Deliveries, func(d book.Delivery) bool { return d.Day == q.Due })
	switch {
	case k < 0:
		return nil, nil, shop.Errorf(shop.NotFound, "line %d of order %d has no delivery of garments on %s: %s",
			q.Line, o.Number, q.Due.Text(nil), garmentsCome(o, l))
	case !q.Late.IsZero() && q.Late.Before(today):
		return nil, nil, shop.At("late", shop.Saying(shop.Invalid, words.Say("refused.passed", words.Args{"day": q.Late, "today": today})))
	case !q.Late.IsZero():
		l.Deliveries[k].Day, l.Deliveries[k].Came = q.Late, words.Day{}
	default:
		if q.Came.IsZero() {
			q.Came = today
		}
		if q.Came.After(today) {
			return nil, nil, shop.At("came", shop.Saying(shop.Invalid, words.Say("refused.ahead", words.Args{"day": q.Came, "today": today})))
		}
		l.Deliveries[k].Came = q.Came
	}
	return s.ChangeOrder(ctx, *o, by)
}

// garments is what a planner should know of the garments of an order: what was to
// come and is not here, and what the kept plan begins too soon.
func (n *noter) garments(o *book.Order) (notes words.Sentences) {
	for i := range o.Lines {
		l := &o.Lines[i]
		if !o.State.Open() || len(l.Deliveries) == 0 {
			continue
		}
		batches := l.GarmentBatches(o.Goods, n.today)
		for _, b := range batches {
			if !b.Late.IsZero() {
				notes.Say("order-note.garments-late", words.Args{"line": words.Whole(l.Line), "garments": words.Count(b.Pieces, "garment"), "day": b.Late})
			}
		}
		if n.last == nil || !o.State.Planned() {
			continue
		}
		if at, needs := tooSoon(n.last, o, l, batches, n.w.Zone); !at.IsZero() {
			notes.Say("order-note.begun-before", words.Args{"line": words.Whole(l.Line), "day": n.w.Zone.Day(at), "come": needs})
		}
	}
	return notes
}

// tooSoon is when a plan begins a lot before the garments of its last piece are
// there, and the day on which they come; zero where it does not.
func tooSoon(p *book.Plan, o *book.Order, l *book.OrderLine, batches []book.Batch, zone words.Zone) (
	at time.Time, needs words.Day,
) {
	var lots []book.PlanLot
	for _, x := range p.Lots {
		if x.OrderID == o.ID && x.Line == l.Line {
			lots = append(lots, x)
		}
	}
	slices.SortStableFunc(lots, func(a, b book.PlanLot) int { return a.From.Compare(b.From) })
	sewn := 0
	for _, x := range lots {
		there := 0
		for _, b := range batches {
			if b.From.IsZero() || !zone.Day(x.From).Before(b.From) {
				there += b.Pieces
			}
		}
		if sewn += x.Quantity; sewn > there {
			for _, b := range batches {
				if !b.From.IsZero() && zone.Day(x.From).Before(b.From) {
					return x.From, b.From
				}
			}
		}
	}
	return time.Time{}, words.Day{}
}

// garmentsCome says when a line's garments come, and how that is changed where it is by the order.
func garmentsCome(o *book.Order, l *book.OrderLine) string {
	switch {
	case len(l.Deliveries) > 0:
		var days []string
		for _, d := range l.Deliveries {
			days = append(days, d.Day.Text(nil))
		}
		return "they come on " + strings.Join(days, ", ")
	case o.Goods.IsZero():
		return "they are taken to be here; change the order where they come later"
	}
	return fmt.Sprintf("they come with the order's goods, on %s; change that day of the order", o.Goods.Text(nil))
}
