package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/picture"
	"needlepace/words"
)

// RunsheetCmd is what the floor needs to sew a line.
type RunsheetCmd struct {
	ShopFlags
	Order   string `arg:"" help:"The order's number."`
	Line    int    `help:"Which line." default:"1"`
	Machine string `short:"m" help:"The machine. Default: where the plan or a hold has it." placeholder:"NAME"`
	Pieces  int    `short:"n" help:"Pieces. Default: what the plan puts there." placeholder:"N"`
	JSON    bool   `name:"json" help:"One JSON object."`
	PDF     string `name:"pdf" help:"Write the sheet to a .pdf file." placeholder:"FILE"`
	PaperFlags
}

// Run makes the sheet.
func (a *RunsheetCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"--pdf", a.PDF, ".pdf"}); err != nil {
		return err
	}
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		machine, err := d.machineID(a.Machine)
		if err != nil {
			return err
		}
		r, err := ask.RunSheet(c.Context, d.Asked(), ask.RunSheetQuestion{
			Order: o.ID, Line: a.Line, Machine: machine, Quantity: a.Pieces,
		})
		if err != nil {
			return err
		}
		if a.PDF != "" {
			if err := writeRunSheetPDF(d, r, a.PDF, a.PaperFlags); err != nil {
				return err
			}
		}
		if a.JSON {
			return writeJSON(c.Out, r)
		}
		runSheetText(d, r)
		return nil
	})
}

func runSheetText(d *desk, r *book.RunSheet) {
	w := d.Out
	fmt.Fprintf(w, "Run sheet %s, %s: %s of %s on %s\n", r.Name, r.Customer, plural(r.Quantity, "piece"), r.Design,
		r.Machine)
	for _, s := range []string{r.Garment, r.Placement, r.Note} {
		if s != "" {
			fmt.Fprintf(w, "  %s\n", s)
		}
	}
	fmt.Fprintf(w, "  %s, %.0f × %.0f mm, %s; due %s", plural(r.Stitches, "stitch"), r.WidthMM, r.HeightMM, r.Frame,
		dayOr(r.Due, "any day"))
	if !r.Planned.IsZero() {
		fmt.Fprintf(w, "; planned %s to %s", d.when(r.Planned), d.when(r.Done))
	}
	fmt.Fprintf(w, "\n\nSet %s/min: %s\n", thousands(r.Speed), r.SpeedWhy.Text(d.writer))
	fmt.Fprintf(w, "A run of %s: %s, 90 %% between %s and %s; with loading and the usual stops %s\n",
		plural(r.Heads, "head"), long(r.RunSeconds), words.Clock(r.Low).Text(nil),
		words.Clock(r.High).Text(nil), long(r.Cycle))
	fmt.Fprintf(w, "%s; with up to %s of set-up %s in all\n", plural(r.Runs, "run"), long(r.Setup),
		long(r.Total))
	ts := picture.TextStrip{Width: min(d.OutWidth(), 100)}
	parts := picture.PartsOf(r.Parts)
	fmt.Fprintf(w, "\n%s\n%s\n\n", ts.Bar(parts, 0), ts.Legend(parts, false))
	writeTable(w, ask.RunSheetBlocks(r), "")
	fmt.Fprintln(w)
	writeTable(w, ask.RunSheetThread(r), "")
	fmt.Fprintln(w)
	for _, m := range ask.RunSheetChanges(r) {
		fmt.Fprintln(w, m.Text(d.writer))
	}
	fmt.Fprintln(w)
	for _, s := range r.Cautions {
		fmt.Fprintf(w, "! %s\n", s.Text(d.writer))
	}
	if r.Page != "" {
		fmt.Fprintf(w, "\nRecord it at %s\n", r.Page)
	}
}
