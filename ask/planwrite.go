package ask

import (
	"fmt"
	"math"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/plan"
	"needlepace/words"
)

// lateFrom is from how many seconds after its time a line is late: times are
// kept in whole seconds, and what is less is the reckoning's own.
const lateFrom = 1.0

// write puts a schedule into the shop's words.
func write(p *problem, sc *plan.Schedule, q *PlanQuestion) *book.Plan {
	out := &book.Plan{
		Made: q.Now.UTC(), Zone: p.w.Zone, From: p.Origin.UTC(), Assumed: !p.given,
		Machines: []book.PlanMachine{}, Lots: []book.PlanLot{}, Ends: []book.LineEnd{},
		Left: append([]book.LeftOut{}, p.left...), Notes: append([]book.LeftOut{}, p.notes...), Jobs: keepJobs(p.Problem),
		PlanTotals: p.totals(sc.Totals), BoundHours: -1, Gap: -1, Complete: sc.Complete, Chance: p.w.Chance / 100, Weights: p.w.Weights(),
	}
	if !q.NoBound {
		out.BoundHours, out.Gap = math.Min(sc.Bound, sc.Lateness)/3600, sc.Gap()
	}
	for m, st := range p.stations {
		pm := book.PlanMachine{ID: st.ID, Name: st.Name, Heads: st.heads, Open: []book.Span{}, Asks: p.Machines[m].Attention}
		for _, win := range p.Machines[m].Windows {
			if win.From <= sc.MakeSpan || len(pm.Open) == 0 { // none would be always
				pm.Open = append(pm.Open, book.Span{From: p.utc(win.From), To: p.utc(win.To)})
			}
		}
		out.Machines = append(out.Machines, pm)
		out.Hands += p.Machines[m].Attention
	}
	late := p.writeEnds(sc, out)
	for i := range sc.Lots {
		l := p.lot(&sc.Lots[i])
		l.Late = late[jobID(p.jobs[sc.Lots[i].Job].order, p.jobs[sc.Lots[i].Job].line)]
		out.Lots = append(out.Lots, l)
	}
	out.Late = len(late)
	for _, u := range sc.Unplaced {
		out.Left = append(out.Left, leftOut(p.jobs[u.Job].order, p.jobs[u.Job].line, u.Why))
	}
	for _, n := range sc.Notes {
		out.Notes = append(out.Notes, leftOut(p.jobs[n.Job].order, p.jobs[n.Job].line, n.Say))
	}
	return out
}

// utc is a moment of the problem in whole seconds: the plan's own reckoning
// ends a lot some microseconds after the next one's beginning, which no
// calendar should show.
func (p *problem) utc(sec float64) time.Time { return p.At(math.Round(sec - 1e-3)).UTC() }

// lot is a lot in the shop's words; whether it is late is for the caller.
func (p *problem) lot(l *plan.Lot) book.PlanLot {
	of, st := p.jobs[l.Job], p.stations[l.Machine]
	colour := of.colour()
	name := strings.TrimSpace(book.LineName(of.order, of.line.Line) + " " + colour)
	return book.PlanLot{
		Job: p.Jobs[l.Job].ID, OrderID: of.order.ID, Number: of.order.Number, Line: of.line.Line,
		Name: name, Customer: of.order.Customer, DesignID: of.line.DesignID,
		Colour: colour, MachineID: st.ID, Machine: st.Name, Heads: min(st.heads, l.Quantity), Quantity: l.Quantity, Runs: l.Runs,
		SetupFrom: p.utc(l.SetupFrom), From: p.utc(l.From), To: p.utc(l.To), Setup: l.Setup, Work: l.Work,
		Cones:   l.Cones,
		Running: l.Running, Held: of.hold != nil, Again: of.again,
	}
}

// writeEnds writes when every line is done, which is when its last part is, and
// says which lines are late, by their jobs' ID.
func (p *problem) writeEnds(sc *plan.Schedule, out *book.Plan) (late map[string]bool) {
	late = map[string]bool{}
	ends := sc.Ends(p.Problem)
	at := map[string]int{}
	for i := range p.Jobs {
		if math.IsNaN(ends[i]) {
			continue
		}
		of := p.jobs[i]
		id := jobID(of.order, of.line)
		k, ok := at[id]
		if !ok {
			k = len(out.Ends)
			at[id] = k
			e := book.LineEnd{
				OrderID: of.order.ID, Number: of.order.Number, Line: of.line.Line,
				Name:     book.LineName(of.order, of.line.Line),
				Customer: of.order.Customer, DueDay: of.order.Wanted(), Latest: of.order.Latest, OnTime: -1,
			}
			if !math.IsInf(p.Jobs[i].Due, 1) {
				e.Due = p.utc(p.Jobs[i].Due)
			}
			out.Ends = append(out.Ends, e)
		}
		e := &out.Ends[k]
		e.Quantity += p.Jobs[i].Quantity
		if t := p.utc(ends[i]); t.After(e.End) {
			e.End = t
		}
	}
	out.Ends = append(out.Ends, p.partnerEnds()...)
	for i := range out.Ends {
		e := &out.Ends[i]
		e.Day = p.w.DayFor(e.End)
		doneOn(e, e.Day)
		if s := e.End.Sub(e.Due).Seconds(); !e.Due.IsZero() && s >= lateFrom {
			e.Late = s
			late[fmt.Sprintf("%s/%d", e.OrderID, e.Line)] = true
		}
	}
	return late
}

// doneOn says that the customer has a line on a day if all goes as planned: that, and not the
// later day that could be promised, is too late or not.
func doneOn(e *book.LineEnd, day words.Day) {
	e.DoneDay, e.TooLate = day, !e.Latest.IsZero() && day.After(e.Latest)
}

func leftOut(o *book.Order, l *book.OrderLine, why words.Message) book.LeftOut {
	return book.LeftOut{OrderID: o.ID, Number: o.Number, Line: l.Line, Customer: o.Customer, Why: why.Raw(), Say: words.Kept{Message: why}}
}

func (p *problem) totals(t plan.Totals) book.PlanTotals {
	out := book.PlanTotals{
		Late: t.Late, LateHours: t.Lateness / 3600, Done: p.At(t.MakeSpan).UTC(),
		SetupHours: t.Setup / 3600, WorkHours: t.Work / 3600,
	}
	p.goal(t, &out)
	return out
}
