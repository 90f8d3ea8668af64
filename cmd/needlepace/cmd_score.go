package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

// MachinesScoreCmd says how good the clock's predictions have been.
type MachinesScoreCmd struct {
	ShopFlags
	Machine string `arg:"" optional:"" help:"The machine's name. Without one: every machine of the shop."`
	JSON    bool   `name:"json" help:"One JSON object for each machine, one a line."`
	CSV     bool   `name:"csv" help:"One CSV row for each run of one machine."`
}

// Run scores the shop's machines.
func (a *MachinesScoreCmd) Run(c *Ctx) error {
	if a.CSV && a.JSON {
		return usagef("choose --json or --csv")
	}
	if a.CSV && a.Machine == "" {
		return usagef("name the machine whose runs go into the file: needlepace machines score MACHINE --csv")
	}
	return a.use(c, func(d *desk) error {
		var all []*shop.Machine
		var err error
		if a.Machine == "" {
			all, err = d.Machines.List(c.Context)
		} else {
			all = make([]*shop.Machine, 1)
			all[0], err = d.Machines.Find(c.Context, a.Machine)
		}
		if err != nil {
			return err
		}
		for i, m := range all {
			x, err := d.Score(c.Context, m.ID)
			switch {
			case err != nil:
			case a.JSON:
				err = writeJSON(c.Out, x)
			case a.CSV:
				err = x.RunsTable().WriteCSV(c.Out)
			default:
				if i > 0 {
					fmt.Fprintln(c.Out)
				}
				a.print(c, x)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

func (a *MachinesScoreCmd) print(c *Ctx, x *ask.ScoreAnswer) {
	w := c.Out
	writeLine(w, "", words.Say("score.title", words.Args{"machine": words.Name(x.Machine)}))
	fmt.Fprintln(w)
	writeSentences(w, "  ", x.Verdict)
	writeSentences(w, "  ! ", x.Caveats)
	if len(x.Sheets) > 1 {
		fmt.Fprintln(w)
		writeTable(w, x.SheetsTable(), "  ")
	}
	if t := x.RunsTable(); a.Machine != "" && len(t.Rows) > 0 {
		fmt.Fprintln(w)
		writeTable(w, t, "  ")
	}
}
