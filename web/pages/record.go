package pages

import (
	"fmt"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// recordData is the page on which the floor records pieces.
type recordData struct {
	O        *book.Order
	L        *book.OrderLine
	Name     string
	Design   *shop.Design
	D        serve.When
	Machines []*shop.Machine
	Machine  string // chosen
	On       string // what is on that machine now
	Mine     bool
	Left     int
	Expect   string // what a run should take
	Heads    int
	Run      *ask.LineRun
	Today    string
	Last     []recordedRow
	Sewn     bool
	May      bool // the order's state allows it
	Others   []int
}

// recordedRow is one report on the list.
type recordedRow struct {
	Day, What, Time string
}

// lineAsked is the order and the line of a request.
func (c *call) lineAsked(value string) (*book.Order, *book.OrderLine, error) {
	o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
	if err != nil {
		return nil, nil, err
	}
	n := o.Lines[0].Line
	if value != "" {
		n = 0
		fmt.Sscan(value, &n) //nolint:errcheck // what is no number is no line
	}
	l := o.Line(n)
	if l == nil {
		return nil, nil, shop.Errorf(shop.NotFound, "order %d has no line %q", o.Number, value)
	}
	return o, l, nil
}

func showRecord(c *call) error {
	q := c.URL.Query()
	return c.recordPage(q.Get("line"), q.Get("machine"), nil)
}

// recordPage shows the page, with what was wrong in a form sent before.
func (c *call) recordPage(line, machineID string, wrong error) error {
	o, l, err := c.lineAsked(line)
	if err != nil {
		return err
	}
	d, _, err := c.When()
	if err != nil {
		return err
	}
	data := &recordData{O: o, L: l, Name: lineName(o, l.Line), D: d, Left: l.Left(), Today: d.Today().String(), Sewn: l.Left() == 0, May: o.State.Planned() || o.State == book.Sewn, Machine: machineID}
	if data.Design, _, err = c.Shop.Designs.Get(c.Ctx, l.DesignID); err != nil {
		return err
	}
	if data.Machines, err = c.Shop.Machines.List(c.Ctx); err != nil {
		return err
	}
	if data.Machine == "" {
		if data.Machine, err = c.where(o, l); err != nil {
			return err
		}
	}
	for _, m := range data.Machines {
		if m.ID != data.Machine {
			continue
		}
		if data.On, err = c.Shop.Orders.SewingOn(c.Ctx, m.ID); err != nil {
			return err
		}
		data.Mine = data.On == data.Name
		data.Run, err = ask.RunOfLine(c.Ctx, c.Shop.Asked(), o, l.Line, m.ID)
		if code := shop.CodeOf(err); err != nil && code != shop.Invalid && code != shop.NotFound {
			return err
		}
	}
	for _, x := range o.Lines {
		if x.Line != l.Line {
			data.Others = append(data.Others, x.Line)
		}
	}
	reports, err := c.Shop.Orders.Reports(c.Ctx, o.ID)
	if err != nil {
		return err
	}
	for i := len(reports) - 1; i >= 0 && len(data.Last) < 3; i-- {
		if r := &reports[i]; r.Line == l.Line {
			data.Last = append(data.Last, recordedText(r, d))
		}
	}
	p := &page{Title: "Record " + data.Name, Nav: "orders", Bare: true, Data: data}
	switch {
	case wrong != nil:
		p.Told = &told{true, []string{sentence(wrong.Error())}}
	case c.URL.Query().Get("kept") != "" && len(data.Last) > 0:
		p.Told = &told{Lines: []string{words.Say("record.kept", words.Args{
			"made": words.Name(data.Last[0].What),
		}).Text(d.W) + " " + data.Last[0].Time}}
	}
	return c.show("record.html", p)
}

// where a line is sewn: where it runs, is held, or by the plan.
func (c *call) where(o *book.Order, l *book.OrderLine) (string, error) {
	on := ""
	for _, h := range l.Holds {
		if on == "" || h.Running {
			on = h.MachineID
		}
	}
	if on != "" {
		return on, nil
	}
	p, err := c.Shop.Plans.Last(c.Ctx)
	if err != nil || p == nil {
		return "", err
	}
	for i := range p.Lots {
		if p.Lots[i].OrderID == o.ID && p.Lots[i].Line == l.Line {
			return p.Lots[i].MachineID, nil
		}
	}
	return "", nil
}

// recordedText says what a report says, real against predicted.
func recordedText(r *book.Report, d serve.When) recordedRow {
	made := words.List{words.Say("record.made-good", words.Args{"n": words.Whole(r.Good)})}
	if r.Spoilt > 0 {
		made = append(made, words.Say("record.made-spoilt", words.Args{"n": words.Whole(r.Spoilt)}))
	}
	if r.Breaks >= 0 {
		made = append(made, words.Count(r.Breaks, "thread-break"))
	}
	var times words.Sentences
	if n := r.Good + r.Spoilt; n > 0 && r.Seconds > 0 {
		times = append(times, words.Say("record.piece-took", words.Args{
			"real": words.Seconds(r.Seconds / float64(n)), "predicted": words.Seconds(r.Predicted / float64(n)),
		}))
	}
	if r.RunTimed > 0 {
		times = append(times, words.Say("record.run-timed", words.Args{"time": words.Seconds(r.RunTimed)}))
	}
	return recordedRow{Day: d.Kept(r.Day), What: made.Text(d.W), Time: times.Text(d.W)}
}

// startForm says that a line is on a machine now.
func startForm(c *call) error {
	o, l, err := c.lineAsked(c.PostForm.Get("line"))
	if err != nil {
		return err
	}
	machineID := c.PostForm.Get("machine")
	if _, err := c.Shop.Start(c.Ctx, o.ID, l.Line, machineID, 0, c.By()); err != nil {
		if code := shop.CodeOf(err); code == shop.Invalid || code == shop.Conflict || code == shop.NotFound {
			return c.recordPage(c.PostForm.Get("line"), machineID, err)
		}
		return err
	}
	return c.see(fmt.Sprintf("%s/record?line=%d&machine=%s", orderPath(o), l.Line, machineID))
}

// recordForm keeps what the floor confirms.
func recordForm(c *call) error {
	f := c.PostForm
	o, l, err := c.lineAsked(f.Get("line"))
	if err != nil {
		return err
	}
	r, err := readReport(&formNumbers{f: f})
	if err == nil {
		r.OrderID, r.Line = o.ID, l.Line
		if r.MachineID == "" {
			err = shop.Errorf(shop.Invalid, "say on which machine it was sewn")
		} else {
			_, err = c.Shop.Record(c.Ctx, r, f.Get("off") == "1", c.By())
		}
	}
	if code := shop.CodeOf(err); code == shop.Invalid || code == shop.Conflict || code == shop.NotFound {
		return c.recordPage(f.Get("line"), f.Get("machine"), err)
	}
	if err != nil {
		return err
	}
	return c.see(fmt.Sprintf("%s/record?line=%d&machine=%s&kept=1", orderPath(o), l.Line, r.MachineID))
}

// readReport reads a report from the form: times of day become seconds that
// the pieces held the machine.
func readReport(f *formNumbers) (book.Report, error) {
	r := book.Report{MachineID: f.f.Get("machine"), Day: f.day("day", "the day"), Note: f.f.Get("note"), Breaks: -1}
	r.Good, r.Spoilt = f.whole("good", "the number of good pieces"), f.whole("spoilt", "the number of spoilt pieces")
	if strings.TrimSpace(f.f.Get("breaks")) != "" {
		r.Breaks = f.whole("breaks", "the number of thread breaks")
	}
	r.SetSpeed = f.number("speed", "the set speed", 0)
	r.RunTimed = 60*f.number("run_min", "the minutes of the timed run", 0) + f.number("run_sec", "the seconds of the timed run", 0)
	pauses := f.number("pauses", "the minutes of pauses", 0)
	if f.err != nil {
		return r, f.err
	}
	from, to := f.f.Get("from"), f.f.Get("to")
	switch {
	case from == "" && to == "":
		return r, nil
	case from == "" || to == "":
		return r, shop.Errorf(shop.Invalid, "one of the times is missing: give both from and to, or neither")
	}
	a, err1 := time.Parse("15:04", from)
	b, err2 := time.Parse("15:04", to)
	if err1 != nil || err2 != nil {
		return r, shop.Errorf(shop.Invalid, "the times are %q and %q; write them as 07:30", from, to)
	}
	if !b.After(a) { // over midnight
		b = b.Add(24 * time.Hour)
	}
	r.Seconds = b.Sub(a).Seconds() - 60*pauses
	if pauses < 0 || r.Seconds <= 0 {
		return r, shop.Errorf(shop.Invalid, "from %s to %s with %v min of pauses leaves no time", from, to, pauses)
	}
	return r, nil
}
