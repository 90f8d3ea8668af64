package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/picture"
)

func compareText(c *Ctx, a *ask.ComparisonAnswer) {
	w := c.Out
	writeLine(w, "", a.Title().Text(nil))
	writeLine(w, "", a.Week().Text(nil))
	fmt.Fprintln(w)
	writeSentences(w, "  ", a.Verdict)
	fmt.Fprintln(w)
	writeTable(w, a.MachineTable(), "", nil)
	fmt.Fprintln(w)
	year := a.YearTable()
	writeLine(w, "", year.Caption.Text(nil))
	writeTable(w, year, "  ", nil)
	fmt.Fprintln(w)
	designsText(c, a)
	for i := range a.Pairs {
		p := &a.Pairs[i]
		fmt.Fprintln(w)
		writeLine(w, "", a.InsteadOf(p).Text(nil))
		writeSentences(w, "  ", p.Verdict)
	}
	if t := a.BeatsTable(); t != nil {
		fmt.Fprintln(w)
		writeLine(w, "", t.Caption.Text(nil))
		writeTable(w, t, "  ", nil)
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
	writeLine(w, "", t.Caption.Text(nil))
	writeTable(w, t, "  ", strips)
	var legend []picture.Part
	for _, k := range picture.Keys {
		if seen[k] {
			legend = append(legend, picture.Part{Key: k, Seconds: 1})
		}
	}
	fmt.Fprintf(w, "\n  %s\n", ts.Legend(legend, false))
	for i := range a.Designs {
		if d := &a.Designs[i]; len(d.Verdict) > 0 {
			writeLine(w, "  ", d.Design+": "+d.Verdict.Text(nil))
		}
	}
}
