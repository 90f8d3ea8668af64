package act

import (
	"context"
	"fmt"
	"strconv"

	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// GoodsHere says that the goods of an order's line have come, before the day
// they were to come; of a line whose garments come in deliveries, the next one.
// From then on it may be sewn.
func (s *Shop) GoodsHere(ctx context.Context, id string, line int, by string) (*book.Order, error) {
	o, err := s.Orders.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	today, err := s.today(ctx)
	l := o.Line(line)
	if err != nil || l == nil {
		return o, err
	}
	day := l.Waits(o.Goods, today)
	if day.IsZero() {
		return o, nil
	}
	if next := l.GarmentBatches(o.Goods, today)[0]; next.N > 0 {
		l.Deliveries[next.N-1].Came = today
	} else {
		o.Goods = words.Day{}
	}
	return s.keep(ctx, book.Seen{}, o, by, fmt.Sprintf("the goods are here (were to come %s)", day), shop.Keeping{})
}

func (s *Shop) today(ctx context.Context) (words.Day, error) {
	zone, err := s.Setups.Zone(ctx)
	return zone.Day(s.now()), err
}

// goodsCome refuses to begin a line that has no goods yet, or no approval.
func (s *Shop) goodsCome(ctx context.Context, o *book.Order, l *book.OrderLine) error {
	today, err := s.today(ctx)
	if err != nil {
		return err
	}
	if l.Approval.Wanted() {
		return shop.At("approval", shop.Saying(shop.Invalid, words.Say("refused.not-approved", words.Args{
			"line": words.Whole(l.Line), "order": words.Name(strconv.Itoa(o.Number))})))
	}
	day := l.Waits(o.Goods, today)
	if day.IsZero() {
		return nil
	}
	return shop.At("goods", shop.Saying(shop.Invalid, words.Say("refused.goods", words.Args{
		"order": words.Name(strconv.Itoa(o.Number)), "day": day})))
}
