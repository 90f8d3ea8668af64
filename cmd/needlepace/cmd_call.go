package main

import (
	"fmt"
	"io"
	"slices"
	"time"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/trial"
	"needlepace/words"
)

// CallCmd is an open call: one design that anybody may sew, and send the time.
type CallCmd struct {
	Plan CallPlanCmd `cmd:"" help:"What the design should take by class of machine, and the pack that goes out."`
	Read CallReadCmd `cmd:"" help:"What came: checked, what is kept apart and why, how far each class is off."`
}

// CallFile is the file of an open call.
type CallFile struct {
	Call string `arg:"" help:"The call's file, CALL.toml (docs/trials.md)."`
}

func (f CallFile) ask(c *Ctx, came []trial.Given, unread []words.Plain) (*ask.OpenCallAnswer, error) {
	b, err := readSettings(f.Call)
	if err != nil {
		return nil, err
	}
	a, err := ask.OpenCall(c.Context, ask.OpenCallQuestion{Name: f.Call, TOML: b, Came: came, Last: trial.LastDay(time.Now())}, sources(f.Call))
	if err != nil {
		return nil, err
	}
	a.Said = slices.Insert(a.Said, 0, unread...)
	return a, nil
}

// CallOut is how the pack of a call goes out.
type CallOut struct {
	Output string `short:"o" help:"Where the pack goes, a .zip file: stitch files, card, sheet." placeholder:"FILE"`
	Paper  string `help:"Paper size: A4 or Letter. Default: the shop's." placeholder:"SIZE"`
	InLanguage
}

func (a *CallOut) write(x *ask.OpenCallAnswer, page paper.CallPage, by words.Writer) error {
	if a.Output == "" {
		return nil
	}
	size, err := paper.SizeNamed(a.Paper)
	if err != nil {
		return usageError{err}
	}
	if err := endsIn([3]string{"--output", a.Output, ".zip"}); err != nil {
		return err
	}
	if err := a.speak(&by); err != nil {
		return err
	}
	return create(a.Output, func(w io.Writer) error { return paper.CallPack(w, x, page, size, time.Now(), &by) })
}

// CallPlanCmd makes a call.
type CallPlanCmd struct {
	CallFile
	CallOut
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each class."`
}

// Run says what the design should take, and writes the pack.
func (a *CallPlanCmd) Run(c *Ctx) error {
	x, err := a.ask(c, nil, nil)
	if err != nil {
		return err
	}
	t, err := x.ExpectTable(c.Context)
	if err != nil {
		return err
	}
	switch {
	case a.JSON:
		err = writeJSON(c.Out, x)
	case a.CSV:
		err = t.WriteCSV(c.Out)
	default:
		writeCall(c, x, t)
	}
	if err != nil {
		return err
	}
	return a.write(x, paper.CallPage{}, words.Writer{})
}

// CallReadCmd reads what came.
type CallReadCmd struct {
	CallFile
	Returned
	JSON bool `name:"json" help:"One JSON object."`
	CSV  bool `name:"csv" help:"One CSV row for each class."`
}

// Run says what came and what it says.
func (a *CallReadCmd) Run(c *Ctx) error {
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	x, err := a.ask(c, given, unread)
	switch {
	case err != nil:
		return err
	case a.JSON:
		return writeJSON(c.Out, x)
	case a.CSV:
		return x.ClassTable().WriteCSV(c.Out)
	}
	writeCall(c, x)
	return nil
}

// writeCall lays a call out as text, with tables first of those that it has.
func writeCall(c *Ctx, x *ask.OpenCallAnswer, first ...*ask.Table) {
	fmt.Fprintf(c.Out, "%s\n\n", printable(x.Call))
	writeSentences(c.Out, "  ", x.Verdict)
	writeSentences(c.Out, "  ! ", x.Caveats)
	for _, s := range x.Said {
		fmt.Fprintf(c.Out, "  ! %s\n", printable(s.Raw()))
	}
	for _, t := range append(first, x.ClassTable(), x.ApartTable(), x.EntryTable()) {
		if len(t.Rows) > 0 {
			fmt.Fprintf(c.Out, "\n  %s\n", t.Caption.Text(nil))
			writeTable(c.Out, t, "  ")
		}
	}
}

// VisitCallCmd is an open call in a visit.
type VisitCallCmd struct {
	Keep VisitCallKeepCmd `cmd:"" help:"Put an open call into a visit, with the design that it names."`
	Show VisitCallShowCmd `cmd:"" help:"What came to it and what it says; its pack."`
	Take VisitCallTakeCmd `cmd:"" help:"Take in what was mailed to it."`
	Open VisitCallOpenCmd `cmd:"" help:"Open its page to whoever has its code."`
	Shut VisitCallShutCmd `cmd:"" help:"Shut its page."`
}

// CallArg names an open call of a visit.
type CallArg struct {
	VisitArg
	Call string `arg:"" help:"The call's short name."`
}

// VisitCallKeepCmd puts a call into a visit.
type VisitCallKeepCmd struct {
	CallArg
	WhoFlag
	File string `arg:"" help:"The call's file, CALL.toml (docs/trials.md)."`
}

// Run puts it in.
func (a *VisitCallKeepCmd) Run(c *Ctx) error {
	b, err := readSettings(a.File)
	if err != nil {
		return err
	}
	return a.with(c, func(d *desk, v *shop.Visit) error {
		x, err := d.KeepCall(d.Context, v.ID, a.Call, a.Who, b, bringFrom(a.File))
		if err == nil {
			writeCall(c, x)
		}
		return err
	})
}

// VisitCallShowCmd is a call of a visit.
type VisitCallShowCmd struct {
	CallArg
	CallOut
	Page string `help:"Its page's address as others can open it, for the card." placeholder:"ADDRESS"`
	JSON bool   `name:"json" help:"One JSON object."`
	CSV  bool   `name:"csv" help:"One CSV row for each class."`
}

// Run says what it says.
func (a *VisitCallShowCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		x, err := d.Shop.OpenCall(d.Context, v.ID, a.Call)
		if err != nil {
			return err
		}
		p, err := d.Visits.CallPage(d.Context, v.ID, a.Call)
		if err != nil {
			return err
		}
		switch {
		case a.JSON:
			err = writeJSON(c.Out, struct {
				*ask.OpenCallAnswer
				Page *shop.CallPage `json:"page"`
			}{x, p})
		case a.CSV:
			err = x.ClassTable().WriteCSV(c.Out)
		default:
			writeCall(c, x)
		}
		if err != nil {
			return err
		}
		var page paper.CallPage
		if p != nil && p.Open && a.Page != "" {
			page = paper.CallPage{Address: a.Page, Code: p.Code}
		}
		return a.write(x, page, *d.writer)
	})
}

// VisitCallTakeCmd takes in what was mailed.
type VisitCallTakeCmd struct {
	CallArg
	WhoFlag
	Returned
}

// Run takes it in, and says what could not be.
func (a *VisitCallTakeCmd) Run(c *Ctx) error {
	given, unread, err := a.read()
	if err != nil {
		return err
	}
	return a.with(c, func(d *desk, v *shop.Visit) error {
		said, err := d.TakeEntries(d.Context, v.ID, a.Call, a.Who, given)
		if err != nil {
			return err
		}
		writeRefused(c.Out, unread, said)
		x, err := d.Shop.OpenCall(d.Context, v.ID, a.Call)
		if err == nil {
			writeSentences(c.Out, "", x.Verdict)
		}
		return err
	})
}

// VisitCallOpenCmd opens a call's page.
type VisitCallOpenCmd struct {
	CallArg
	Most int `help:"Entries that it takes in all, 1 to 400." placeholder:"N" default:"200"`
}

// Run opens it and says its code.
func (a *VisitCallOpenCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error {
		if _, err := d.Shop.OpenCall(d.Context, v.ID, a.Call); err != nil {
			return err
		}
		p, err := d.Visits.OpenCallPage(d.Context, v.ID, a.Call, a.Most)
		if err == nil {
			fmt.Fprintf(c.Out, "Open under /call/%s, for %s.\n", p.Code, plural(p.Most, "entry"))
		}
		return err
	})
}

// VisitCallShutCmd shuts a call's page.
type VisitCallShutCmd struct{ CallArg }

// Run shuts it.
func (a *VisitCallShutCmd) Run(c *Ctx) error {
	return a.with(c, func(d *desk, v *shop.Visit) error { return d.Visits.ShutCallPage(d.Context, v.ID, a.Call) })
}
