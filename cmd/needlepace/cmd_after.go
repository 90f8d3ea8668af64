package main

import (
	"needlepace/ask"
)

// OrderAfterCmd says how jobs that are done went against their quotes.
type OrderAfterCmd struct {
	ShopFlags
	By string `help:"One row for each order, design, customer or machine." default:"order" enum:"order,design,customer,machine"`
	TableOut
}

// Run asks and lays the answer out.
func (a *OrderAfterCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		x, err := ask.After(c.Context, d.Asked(), ask.AfterQuestion{By: a.By})
		if err != nil {
			return err
		}
		return a.tell(d, x.By, x, x.Table(), x.Verdict, x.Caveats)
	})
}
