package orders

import (
	"context"
	"fmt"
	"strings"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/shop"
	"needlepace/words"
)

const (
	mostLinesOfOrder = 200
)

// checkOrder checks an order against what it was (nil: new) and tidies it.
func (s *Orders) checkOrder(ctx context.Context, o, was *book.Order) error {
	o.Customer, o.Note = strings.TrimSpace(o.Customer), strings.TrimSpace(o.Note)
	if err := shop.CheckText("customer", o.Customer, 200, true); err != nil {
		return shop.At("customer", err)
	}
	if err := checkLetter(o); err != nil {
		return err
	}
	if err := shop.CheckText("note", o.Note, 4000, false); err != nil {
		return shop.At("note", err)
	}
	if !(o.Weight >= 0 && o.Weight <= book.MostWeight) {
		return shop.At("weight", shop.Invalidf("the priority is %v; give 0 to %v, 1 for an ordinary order",
			o.Weight, book.MostWeight))
	}
	today, err := s.today(ctx)
	if err != nil {
		return err
	}
	if was == nil { // a finished order may be put in later than it came
		zone, err := s.zone(ctx)
		if err != nil {
			return err
		}
		today = zone.Day(o.Made)
	}
	for _, d := range []struct {
		key, what   string
		day, before words.Day
	}{
		{"due", "due day", o.Due, wasDay(was, func(o *book.Order) words.Day { return o.Due })},
		{"latest", "latest day", o.Latest, wasDay(was, func(o *book.Order) words.Day { return o.Latest })},
		{"goods", "day the goods come", o.Goods, wasDay(was, func(o *book.Order) words.Day { return o.Goods })},
		{"promised", "promised day", o.Promised, wasDay(was, func(o *book.Order) words.Day { return o.Promised })},
	} {
		if d.day.IsZero() {
			continue
		}
		// Days that were kept may pass; new ones must lie ahead.
		if d.day.Before(today) && d.day != d.before && d.key != "goods" {
			return shop.At(d.key, shop.Invalidf("the %s %s has passed: today is %s", d.what, d.day.Text(nil), today.Text(nil)))
		}
	}
	if !o.Due.IsZero() && o.Goods.After(o.Due) {
		return shop.At("goods", shop.Invalidf("the goods come on %s, after the due day %s", o.Goods, o.Due))
	}
	for _, d := range []struct {
		what        string
		day, before words.Day
	}{{"due day", o.Due, wasDay(was, func(o *book.Order) words.Day { return o.Due })},
		{"promised day", o.Promised, wasDay(was, func(o *book.Order) words.Day { return o.Promised })},
		{"day the goods come", o.Goods, wasDay(was, func(o *book.Order) words.Day { return o.Goods })}} {
		kept := was != nil && was.Latest == o.Latest && d.day == d.before // as an earlier version, or a quote, left it
		if !o.Latest.IsZero() && d.day.After(o.Latest) && !kept {
			return shop.At("latest", shop.Invalidf("the latest day is %s, before the %s, %s", o.Latest.Text(nil), d.what,
				d.day.Text(nil)))
		}
	}
	switch n := len(o.Lines); {
	case n == 0 && len(o.Roughs) == 0:
		return shop.Invalidf("the order has no design: give at least one with a quantity")
	case n > mostLinesOfOrder:
		return shop.Invalidf("the order has %d lines; at most %d are kept: put the rest into another order, or garments of one design into one line with their sizes", n, mostLinesOfOrder)
	}
	for i := range o.Lines {
		if err := s.checkLine(ctx, o, i+1, was); err != nil {
			return err
		}
	}
	return nil
}

// mostAddress is how many lines an address has at most.
const mostAddress = 8

// checkLetter checks and tidies what stands at the head of the customer's papers.
func checkLetter(o *book.Order) error {
	o.PurchaseOrder = strings.TrimSpace(o.PurchaseOrder)
	if err := shop.CheckText("purchase order", o.PurchaseOrder, 60, false); err != nil {
		return shop.At("purchase_order", err)
	}
	lines := []string{}
	for _, s := range o.CustomerAddress {
		if s = strings.TrimSpace(s); s == "" {
			continue
		}
		if err := shop.CheckText("line of the address", s, 100, false); err != nil {
			return shop.At("customer_address", err)
		}
		lines = append(lines, s)
	}
	if len(lines) > mostAddress {
		return shop.At("customer_address", shop.Invalidf("the address has %d lines; at most %d stand on a paper",
			len(lines), mostAddress))
	}
	o.CustomerAddress = lines
	return nil
}

func wasDay(was *book.Order, of func(*book.Order) words.Day) words.Day {
	if was == nil {
		return words.Day{}
	}
	return of(was)
}

// checkLine checks the order's n-th line, from 1.
func (s *Orders) checkLine(ctx context.Context, o *book.Order, n int, was *book.Order) error {
	l := &o.Lines[n-1]
	at, key := fmt.Sprintf("line %d", l.Line), fmt.Sprintf("line[%d]", n)
	switch {
	case l.Quantity < 1:
		return shop.At(key+".quantity", shop.Invalidf("%s: the quantity is %d; give 1 or more pieces", at, l.Quantity))
	case l.Quantity > floor.MaxQuantity:
		return shop.At(key+".quantity", shop.Invalidf("%s: the quantity is %d; at most %d can be planned", at,
			l.Quantity, floor.MaxQuantity))
	case l.MostMachines < 0:
		return shop.At(key+".machines",
			shop.Invalidf("%s: it may be split over %d machines; give 0 (as the plan finds best) or more", at,
				l.MostMachines))
	}
	for _, c := range []struct {
		what, text string
		most       int
	}{{"placement", l.Placement, 200}, {"garment", l.Garment, 200}} {
		if err := shop.CheckText(c.what, c.text, c.most, false); err != nil {
			return shop.At(key+"."+c.what, shop.Invalidf("%s: %w", at, err))
		}
	}
	if len(l.Threads) > 200 {
		return shop.At(key+".threads",
			shop.Invalidf("%s: %d thread colours; at most 200 are kept", at, len(l.Threads)))
	}
	l.Threads = append([]string{}, l.Threads...)
	for i, t := range l.Threads {
		l.Threads[i] = strings.TrimSpace(t)
		if err := shop.CheckText("thread colour", t, 200, false); err != nil {
			return shop.At(key+".threads", shop.Invalidf("%s: %w", at, err))
		}
	}
	if err := checkPieces(l); err != nil {
		return shop.At(key+"."+err.key, shop.Invalidf("%s: %w", at, err.error))
	}
	if err := l.Floor().Clock(0).Validate(); err != nil {
		return shop.At(key+".speed", shop.Invalidf("%s: %w", at, err))
	}
	if l.Holds == nil {
		l.Holds = []book.Hold{}
	}
	if err := s.checkNameFiles(ctx, l, was); err != nil {
		return shop.At(key+".names", shop.Invalidf("%s: %w", at, err))
	}
	d, err := s.store.Design(ctx, l.DesignID)
	if shop.CodeOf(err) == shop.NotFound {
		return shop.Errorf(shop.NotFound, "%s: there is no design %q in the shop; add its file first", at, l.DesignID)
	}
	if err != nil {
		return err
	}
	kept := was != nil && was.Line(l.Line) != nil && was.Line(l.Line).DesignID == l.DesignID
	if d.Removed && !kept {
		return shop.Invalidf("%s: the design %q was taken off the list of designs; put it back first", at, d.Name)
	}
	return nil
}

// checkNameFiles checks that the stitch files of a line's names are on the list of
// designs, or were the line's already. A line whose names are sewn alone goes under the
// first one's.
func (s *Orders) checkNameFiles(ctx context.Context, l *book.OrderLine, was *book.Order) error {
	if l.NamesAlone && l.Good+l.Spoilt == 0 {
		l.DesignID = l.Names[0].DesignID
	}
	known := map[string]bool{}
	if was != nil {
		if k := was.Line(l.Line); k != nil {
			for _, n := range k.Names {
				known[n.DesignID] = true
			}
		}
	}
	for i, n := range l.Names {
		if known[n.DesignID] {
			continue
		}
		d, err := s.store.Design(ctx, n.DesignID)
		switch {
		case shop.CodeOf(err) == shop.NotFound:
			return fmt.Errorf("name %d (%s): there is no design %q in the shop; add its file first", i+1, n.Name, n.DesignID)
		case err != nil:
			return err
		case d.Removed:
			return fmt.Errorf("name %d (%s): the design %q was taken off the list of designs; put it back first", i+1, n.Name, d.Name)
		}
		known[n.DesignID] = true
	}
	return nil
}
