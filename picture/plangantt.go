package picture

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// PlanGantt is a plan as rows of strips, a row a machine, looked at at the time
// now by the clocks of the reader w. against, if not nil, is the plan it is held
// against: lots that stand there too are pale.
func PlanGantt(p *book.Plan, w *words.Writer, now time.Time, against *book.Plan) *Gantt {
	when := func(t time.Time) string { return w.Zone.Near(t, now).Text(w) }
	g := &Gantt{W: w, Name: words.Say("plan-page.from", words.Args{"at": words.Name(when(p.From))}).Text(w), Text: ask.PlanSum(p).Text(w)}
	at := func(t time.Time) float64 { return t.Sub(p.From).Seconds() }
	same := map[string]bool{}
	key := func(l *book.PlanLot) string {
		return fmt.Sprint(l.Job, l.MachineID, l.Quantity, l.From.Unix()/900)
	}
	if against != nil {
		for i := range against.Lots {
			same[key(&against.Lots[i])] = true
		}
	}
	g.Ticks = PlanDays(p, w, now)
	for _, m := range p.Machines {
		row := GanttRow{Label: m.Name, Note: words.Count(m.Heads, "head").Text(w)}
		for _, o := range m.Open {
			row.Open = append(row.Open, GanttSpan{From: at(o.From), To: at(o.To)})
		}
		for i := range p.Lots {
			l := &p.Lots[i]
			if l.MachineID != m.ID {
				continue
			}
			row.Bars = append(row.Bars, GanttBar{
				Label: l.Name, Title: lotText(l, when, w),
				Setup: at(l.SetupFrom), Ready: at(l.SetupFrom) + l.Setup, From: at(l.From), To: at(l.To),
				Late: l.Late, Held: l.Held && !l.Running, Running: l.Running, Other: same[key(l)],
			})
		}
		g.Rows = append(g.Rows, row)
	}
	return g
}

// PlanDays are the days of a plan on which a machine may run, in order, each where
// the first of them begins, seconds after the plan's beginning.
func PlanDays(p *book.Plan, w *words.Writer, now time.Time) (ticks []GanttTick) {
	first := map[words.Day]time.Time{}
	for _, m := range p.Machines {
		for _, o := range m.Open {
			if day := w.Zone.Day(o.From); first[day].IsZero() || o.From.Before(first[day]) {
				first[day] = o.From
			}
		}
	}
	for day, from := range first {
		label := words.NearDay{Day: day, Today: w.Zone.Day(now)}.Text(w)
		ticks = append(ticks, GanttTick{At: from.Sub(p.From).Seconds(), Label: label})
	}
	slices.SortFunc(ticks, func(a, b GanttTick) int { return cmp.Compare(a.At, b.At) })
	return ticks
}

// lotText says what a lot is, in a line.
func lotText(l *book.PlanLot, when func(time.Time) string, w *words.Writer) string {
	s := words.Say("bars.lot-is", words.Args{"order": words.Name(l.Name), "customer": words.Name(l.Customer),
		"pieces": words.Count(l.Quantity, "piece"), "from": words.Name(when(l.From)), "to": words.Name(when(l.To))}).Text(w)
	switch {
	case l.Running:
		s += ", " + words.Say("bars.running").Text(w)
	case l.Held:
		s += ", " + words.Say("bars.held").Text(w)
	}
	if l.Late {
		s += ", " + words.Say("bars.late").Text(w)
	}
	return s
}
