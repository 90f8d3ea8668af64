package main

import (
	"fmt"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
)

// OrderRoughCmd says what a design would come to that is not there yet.
type OrderRoughCmd struct {
	ShopFlags
	Width   float64 `arg:"" help:"Width of the design, mm."`
	Height  float64 `arg:"" help:"Height of the design, mm."`
	What    string  `help:"What it is: badge, lettering or jacket back." default:"badge" placeholder:"KIND"`
	Cover   string  `help:"How much of its box is sewn over: light (a third at most), half, or full (more than two thirds)." default:"half" placeholder:"HOW"`
	Colours int     `help:"How many thread colours." default:"4"`
	Pieces  []int   `short:"n" help:"Pieces. Default: 24." placeholder:"N"`
	OnCap   bool    `help:"It goes on caps."`
	Came    string  `help:"The design of the shop that came of it: how it differs is said too." placeholder:"DESIGN"`
	Keep    string  `help:"Keep it as a request of this customer: it stands in an order until its file comes." placeholder:"CUSTOMER"`
	InOrder string  `help:"Keep it in this order; with --came the design takes its place there." placeholder:"ORDER"`
	Which   int     `help:"With --in-order and --came: which of the order's designs without a file." default:"1" placeholder:"N"`
	WhoFlag
	TableOut
}

// Run asks and lays the answer out.
func (a *OrderRoughCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	q := ask.RoughQuestion{Width: a.Width, Height: a.Height, Kind: a.What, Cover: a.Cover, Colours: a.Colours, CapFrame: a.OnCap}
	switch len(a.Pieces) {
	case 0:
	case 1:
		q.Quantity = a.Pieces[0]
	default:
		return usagef("-n: give one number of pieces")
	}
	return a.use(c, func(d *desk) error {
		if a.Came != "" {
			des, err := d.Designs.Find(c.Context, a.Came)
			if err != nil {
				return err
			}
			q.Design = des.ID
		}
		if a.Keep != "" || a.InOrder != "" {
			return a.keep(d, q)
		}
		x, err := ask.Rough(c.Context, d.Asked(), q)
		if err != nil {
			return err
		}
		return a.tell(d, "Rough", x, x.Table(), x.Verdict, x.Caveats)
	})
}

// keep keeps what is said in an order, or puts the design that came in its place.
func (a *OrderRoughCmd) keep(d *desk, q ask.RoughQuestion) error {
	k := act.RoughKeeping{RoughQuestion: q, New: book.Order{Customer: a.Keep, Weight: 1}}
	var o *book.Order
	var err error
	if a.InOrder != "" {
		if o, err = d.Orders.Get(d.Context, a.InOrder); err != nil {
			return err
		}
		k.Order, k.Version = o.ID, o.Version
	}
	if o != nil && q.Design != "" {
		o, err = d.RoughCame(d.Context, o.ID, o.Version, a.Which, q.Design, a.Who)
	} else {
		o, err = d.KeepRough(d.Context, k, a.Who)
	}
	if err != nil {
		return err
	}
	h, err := d.Orders.History(d.Context, o.ID)
	if err != nil {
		return err
	}
	fmt.Fprintf(d.Out, "%d: %s\n", o.Number, h[len(h)-1].What)
	return nil
}
