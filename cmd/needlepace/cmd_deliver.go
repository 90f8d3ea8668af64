package main

import (
	"needlepace/book"
	"needlepace/words"
)

// OrderDeliverCmd says that the customer got a part of an order.
type OrderDeliverCmd struct {
	ShopFlags
	Order  string    `arg:"" help:"The order's number."`
	Line   int       `help:"Which line." default:"1"`
	Pieces int       `short:"n" help:"Pieces. Default: all that are sewn and not delivered yet." placeholder:"N"`
	Day    words.Day `help:"The day. Default: today." placeholder:"DAY"`
	Undo   string    `help:"Take back what has that number: it stays in the list and no longer counts." placeholder:"N"`
	Note   string    `help:"Note on why, for the history."`
	WhoFlag
	JSON bool `name:"json" help:"One JSON object."`
}

// Run delivers, or takes a delivery back.
func (a *OrderDeliverCmd) Run(c *Ctx) error {
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		if a.Undo != "" {
			o, err = d.TakeBackDelivery(c.Context, o.ID, a.Undo, o.Version, a.Note, a.Who)
		} else {
			o, _, err = d.Deliver(c.Context, book.HandOver{OrderID: o.ID, Line: a.Line, Pieces: a.Pieces, Day: a.Day,
				Note: a.Note}, o.Version, a.Who)
		}
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, o)
		}
		return toldLast(d, o)
	})
}
