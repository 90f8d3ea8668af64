package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/paper"
)

// OrderAfterCmd says how jobs that are done went against their quotes.
type OrderAfterCmd struct {
	ShopFlags
	By   string `help:"One row for each order, design, customer or machine." default:"order" enum:"order,design,customer,machine"`
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each order, design, customer or machine."`
	XLSX string `name:"xlsx" help:"Write the table to an .xlsx workbook." placeholder:"FILE"`
}

// Run asks and lays the answer out.
func (a *OrderAfterCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"--xlsx", a.XLSX, ".xlsx"}); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		x, err := ask.After(c.Context, d.Asked(), ask.AfterQuestion{By: a.By})
		if err != nil {
			return err
		}
		if a.XLSX != "" {
			if err := writeXLSX(a.XLSX, []paper.Sheet{paper.TableSheet(x.By, x.Table())}); err != nil {
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
			writeTable(c.Out, x.Table(), "")
		}
		return nil
	})
}
