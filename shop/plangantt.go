package shop

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"needlepace/picture"
)

// GanttWords are the words in a plan's picture, which the command line and the
// page choose for themselves.
type GanttWords struct {
	Day func(time.Time) string // a day of the axis
	Lot func(*PlanLot) string  // what a strip says when pointed at
}

// Gantt is a plan as rows of strips, a row a machine, the days those of loc.
// against, if not nil, is the plan it is held against: lots that stand there
// too are pale. Name and text are the caller's to add.
func (p *Plan) Gantt(say GanttWords, loc *time.Location, against *Plan) *picture.Gantt {
	g := &picture.Gantt{}
	at := func(t time.Time) float64 { return t.Sub(p.From).Seconds() }
	same := map[string]bool{}
	key := func(l *PlanLot) string {
		return fmt.Sprint(l.Job, l.MachineID, l.Quantity, l.From.Unix()/900)
	}
	if against != nil {
		for i := range against.Lots {
			same[key(&against.Lots[i])] = true
		}
	}
	days := map[string]bool{}
	for _, m := range p.Machines {
		row := picture.GanttRow{Label: m.Name, Note: "1 head"}
		if m.Heads != 1 {
			row.Note = fmt.Sprintf("%d heads", m.Heads)
		}
		for _, o := range m.Open {
			row.Open = append(row.Open, picture.GanttSpan{From: at(o.From), To: at(o.To)})
			if from := o.From.In(loc); !days[Day(from)] {
				days[Day(from)] = true
				g.Ticks = append(g.Ticks, picture.GanttTick{At: at(o.From), Label: say.Day(from)})
			}
		}
		for i := range p.Lots {
			l := &p.Lots[i]
			if l.MachineID != m.ID {
				continue
			}
			row.Bars = append(row.Bars, picture.GanttBar{
				Label: l.Name, Title: say.Lot(l), Setup: at(l.SetupFrom), Ready: at(l.SetupFrom) + l.Setup, From: at(l.From), To: at(l.To),
				Late: l.Late, Held: l.Held && !l.Running, Running: l.Running, Other: same[key(l)],
			})
		}
		g.Rows = append(g.Rows, row)
	}
	slices.SortFunc(g.Ticks, func(a, b picture.GanttTick) int { return cmp.Compare(a.At, b.At) })
	return g
}
