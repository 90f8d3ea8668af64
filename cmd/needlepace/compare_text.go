package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/words"
)

func compareText(c *Ctx, a *ask.ComparisonAnswer) {
	w := c.Out
	writeLine(w, "", a.Title())
	writeLine(w, "", a.Week())
	fmt.Fprintln(w)
	writeSentences(w, "  ", a.Verdict)
	fmt.Fprintln(w)
	writeTable(w, a.MachineTable(), "")
	fmt.Fprintln(w)
	year := a.YearTable()
	writeLine(w, "", year.Caption)
	writeTable(w, year, "  ")
	fmt.Fprintln(w)
	designsText(c, a)
	for i := range a.Pairs {
		p := &a.Pairs[i]
		fmt.Fprintln(w)
		writeLine(w, "", a.InsteadOf(p))
		writeSentences(w, "  ", p.Verdict)
	}
	if t := a.BeatsTable(); t != nil {
		fmt.Fprintln(w)
		writeLine(w, "", t.Caption)
		writeTable(w, t, "  ")
	}
	fmt.Fprintln(w)
	writeSentences(w, "", a.Caveats)
}

// designsText is every design on every machine, strips of a design on one axis.
func designsText(c *Ctx, a *ask.ComparisonAnswer) {
	w, t := c.Out, a.DesignTable()
	ts := picture.TextStrip{Width: max(12, min(c.OutWidth()-86, 36)), Colour: c.OutTerminal()}
	strips := []string{""}
	seen := map[picture.Key]bool{}
	for i := range a.Designs {
		ts.Max = a.Designs[i].Longest()
		for _, o := range a.Designs[i].On {
			parts := picture.PartsOf(o.Parts)
			for _, p := range parts {
				seen[p.Key] = true
			}
			strips = append(strips, ts.Bar(parts, 0))
		}
	}
	writeLine(w, "", t.Caption)
	writeTable(w, t, "  ", strips...)
	fmt.Fprintf(w, "\n  %s\n", legend(ts, seen))
	for i := range a.Designs {
		if d := &a.Designs[i]; len(d.Verdict) > 0 {
			writeLine(w, "  ", words.Name(d.Design+": "+d.Verdict.Text(nil)))
		}
	}
}
