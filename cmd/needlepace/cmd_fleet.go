package main

import (
	"needlepace/ask"
	"needlepace/machine"
)

// PlanFleetCmd says how the real book would have gone with another fleet.
type PlanFleetCmd struct {
	ShopFlags
	Months    int     `help:"Finished orders that came in so many last months, beside the open ones." default:"3" placeholder:"N"`
	Add       string  `help:"A machine more: one like this machine of the shop, a built-in class, or a sheet file." placeholder:"MACHINE"`
	Like      string  `help:"The shop's machine whose fields, frames, speed setting and prices --add has, where it is none of the shop." placeholder:"NAME"`
	Price     float64 `help:"What the machine of --add costs. Default: as the one that it is like." placeholder:"AMOUNT"`
	Without   string  `help:"A machine that is not there." placeholder:"NAME"`
	HeadsOf   string  `help:"A machine with another head count: give --heads." placeholder:"NAME"`
	Heads     int     `help:"The heads of --heads-of." placeholder:"N"`
	Operators float64 `help:"More operators in every shift; fewer as --operators=-1." placeholder:"N"`
	Shift     string  `help:"A shift more: days, hours, operators, e.g. \"sat 08:00-12:00 2\"." placeholder:"SHIFT"`
	NoShift   string  `help:"The shift that begins at this time is left out, e.g. 12:00." placeholder:"TIME"`
	TableOut
}

// Run asks and lays the answer out.
func (a *PlanFleetCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	q := ask.HindsightQuestion{Months: a.Months, Add: a.Add, Like: a.Like, Price: a.Price, Without: a.Without,
		HeadsOf: a.HeadsOf, Heads: a.Heads, Operators: a.Operators, Shift: a.Shift, NoShift: a.NoShift}
	return a.use(c, func(d *desk) error {
		q.Now = d.Now()
		if _, err := d.Machines.Find(c.Context, a.Add); a.Add != "" && err != nil {
			if _, ok := machine.Class(a.Add); !ok {
				if q.Sheet, err = loadSheet(a.Add); err != nil {
					return err
				}
			}
		}
		x, err := ask.Hindsight(c.Context, d.Asked(), q)
		if err != nil {
			return err
		}
		return a.tell(d, "Fleet", x, x.Table(), x.Verdict, x.Caveats)
	})
}
