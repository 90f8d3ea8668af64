package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/words"
)

// TableOut is how an answer that is one table is laid out.
type TableOut struct {
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each row of the table."`
	XLSX string `name:"xlsx" help:"Write the table to an .xlsx workbook." placeholder:"FILE"`
}

func (o TableOut) check() error { return endsIn([3]string{"--xlsx", o.XLSX, ".xlsx"}) }

// tell lays an answer out: its table on a sheet of that name, its sentences before it.
func (o TableOut) tell(d *desk, sheet string, answer any, t *ask.Table, verdict, caveats words.Sentences) error {
	if o.XLSX != "" {
		if err := writeXLSX(o.XLSX, []paper.Sheet{paper.TableSheet(sheet, t)}); err != nil {
			return err
		}
	}
	switch {
	case o.JSON:
		return writeJSON(d.Out, answer)
	case o.CSV:
		return t.WriteCSV(d.Out)
	}
	d.say("", verdict)
	d.say("! ", caveats)
	if len(t.Rows) > 0 {
		fmt.Fprintln(d.Out)
		d.table(t, "")
	}
	return nil
}
