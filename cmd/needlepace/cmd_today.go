package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/picture"
)

// TodayCmd is the shop at a moment.
type TodayCmd struct {
	ShopFlags
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each machine."`
}

// Run asks and lays the answer out.
func (a *TodayCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		told, err := d.Told(c.Context)
		if err != nil {
			return err
		}
		x, err := ask.Today(c.Context, d.Asked(), ask.TodayQuestion{Now: d.Now(), Heard: told})
		if err != nil {
			return err
		}
		switch {
		case a.JSON:
			return writeJSON(c.Out, x)
		case a.CSV:
			return x.MachineTable().WriteCSV(c.Out)
		}
		d.say("", x.Verdict)
		fmt.Fprintln(c.Out)
		d.table(x.MachineTable(), "")
		if len(x.Needs) > 0 {
			fmt.Fprintf(c.Out, "\n%s\n", x.NeedTable().Caption.Text(d.writer))
			d.table(x.NeedTable(), "")
		}
		if len(x.Watch) > 0 {
			fmt.Fprintln(c.Out)
		}
		for i := range x.Watch {
			fmt.Fprintf(c.Out, "! %s\n", x.Watch[i].Say.Text(d.writer))
		}
		fmt.Fprintln(c.Out)
		d.say("", x.Caveats)
		return nil
	})
}

// LeftCmd is what is left of a run.
type LeftCmd struct {
	ShopFlags
	Machine string `arg:"" help:"The machine that stands."`
	Stitch  int    `arg:"" help:"The stitch that it stands at."`
	Order   string `arg:"" optional:"" help:"The number of the order that is on it. Default: what the floor or the plan has there."`
	Line    int    `help:"Which line." default:"1"`
	JSON    bool   `name:"json" help:"One JSON object."`
}

// Run asks and lays the answer out.
func (a *LeftCmd) Run(c *Ctx) error {
	return a.use(c, func(d *desk) error {
		q := ask.LeftQuestion{Now: d.Now(), Machine: a.Machine, Stitch: a.Stitch, Order: a.Order, Line: a.Line}
		x, err := ask.Left(c.Context, d.Asked(), q)
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, x)
		}
		d.say("", x.Verdict)
		ts := picture.TextStrip{Width: min(d.OutWidth(), 72)}
		parts := picture.PartsOf(x.Parts)
		fmt.Fprintf(c.Out, "\n%s\n%s\n\n", ts.Bar(parts, 0), ts.Legend(parts, false))
		d.say("", x.Caveats)
		return nil
	})
}
