package picture

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// GanttWords are the words in a plan's picture, which the command line and the
// page choose for themselves.
type GanttWords struct {
	Day func(time.Time) string     // a day of the axis
	Lot func(*book.PlanLot) string // what a strip says when pointed at
}

// PlanGantt is a plan as rows of strips, a row a machine, the days those of loc.
// against, if not nil, is the plan it is held against: lots that stand there
// too are pale. Name and text are the caller's to add.
func PlanGantt(p *book.Plan, say GanttWords, loc *time.Location, against *book.Plan) *Gantt {
	g := &Gantt{}
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
		row := GanttRow{Label: m.Name, Note: "1 head"}
		if m.Heads != 1 {
			row.Note = fmt.Sprintf("%d heads", m.Heads)
		}
		for _, o := range m.Open {
			row.Open = append(row.Open, GanttSpan{From: at(o.From), To: at(o.To)})
			from := o.From.In(loc)
			if day := words.NewDay(from.Date()); !days[day] {
				days[day] = true
				g.Ticks = append(g.Ticks, GanttTick{At: at(o.From), Label: say.Day(from)})
			}
		}
		for i := range p.Lots {
			l := &p.Lots[i]
			if l.MachineID != m.ID {
				continue
			}
			row.Bars = append(row.Bars, GanttBar{
				Label: l.Name, Title: say.Lot(l),
				Setup: at(l.SetupFrom), Ready: at(l.SetupFrom) + l.Setup, From: at(l.From), To: at(l.To),
				Late: l.Late, Held: l.Held && !l.Running, Running: l.Running, Other: same[key(l)],
			})
		}
		g.Rows = append(g.Rows, row)
	}
	slices.SortFunc(g.Ticks, func(a, b GanttTick) int { return cmp.Compare(a.At, b.At) })
	return g
}
