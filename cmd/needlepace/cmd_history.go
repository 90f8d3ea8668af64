package main

import (
	"fmt"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/words"
)

// HistoryCmd lists what was changed in the shop.
type HistoryCmd struct {
	ShopFlags
	Last int    `help:"Only the last so many changes; 0: all that is kept." default:"50" placeholder:"N"`
	Of   string `help:"Only what was done to one kind of thing: order, design, machine, plan, account, token, phone …" placeholder:"KIND"`
	JSON bool   `name:"json" help:"One JSON object for each change, one a line."`
	CSV  bool   `name:"csv" help:"One CSV row for each change."`
}

// Run lists the changes, newest first.
func (a *HistoryCmd) Run(c *Ctx) error {
	if a.Last < 0 {
		return usagef("--last %d: give 1 or more, or 0 for all", a.Last)
	}
	return a.use(c, func(d *desk) error {
		most := a.Last
		if most == 0 {
			most = shop.KeptHistory
		}
		all, err := d.Changes.All(c.Context, shop.Owner, shop.ChangeQuery{Thing: a.Of}, most)
		if err != nil {
			return err
		}
		zone, err := d.Setups.Zone(c.Context)
		if err != nil {
			return err
		}
		switch {
		case a.JSON:
			for _, ch := range all {
				if err := writeJSON(c.Out, ch); err != nil {
					return err
				}
			}
		case a.CSV:
			return act.HistoryTable(all, zone).WriteCSV(c.Out)
		case len(all) == 0:
			fmt.Fprintln(c.Out, words.Say("history.none").Text(d.writer))
		default:
			d.table(act.HistoryTable(all, zone), "")
		}
		return nil
	})
}
