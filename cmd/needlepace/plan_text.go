package main

import (
	"fmt"
	"slices"
	"strings"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/words"
)

// tell prints a plan and writes the files that are asked for.
func (o PlanOut) tell(d *desk, a *ask.PlanAnswer) error {
	if o.Picture != "" {
		drawn := picture.PlanGantt(a.Plan, d.writer, d.Now(), nil)
		drawn.Note = a.Since.Line().Text(d.writer)
		if err := writePicture(o.Picture, drawn); err != nil {
			return err
		}
	}
	if o.ICal != "" {
		ics := paper.PlanCalendar(a.Plan, a.Since, title(d.w.Name)).ICS
		if err := create(o.ICal, ics); err != nil {
			return err
		}
	}
	if o.XLSX != "" {
		if err := writeXLSX(o.XLSX, paper.PlanSheets(a.Plan)); err != nil {
			return err
		}
	}
	switch {
	case o.JSON:
		return writeJSON(d.Out, a)
	case o.CSV:
		return ask.LotTable(a.Plan).WriteCSV(d.Out)
	}
	planText(d, a)
	return nil
}

// table writes a table of an answer by the shop's clocks.
func (d *desk) table(t *ask.Table, indent string) { layTable(t, indent, d.writer).write(d.Out) }

// say writes each sentence on a line of its own, by the shop's clocks, broken
// where the output is narrower.
func (d *desk) say(indent string, all ...words.Sentences) {
	for _, m := range slices.Concat(all...) {
		breakLine(d.Out, indent, m.Text(d.writer))
	}
}

func planText(d *desk, a *ask.PlanAnswer) {
	p := a.Plan
	w := d.Out
	if p.Version > 0 {
		fmt.Fprintf(w, "Plan %d from %s: ", p.Version, d.when(p.From))
	} else {
		fmt.Fprintf(w, "What if, from %s: ", d.when(p.From))
	}
	d.say("", a.Verdict, a.Caveats)
	sinceText(d, a.Since)
	if p.Assumed {
		fmt.Fprintln(w, "Do it with `needlepace plan setup`.")
	}
	if len(p.Lots) > 0 {
		fmt.Fprintln(w)
		ganttText(d.Ctx, picture.PlanGantt(p, d.writer, d.Now(), nil))
		fmt.Fprintln(w)
		d.table(ask.LotTable(p), "")
		fmt.Fprintln(w)
		days := ask.DayTable(p)
		fmt.Fprintln(w, days.Caption.Text(d.writer))
		d.table(days, "")
		if goal := ask.GoalTable(p); len(goal.Rows) > 0 {
			fmt.Fprintln(w)
			fmt.Fprintln(w, goal.Caption.Text(d.writer))
			d.table(goal, "")
		}
	}
	for _, w := range a.Watch {
		d.say("", words.Sentences{w.Say})
	}
	if a.Before == nil || a.Moved == nil {
		return
	}
	fmt.Fprintln(w)
	if len(a.Moved) == 0 {
		fmt.Fprintln(w, words.Say("plan.nothing-moved").Text(d.writer))
		return
	}
	moved := a.MovedTable()
	fmt.Fprintln(w, moved.Caption.Text(d.writer))
	d.table(moved, "  ")
}

// mostChanges is how many changes the command names one by one; JSON has all.
const mostChanges = 20

// sinceText says what changed since a plan was made, and what that does to it.
func sinceText(d *desk, a *ask.SinceAnswer) {
	if !a.Stale() {
		return
	}
	fmt.Fprintln(d.Out)
	d.say("", a.Verdict, a.Caveats)
	for i, c := range a.Changes {
		if i == mostChanges {
			d.say("  ", words.Sentences{words.Say("since.more", words.Args{"n": words.Whole(len(a.Changes) - i)})})
			break
		}
		d.say("  ", words.Sentences{c.Say})
	}
	if len(a.Lines) > 0 {
		t := a.LineTable()
		fmt.Fprintln(d.Out, t.Caption.Text(d.writer))
		d.table(t, "  ")
	}
	fmt.Fprintln(d.Out, "Make the plan anew with `needlepace plan make`.")
}

func ganttText(c *Ctx, g *picture.Gantt) {
	name := 0
	for _, r := range g.Rows {
		name = max(name, cells(r.Label))
	}
	days, rows := picture.TextStrip{Width: min(c.OutWidth(), 120) - name - 3}.GanttBars(g)
	fmt.Fprintf(c.Out, "%s  %s\n", strings.Repeat(" ", name), days)
	for i, r := range g.Rows {
		fmt.Fprintf(c.Out, "%s%s  %s\n", r.Label, strings.Repeat(" ", name-cells(r.Label)), rows[i])
	}
	fmt.Fprintln(c.Out, "[ ] a lot, ! late; ▒ set-up; · free")
}

func moveText(d *desk, m *ask.HandMove) {
	d.say("", m.Verdict, m.Caveats)
	if len(m.Lines) > 0 {
		t := m.LineTable()
		fmt.Fprintf(d.Out, "\n%s\n", t.Caption.Text(d.writer))
		d.table(t, "  ")
	}
	fmt.Fprintf(d.Out, "To keep it there: needlepace plan hold %d %q --line %d, then needlepace plan make.\n",
		m.Lot.Number, m.To, m.Lot.Line)
}

func title(name string) string {
	if name == "" {
		return "The shop"
	}
	return name
}
