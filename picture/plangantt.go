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
	g := &Gantt{Name: "The plan from " + when(p.From), Text: ask.PlanSum(p).Text(w)}
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
	days := map[words.Day]bool{}
	for _, m := range p.Machines {
		row := GanttRow{Label: m.Name, Note: words.Count(m.Heads, "head").Text(w)}
		for _, o := range m.Open {
			row.Open = append(row.Open, GanttSpan{From: at(o.From), To: at(o.To)})
			if day := w.Zone.Day(o.From); !days[day] {
				days[day] = true
				label := words.NearDay{Day: day, Today: w.Zone.Day(now)}.Text(w)
				g.Ticks = append(g.Ticks, GanttTick{At: at(o.From), Label: label})
			}
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
	slices.SortFunc(g.Ticks, func(a, b GanttTick) int { return cmp.Compare(a.At, b.At) })
	return g
}

// lotText says what a lot is, in a line.
func lotText(l *book.PlanLot, when func(time.Time) string, w *words.Writer) string {
	s := fmt.Sprintf("%s, %s, %s, %s to %s",
		l.Name, l.Customer, words.Count(l.Quantity, "piece").Text(w), when(l.From), when(l.To))
	switch {
	case l.Running:
		s += ", on the machine now"
	case l.Held:
		s += ", held by hand"
	}
	if l.Late {
		s += ", late"
	}
	return s
}
