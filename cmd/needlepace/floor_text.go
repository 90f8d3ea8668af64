package main

import (
	"fmt"

	"needlepace/ask"
	"needlepace/picture"
)

func floorText(c *Ctx, a *ask.ShiftAnswer) {
	w := c.Out
	writeLine(w, "", a.Title())
	writeLine(w, "", a.What())
	fmt.Fprintln(w)
	writeSentences(w, "  ", a.Verdict)
	fmt.Fprintln(w)

	ts := picture.TextStrip{Width: max(16, min(c.OutWidth()-58, 48)), Colour: c.OutTerminal()}
	strips := []string{a.StateTable().Caption.Text(nil)}
	var all [][]picture.Span
	for i := range a.Machines {
		spans := picture.MachineSpans(&a.Machines[i])
		all = append(all, spans)
		strips = append(strips, ts.ShiftBar(spans))
	}
	writeTable(w, a.MachineTable(), "", strips...)
	fmt.Fprintf(w, "\n%s\n\n", ts.ShiftLegend(all...))
	writeTable(w, a.StateTable(), "")
	fmt.Fprintln(w)
	writeSentences(w, "", a.OEESay())
	fmt.Fprintln(w)
	writeTable(w, a.JobTable(), "")
	fmt.Fprintln(w)
	writeTable(w, a.OperatorTable(), "")
	if t := a.WhatIfTable(); t != nil {
		fmt.Fprintln(w)
		writeTable(w, t, "")
	}
	if len(a.Best) > 0 {
		fmt.Fprintln(w)
		writeTable(w, a.BestTable(), "")
		writeSentences(w, "", a.BestSay())
	}
	for i := range a.Crews {
		fmt.Fprintln(w)
		writeSentences(w, "", a.Crews[i].Verdict)
		writeTable(w, a.Crews[i].Table(a.Currency), "  ")
	}
	fmt.Fprintln(w)
	writeSentences(w, "", a.Caveats)
}
