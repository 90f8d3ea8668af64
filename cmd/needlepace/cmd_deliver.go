package main

import (
	"needlepace/book"
	"needlepace/words"
)

// OrderDeliverCmd says that the customer got a part of an order.
type OrderDeliverCmd struct {
	ShopFlags
	Order  string    `arg:"" help:"The order's number."`
	Line   int       `help:"Which line. Default: all." placeholder:"N"`
	Pieces int       `short:"n" help:"Pieces of a line. Default: all that are sewn and not delivered yet." placeholder:"N"`
	Day    words.Day `help:"The day. Default: today." placeholder:"DAY"`
	Undo   string    `help:"Take back what has that number: it stays in the list and no longer counts." placeholder:"N"`
	Note   string    `help:"Note on why, for the history."`
	WhoFlag
	JSON bool `name:"json" help:"One JSON object."`
}

// Run delivers, or takes a delivery back.
func (a *OrderDeliverCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		lines := []int{a.Line}
		switch {
		case a.Undo != "":
			if o, err = d.TakeBackDelivery(c.Context, o.ID, a.Undo, o.Version, a.Note, a.Who); err != nil {
				return err
			}
			if !a.JSON {
				return toldLast(d, o)
			}
			lines = nil
		case a.Line == 0 && a.Pieces > 0 && len(o.Lines) > 1:
			return usagef("order %d has %d lines: say with --line of which one %d pieces are", o.Number, len(o.Lines), a.Pieces)
		case a.Line == 0:
			if lines = undelivered(o); len(lines) == 0 {
				lines = []int{o.Lines[0].Line} // it says why not
			}
		}
		for _, line := range lines {
			if o, _, err = d.Deliver(c.Context, book.HandOver{OrderID: o.ID, Line: line, Pieces: a.Pieces, Day: a.Day,
				Note: a.Note}, o.Version, a.Who); err != nil {
				return err
			}
			if a.JSON {
				continue
			}
			if err = toldLast(d, o); err != nil {
				return err
			}
		}
		if a.JSON {
			return writeJSON(c.Out, o)
		}
		return nil
	})
}

// undelivered are the lines of which pieces are sewn that the customer has not got.
func undelivered(o *book.Order) (lines []int) {
	for i := range o.Lines {
		if l := &o.Lines[i]; l.Good > l.Delivered {
			lines = append(lines, l.Line)
		}
	}
	return lines
}
