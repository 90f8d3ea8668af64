package main

import (
	"needlepace/ask"
)

// PlanCostsCmd says what the plan sews at a higher cost than it was quoted with.
type PlanCostsCmd struct {
	ShopFlags
	TableOut
}

// Run asks and lays the answer out.
func (a *PlanCostsCmd) Run(c *Ctx) error {
	if err := a.check(); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		x, err := ask.Dear(c.Context, d.Asked())
		if err != nil {
			return err
		}
		if x == nil {
			return usagef("there is no plan yet; make one first")
		}
		return a.tell(d, "Costs", x, x.Table(), x.Verdict, x.Caveats)
	})
}
