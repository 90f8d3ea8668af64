package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/paper"
)

// PlanThreadCmd is the thread that the plan will use.
type PlanThreadCmd struct {
	ShopFlags
	Days int    `help:"Days from today on. Default: all of it." placeholder:"N"`
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each day and thread."`
	XLSX string `name:"xlsx" help:"Write the list to an .xlsx workbook." placeholder:"FILE"`
}

// Run lists it.
func (a *PlanThreadCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"--xlsx", a.XLSX, ".xlsx"}); err != nil {
		return err
	}
	return a.use(c, func(d *desk) error {
		t, err := ask.ThreadList(c.Context, d.Asked(), ask.ThreadQuestion{Now: d.Now(), Days: a.Days})
		if err != nil {
			return err
		}
		if a.XLSX != "" {
			if err := writeXLSX(a.XLSX, paper.ThreadSheets(t)); err != nil {
				return err
			}
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, t)
		case a.CSV:
			return t.DayTable().WriteCSV(c.Out)
		}
		d.say("", t.Verdict)
		fmt.Fprintln(c.Out)
		d.table(t.DayTable(), "")
		fmt.Fprintln(c.Out)
		d.table(t.ThreadTable(), "")
		fmt.Fprintln(c.Out)
		d.say("", t.Caveats)
		return nil
	})
}
