package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/words"
)

// tell prints a plan and writes the files that are asked for.
func (o PlanOut) tell(c *Ctx, d *desk, a *ask.PlanAnswer) error {
	if o.Picture != "" {
		if err := writePicture(o.Picture, picture.PlanGantt(a.Plan, d.writer, d.Now(), nil)); err != nil {
			return err
		}
	}
	if o.ICal != "" {
		ics := paper.PlanCalendar(a.Plan, title(d.w.Name)).ICS
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
		return writeJSON(c.Out, a)
	case o.CSV:
		return paper.PlanSheets(a.Plan)[0].CSV(c.Out)
	}
	planText(c, d, a)
	return nil
}

func hoursText(h float64) string { return words.Fixed(h, 1).Text(nil) }

func planText(c *Ctx, d *desk, a *ask.PlanAnswer) {
	p := a.Plan
	w := c.Out
	if p.Version > 0 {
		fmt.Fprintf(w, "Plan %d from %s: %s\n", p.Version, d.when(p.From), ask.PlanSum(p).Text(d.writer))
	} else {
		fmt.Fprintf(w, "What if, from %s: %s\n", d.when(p.From), ask.PlanSum(p).Text(d.writer))
	}
	for _, m := range a.Say()[1:] {
		fmt.Fprintln(w, m.Text(d.writer))
	}
	if p.Assumed {
		fmt.Fprintln(w, "Do it with `needlepace plan setup`.")
	}
	if p.Version == 0 && a.Before != nil {
		b := a.Before
		fmt.Fprintf(w, "Without it: %s\n", ask.PlanSum(b).Text(d.writer))
		fmt.Fprintf(w, "With all machines running, %s operators are needed on average: with fewer everything is slower, with more nothing is faster.\n", words.Fixed(p.Hands, 1).Text(nil))
	}
	if len(p.Lots) > 0 {
		fmt.Fprintln(w)
		ganttText(c, picture.PlanGantt(p, d.writer, d.Now(), nil))
		fmt.Fprintln(w)
		lotsTable(c, d, p)
		fmt.Fprintln(w)
		endsTable(c, d, p)
	}
	for _, l := range p.Left {
		fmt.Fprintf(w, "not in the plan: %d line %d of %s: %s\n", l.Number, l.Line, l.Customer, l.Why)
	}
	for _, l := range p.Notes {
		fmt.Fprintf(w, "note: %d line %d of %s: %s\n", l.Number, l.Line, l.Customer, l.Why)
	}
	movedText(c, d, a)
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

func lotsTable(c *Ctx, d *desk, p *book.Plan) {
	t := table{align: "lllrrrlll"}
	t.row("machine", "order", "customer", "pieces", "runs", "cones", "set-up", "sewing", "until")
	t.rule()
	last := ""
	for i := range p.Lots {
		l := &p.Lots[i]
		name := ""
		if l.Machine != last {
			name, last = l.Machine, l.Machine
		}
		set := "–"
		if l.Setup > 0 {
			set = d.when(l.SetupFrom)
		}
		order := l.Name
		switch {
		case l.Running:
			order += " now"
		case l.Held:
			order += " held"
		}
		t.row(name, order, l.Customer, thousands(l.Quantity), thousands(l.Runs), whole(l.Cones), set, d.when(l.From), d.when(l.To))
	}
	t.write(c.Out)
}

func endsTable(c *Ctx, d *desk, p *book.Plan) {
	t := table{align: "llrllrl"}
	t.row("order", "customer", "to sew", "due", "sewn by the plan", "chance on time", fmt.Sprintf("promise (%.0f %%)", 100*p.Chance))
	t.rule()
	ends := slices.Clone(p.Ends)
	slices.SortStableFunc(ends, func(a, b book.LineEnd) int { return strings.Compare(a.Name, b.Name) })
	for _, e := range ends {
		chance, due := "–", "–"
		if !e.Due.IsZero() {
			due = d.when(e.Due)
		}
		if e.OnTime >= 0 {
			chance = chanceText(e.OnTime)
		}
		end := d.when(e.End)
		if e.Late > 0 {
			end += fmt.Sprintf(", %s h late", hoursText(e.Late/3600))
		}
		t.row(e.Name, e.Customer, thousands(e.Quantity), due, end, chance, e.Day.String())
	}
	t.write(c.Out)
	// Seen before it is late: a small chance, though the plan itself is in time.
	for _, e := range p.Watch() {
		if e.Late == 0 {
			fmt.Fprintf(c.Out, "watch: %s is in time by the plan, but only with a chance of %s\n", e.Name, chanceText(e.OnTime))
		}
	}
}

func movedText(c *Ctx, d *desk, a *ask.PlanAnswer) {
	if a.Before == nil || a.Moved == nil {
		return
	}
	what := "the plan before"
	if a.Plan.Version == 0 {
		what = "the plan without it"
	}
	if len(a.Moved) == 0 {
		fmt.Fprintf(c.Out, "\nNothing moved against %s.\n", what)
		return
	}
	fmt.Fprintf(c.Out, "\nMoved against %s:\n", what)
	t := table{indent: "  ", align: "lllll"}
	for _, m := range a.Moved {
		where := m.Is
		switch {
		case m.Is == "":
			where = "not planned"
		case m.Was != "" && m.Was != m.Is:
			where = m.Was + " → " + m.Is
		}
		end := d.when(m.EndIs)
		if !m.EndWas.IsZero() && !m.EndIs.IsZero() {
			end += fmt.Sprintf(" (%s)", shiftText(m.EndIs.Sub(m.EndWas)))
		}
		t.row(m.Name, where, end, m.Why)
	}
	t.write(c.Out)
}

func shiftText(by time.Duration) string {
	h := by.Hours()
	switch {
	case math.Abs(h) < 1.0/60:
		return "as before"
	case h > 0:
		return fmt.Sprintf("%.1f h later", h)
	}
	return fmt.Sprintf("%.1f h sooner", -h)
}

func moveText(c *Ctx, d *desk, m *ask.HandMove) {
	fmt.Fprintf(c.Out, "%s of %s from %s to %s, place %d in its row:\n", m.Lot.Name, m.Lot.Customer, m.Lot.Machine, m.To, m.Place+1)
	if len(m.Lines) == 0 {
		fmt.Fprintln(c.Out, "  nothing changes")
		return
	}
	t := table{indent: "  ", align: "lrrr"}
	t.row("", "now", "moved", "change")
	for _, r := range []struct {
		name     string
		was, is  string
		by       float64
		lateness bool
	}{
		{"lines late", whole(m.Before.Late), whole(m.After.Late), float64(m.After.Late - m.Before.Late), false},
		{"late hours, by priority", hoursText(m.Before.LateHours), hoursText(m.After.LateHours), m.LateHours, true},
		{"set-up hours", hoursText(m.Before.SetupHours), hoursText(m.After.SetupHours), m.SetupHours, true},
		{"machine hours", hoursText(m.Before.WorkHours), hoursText(m.After.WorkHours), m.MachineHours, true},
	} {
		by := words.Signed{Numeric: words.Fixed(r.by, 0)}.Text(nil)
		if r.lateness {
			by = words.Signed{Numeric: words.Fixed(r.by, 1)}.Text(nil)
		}
		t.row(r.name, r.was, r.is, by)
	}
	t.row("all sewn", d.when(m.Before.Done), d.when(m.After.Done), shiftText(m.After.Done.Sub(m.Before.Done)))
	t.write(c.Out)
	for _, l := range m.Lines {
		late := ""
		if l.LateIs > 0 {
			late = fmt.Sprintf(", %s h late", hoursText(l.LateIs/3600))
		} else if l.LateWas > 0 {
			late = ", in time"
		}
		fmt.Fprintf(c.Out, "  %s %s: %s (%s)%s\n", l.Name, l.Customer, d.when(l.After), shiftText(l.After.Sub(l.Before)), late)
	}
	fmt.Fprintf(c.Out, "To keep it there: needlepace plan hold %d %q --line %d, then needlepace plan make.\n", m.Lot.Number, m.To, m.Lot.Line)
}

func title(name string) string {
	if name == "" {
		return "The shop"
	}
	return name
}
