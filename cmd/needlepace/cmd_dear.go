package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/paper"
)

// PlanCostsCmd says what the plan sews at a higher cost than it was quoted with.
type PlanCostsCmd struct {
	ShopFlags
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each line."`
	XLSX string `name:"xlsx" help:"Write the table to an .xlsx workbook." placeholder:"FILE"`
}

// Run asks and lays the answer out.
func (a *PlanCostsCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"--xlsx", a.XLSX, ".xlsx"}); err != nil {
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
		if a.XLSX != "" {
			if err := writeXLSX(a.XLSX, []paper.Sheet{paper.TableSheet("Costs", x.Table())}); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, x)
		case a.CSV:
			return x.Table().WriteCSV(c.Out)
		}
		writeSentences(c.Out, "", x.Verdict)
		writeSentences(c.Out, "! ", x.Caveats)
		if len(x.Rows) > 0 {
			fmt.Fprintln(c.Out)
			d.table(x.Table(), "")
		}
		return nil
	})
}
