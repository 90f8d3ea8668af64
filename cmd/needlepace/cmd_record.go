package main

import (
	"fmt"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// RecordCmd keeps what the floor says about pieces.
type RecordCmd struct {
	ShopFlags
	Order   string    `arg:"" optional:"" help:"The order's number. Without one: what the reports say about the machines."`
	Machine string    `arg:"" optional:"" help:"The machine's name."`
	Line    *int      `help:"Which line. Default: the one that is, or is planned, on the machine." placeholder:"N"`
	Good    *int      `help:"Pieces to standard." placeholder:"N"`
	Spoilt  *int      `help:"Pieces that are not." placeholder:"N"`
	Again   *int      `help:"Of the spoilt ones: those whose garment is unpicked and sewn again; the others need a new garment." placeholder:"N"`
	Breaks  *int      `help:"Thread breaks; leave it out where nobody counted." placeholder:"N"`
	Held    *float64  `help:"Minutes the pieces held the machine, first start to last unloading, without pauses and set-up." placeholder:"N"`
	Timed   *float64  `name:"run" help:"One run by the watch, start button to standing, in seconds: the machine learns from it." placeholder:"S"`
	Speed   *float64  `help:"The speed it was set to, in stitches/min. Default: the machine's setting." placeholder:"N"`
	Day     words.Day `help:"The day. Default: today." placeholder:"DAY"`
	Off     bool      `help:"Take the line off the machine though pieces are left."`
	Over    bool      `help:"More good pieces than ordered are meant."`
	Sure    bool      `help:"The timed run is right, however far it lies from what was predicted."`
	Correct string    `help:"Put this in the place of the report of that number; what is left out stays as it was." placeholder:"N"`
	Undo    string    `help:"Take back what has that number: it stays in the list and no longer counts." placeholder:"N"`
	Note    *string   `help:"Note on what was odd."`
	ColourFlag
	WhoFlag
	JSON bool `name:"json" help:"One JSON object."`
}

// Run records, corrects or takes back, or shows what the records say.
func (a *RecordCmd) Run(c *Ctx) error {
	switch {
	case a.Order == "" && a.Undo+a.Correct != "":
		return usagef("name the order whose report it is: needlepace record ORDER --undo N")
	case a.Undo != "" && a.Correct != "":
		return usagef("give --undo or --correct, not both")
	case a.Undo != "" && a.Machine != "":
		return usagef("--undo takes no machine: needlepace record %s --undo %s", a.Order, a.Undo)
	case a.Order != "" && a.Machine == "" && a.Undo+a.Correct == "":
		return usagef("name the machine too: needlepace record %s MACHINE --good N", a.Order)
	}
	return a.use(c, func(d *desk) error {
		if a.Order == "" {
			return reportedText(d, a.JSON)
		}
		o, err := d.Orders.Get(c.Context, a.Order)
		if err != nil {
			return err
		}
		if a.Undo != "" {
			return a.undo(d, o)
		}
		r := book.Report{OrderID: o.ID, Breaks: -1}
		how := act.Recording{Off: a.Off, Over: a.Over, Saw: o.Version, Sure: a.Sure}
		if a.Correct != "" {
			old, err := d.Orders.Report(c.Context, o, a.Correct)
			if err != nil {
				return err
			}
			if a.Line != nil && *a.Line != old.Line {
				return usagef("report %s is of line %d and stays with it: take it back and record it anew for another line", a.Correct, old.Line)
			}
			r = *old
		}
		if a.Machine != "" {
			m, err := d.Machines.Find(c.Context, a.Machine)
			if err != nil {
				return err
			}
			r.MachineID = m.ID
			if a.Correct == "" && a.Line == nil {
				if r.Line, err = d.LineOn(c.Context, o, m.ID); err != nil {
					return err
				}
			}
		}
		if !a.Day.IsZero() {
			r.Day = a.Day
		}
		set(&r.Line, a.Line)
		set(&r.Good, a.Good)
		set(&r.Spoilt, a.Spoilt)
		set(&r.Again, a.Again)
		set(&r.Breaks, a.Breaks)
		set(&r.RunTimed, a.Timed)
		set(&r.SetSpeed, a.Speed)
		set(&r.Note, a.Note)
		if a.Colour != "" {
			r.Colour = a.Colour
		}
		if a.Held != nil {
			r.Seconds = *a.Held * 60
		}
		var out *act.Recorded
		if a.Correct != "" {
			out, err = d.Correct(c.Context, o.ID, a.Correct, r, how, a.Who)
		} else {
			out, err = d.Record(c.Context, r, how, a.Who)
		}
		if e := shop.ErrorOf(err); e != nil && (e.Key == "over" || e.Key == "sure") { // what is refused until it is said to be meant
			return fmt.Errorf("%w: --%s", err, e.Key)
		}
		if err != nil {
			return err
		}
		return a.told(d, out)
	})
}

// told says what came of a report.
func (a *RecordCmd) told(d *desk, r *act.Recorded) error {
	if a.JSON {
		return writeJSON(d.Out, r.Report)
	}
	m, err := d.Machines.Get(d.Context, r.Report.MachineID)
	if err != nil {
		return err
	}
	o, l := r.Order, r.Order.Line(r.Report.Line)
	fmt.Fprintf(d.Out, "%d: %d good, %d spoilt on %s; %d of %d sewn. The order is %s.\n", o.Number, r.Report.Good,
		r.Report.Spoilt, m.Name, l.Good, l.Quantity, o.State)
	if r.Real > 0 {
		fmt.Fprintf(d.Out, "  a piece took %s, predicted %s (%s)\n", long(r.Real),
			long(r.Predicted),
			words.Signed{Numeric: words.Share(r.Real/r.Predicted - 1)}.Text(nil))
	}
	for _, n := range r.Notes {
		fmt.Fprintln(d.Out, "  note:", n)
	}
	return nil
}

// undo takes a report back.
func (a *RecordCmd) undo(d *desk, o *book.Order) error {
	why := ""
	set(&why, a.Note)
	o, err := d.TakeBack(d.Context, o.ID, a.Undo, o.Version, why, a.Who)
	if err != nil {
		return err
	}
	if a.JSON {
		return writeJSON(d.Out, o)
	}
	return toldLast(d, o)
}

// toldLast says what was done to an order last.
func toldLast(d *desk, o *book.Order) error {
	h, err := d.Orders.History(d.Context, o.ID)
	if err == nil {
		fmt.Fprintf(d.Out, "%d: %s\n", o.Number, h[len(h)-1].What)
	}
	return err
}

// reportedText says what the reports make of the machines.
func reportedText(d *desk, asJSON bool) error {
	a, err := ask.Reported(d.Context, d.Asked(), "")
	if err != nil {
		return err
	}
	if asJSON {
		for _, m := range a.Machines {
			if err := writeJSON(d.Out, m); err != nil {
				return err
			}
		}
		return nil
	}
	writeTable(d.Out, a.Table(), "")
	writeSentences(d.Out, "", a.Verdict)
	for _, t := range []*ask.Table{a.SpeedTable(), a.RecordedTable()} {
		if len(t.Rows) > 0 {
			fmt.Fprintln(d.Out)
			writeTable(d.Out, t, "")
		}
	}
	writeSentences(d.Out, "", a.Speeds())
	return nil
}
