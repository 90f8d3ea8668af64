package main

import (
	"needlepace/ask"
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
		x, err := ask.Rough(c.Context, d.Asked(), q)
		if err != nil {
			return err
		}
		return a.tell(d, "Rough", x, x.Table(), x.Verdict, x.Caveats)
	})
}
