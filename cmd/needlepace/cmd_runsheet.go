package main

import (
	"fmt"
	"unicode/utf8"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
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
	ColourFlag
	JSON     bool   `name:"json" help:"One JSON object."`
	PDF      string `name:"pdf" help:"Write the sheet to a .pdf file." placeholder:"FILE"`
	Language string `help:"The language of sheet and paper: en, es, pt, tr or vi." default:"en" placeholder:"TAG"`
	PaperFlags
}

// Run makes the sheet.
func (a *RunsheetCmd) Run(c *Ctx) error {
	if err := endsIn([3]string{"--pdf", a.PDF, ".pdf"}); err != nil {
		return err
	}
	return a.useOrder(c, a.Order, func(d *desk, o *book.Order) (err error) {
		if d.writer.Language, err = languageNamed(a.Language); err != nil {
			return err
		}
		machine, err := d.machineID(a.Machine)
		if err != nil {
			return err
		}
		r, err := ask.RunSheet(c.Context, d.Asked(), ask.RunSheetQuestion{
			Order: o.ID, Line: a.Line, Machine: machine, Quantity: a.Pieces, Colour: a.Colour, Now: d.Now(),
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

// languageNamed is the language that --language names.
func languageNamed(tag string) (*words.Language, error) {
	l, ok := words.LanguageOf(tag)
	if !ok {
		return nil, usagef("--language: there is no language %q; there are %s", tag, words.Tags())
	}
	return l, nil
}

func runSheetText(d *desk, r *book.RunSheet) {
	w := d.Out
	say := func(m words.Message) { fmt.Fprintln(w, m.Text(d.writer)) }
	say(words.Say("runsheet.text-head", words.Args{
		"name": words.Name(r.Name), "customer": words.Name(r.Customer), "design": words.Name(r.Design),
		"pieces": words.Count(r.Quantity, "piece"), "machine": words.Name(r.Machine),
	}))
	facts := ask.RunSheetFacts(r, d.writer.Zone, d.Now())
	widest := 0
	for _, f := range facts {
		widest = max(widest, utf8.RuneCountInString(f[0].Text(d.writer)))
	}
	for _, f := range facts {
		fmt.Fprintf(w, "  %-*s  %s\n", widest, f[0].Text(d.writer), f[1].Text(d.writer))
	}
	fmt.Fprintln(w)
	say(words.Say("runsheet.text-set", words.Args{"speed": words.PerMinute(float64(r.Speed)), "why": r.SpeedWhy}))
	if best := r.BestSay.Text(d.writer); best != "" {
		fmt.Fprintln(w, best)
	}
	say(words.Say("runsheet.text-run", words.Args{
		"heads": words.Count(r.Heads, "head"), "run": words.Seconds(r.RunSeconds), "level": words.Level(clock.DefaultLevel),
		"low": words.Clock(r.Low), "high": words.Clock(r.High), "cycle": words.Seconds(r.Cycle),
	}))
	say(words.Say("runsheet.text-lot", words.Args{
		"runs": words.Count(r.Runs, "run"), "set-up": words.Seconds(r.Setup), "total": words.Seconds(r.Total),
	}))
	ts := picture.TextStrip{Width: min(d.OutWidth(), 100)}
	parts := picture.PartsOf(r.Parts)
	fmt.Fprintf(w, "\n%s\n%s\n\n", ts.Bar(parts, 0), ts.Legend(parts, false))
	for _, t := range []*ask.Table{ask.RunSheetSizes(r), ask.RunSheetNames(r)} {
		if t != nil {
			writeTable(w, t, "")
			fmt.Fprintln(w)
		}
	}
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
	fmt.Fprintln(w)
	say(words.Say("runsheet.text-record", words.Args{"page": words.Name(r.Page)}))
	if reach := ask.RunSheetReach(r.Page); !reach.IsZero() {
		say(reach)
	}
}
