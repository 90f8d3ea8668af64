package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// RecordCmd keeps what the floor says about pieces.
type RecordCmd struct {
	ShopFlags
	Order   string    `arg:"" optional:"" help:"The order's number. Without one: what the reports say about the machines."`
	Machine string    `arg:"" optional:"" help:"The machine's name."`
	Line    int       `help:"Which line." default:"1"`
	Good    int       `help:"Pieces to standard."`
	Spoilt  int       `help:"Pieces that are not."`
	Breaks  int       `help:"Thread breaks; leave it out where nobody counted." default:"-1"`
	Held    float64   `help:"Minutes the pieces held the machine, first start to last unloading, without pauses and set-up." placeholder:"N"`
	Timed   float64   `name:"run" help:"One run by the watch, start button to standing, in seconds: the machine learns from it." placeholder:"S"`
	Speed   float64   `help:"The speed it was set to, in stitches/min. Default: the machine's setting." placeholder:"N"`
	Day     words.Day `help:"The day. Default: today." placeholder:"DAY"`
	Off     bool      `help:"Take the line off the machine though pieces are left."`
	Note    string    `help:"Note on what was odd."`
	ColourFlag
	WhoFlag
	JSON bool `name:"json" help:"One JSON object."`
}

// Run records, or shows what the records say.
func (a *RecordCmd) Run(c *Ctx) error {
	if (a.Order == "") != (a.Machine == "") {
		return usagef("name the machine too: needlepace record %s MACHINE --good N", a.Order)
	}
	return a.use(c, func(d *desk) error {
		if a.Order == "" {
			return ratesText(d, a.JSON)
		}
		o, m, err := d.find(a.Order, a.Machine)
		if err != nil {
			return err
		}
		r, err := d.Record(c.Context, book.Report{OrderID: o.ID, Line: a.Line, MachineID: m.ID, Day: a.Day,
			Good: a.Good, Spoilt: a.Spoilt, Breaks: a.Breaks,
			Seconds: a.Held * 60, RunTimed: a.Timed, SetSpeed: a.Speed, Note: a.Note, Colour: a.Colour}, a.Off, a.Who)
		if err != nil {
			return err
		}
		if a.JSON {
			return writeJSON(c.Out, r.Report)
		}
		l := r.Order.Line(a.Line)
		fmt.Fprintf(c.Out, "%d: %d good, %d spoilt on %s; %d of %d sewn. The order is %s.\n", o.Number, a.Good,
			a.Spoilt, m.Name, l.Good, l.Quantity, r.Order.State)
		if r.Real > 0 {
			fmt.Fprintf(c.Out, "  a piece took %s, predicted %s (%s)\n", long(r.Real),
				long(r.Predicted),
				words.Signed{Numeric: words.Share(r.Real/r.Predicted - 1)}.Text(nil))
		}
		for _, n := range r.Notes {
			fmt.Fprintln(c.Out, "  note:", n)
		}
		return nil
	})
}

// rateRow is record --json without an order.
type rateRow struct {
	Machine string  `json:"machine"`
	Breaks  float64 `json:"breaks_per_1000"`
	Counted int     `json:"breaks_counted"`
	Sewn    float64 `json:"head_stitches"`
	Pace    float64 `json:"pace"`
	Hours   float64 `json:"hours_timed"`
	Reports int     `json:"reports_timed"`
}

func ratesText(d *desk, asJSON bool) error {
	rates, err := ask.FloorRates(d.Context, d.Asked())
	if err != nil {
		return err
	}
	t := table{align: "lrrrr"}
	t.row("machine", "a break every", "breaks counted", "pace", "hours timed")
	t.rule()
	for _, r := range rates {
		if asJSON {
			if err := writeJSON(d.Out, rateRow{r.Machine.Name, r.Breaks, r.Counted, r.Sewn, r.Pace, r.Hours,
				r.Runs}); err != nil {
				return err
			}
			continue
		}
		every := "never"
		if r.Breaks > 0 {
			every = thousands(int(1000/r.Breaks)) + " stitches"
		}
		t.row(r.Machine.Name, every, whole(r.Counted), fmt.Sprintf("%.2f", r.Pace), fmt.Sprintf("%.1f", r.Hours))
	}
	if asJSON {
		return nil
	}
	t.write(d.Out)
	fmt.Fprintln(d.Out,
		"Pace is real time ÷ predicted time: plans and quotes multiply by it. A break every so many stitches of one "+
			"head.")
	return nil
}
