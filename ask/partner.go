package ask

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/words"
)

// atPartner is a line that a partner makes, and when it is back.
type atPartner struct {
	order *book.Order
	line  *book.OrderLine
	book.AtPartner
}

// toPartner takes a line that a partner makes into the plan: it stands on no machine.
func (p *problem) toPartner(o *book.Order, l *book.OrderLine) {
	at := l.AtPartner(o.Goods, p.w.Zone.Day(p.Origin))
	if !at.Late.IsZero() {
		p.notes = append(p.notes, leftOut(o, l, words.Say("plan-why.not-back", words.Args{"partner": words.Name(l.Partner.Name), "day": at.Late, "for": at.Back})))
	}
	p.partners = append(p.partners, atPartner{o, l, at})
}

// ready is the moment at which what is back from a partner on a day may leave.
func (a *atPartner) ready(w *book.Workshop) time.Time { return w.DueTime(a.Back.Add(w.HandOver)) }

// partnerEnds are the ends of the lines that partners make: at their word, with no
// chance reckoned.
func (p *problem) partnerEnds() (out []book.LineEnd) {
	for i := range p.partners {
		a := &p.partners[i]
		e := book.LineEnd{OrderID: a.order.ID, Number: a.order.Number, Line: a.line.Line, Name: book.LineName(a.order, a.line.Line),
			Customer: a.order.Customer, Quantity: a.line.Left(), DueDay: a.order.Wanted(), Latest: a.order.Latest,
			End: a.ready(p.w).UTC(), OnTime: -1, Partner: a.line.Partner.Name}
		if !e.DueDay.IsZero() {
			e.Due = p.w.DueTime(e.DueDay).UTC()
		}
		out = append(out, e)
	}
	return out
}

// wholes are the jobs that count as one where days are promised: those of one line,
// and of an order that leaves in one delivery.
func (p *problem) wholes() [][]int {
	at := map[string]int{}
	var out [][]int
	for i := range p.jobs {
		of := &p.jobs[i]
		id := jobID(of.order, of.line)
		if of.order.Together {
			id = of.order.ID
		}
		k, ok := at[id]
		if !ok {
			k = len(out)
			at[id], out = k, append(out, nil)
		}
		out[k] = append(out[k], i)
	}
	return slices.DeleteFunc(out, func(jobs []int) bool { return len(jobs) < 2 })
}

// orderJobs are the jobs of each order that has several lines to sew and whose lines need not
// leave together.
func (p *problem) orderJobs() (out [][]int) {
	at := map[*book.Order]int{}
	for i := range p.jobs {
		o := p.jobs[i].order
		if o.Together {
			continue
		}
		k, ok := at[o]
		if !ok {
			k = len(out)
			at[o], out = k, append(out, nil)
		}
		out[k] = append(out[k], i)
	}
	return slices.DeleteFunc(out, func(jobs []int) bool {
		return !slices.ContainsFunc(jobs, func(i int) bool { return p.jobs[i].line != p.jobs[jobs[0]].line })
	})
}

// oneDelivery gives the lines of each order that leaves in one delivery the day and
// the chance of the last of them, and says which that is.
func (p *problem) oneDelivery(out *book.Plan) {
	for _, o := range p.orders {
		if !o.Together || len(o.Lines) < 2 {
			continue
		}
		var ends []*book.LineEnd
		for i := range out.Ends {
			if out.Ends[i].OrderID == o.ID {
				ends = append(ends, &out.Ends[i])
			}
		}
		if len(ends) == 0 {
			continue
		}
		var day words.Day
		last, chance, late := ends[0], -1.0, false
		for _, e := range ends {
			if e.End.After(last.End) {
				last = e
			}
			if e.Day.After(day) {
				day = e.Day
			}
			if e.OnTime >= 0 && (chance < 0 || e.OnTime < chance) {
				chance = e.OnTime
			}
			late = late || e.Partner != "" && e.Late > 0
		}
		var wait []string
		for _, e := range ends {
			e.Day, e.OnTime = day, chance
			if late { // a partner's word is no chance
				e.OnTime = 0
			}
			doneOn(e, last.DoneDay)
			if e != last {
				wait = append(wait, fmt.Sprint(e.Line))
			}
		}
		for _, l := range out.Left {
			if l.OrderID == o.ID {
				out.Notes = append(out.Notes, leftOut(o, o.Line(l.Line), words.Say("plan-why.delivery-waits")))
			}
		}
		if len(wait) > 0 {
			out.Notes = append(out.Notes, leftOut(o, o.Line(last.Line), words.Say("plan-why.delivery", words.Args{"n": words.Whole(len(wait)),
				"lines": words.Name(strings.Join(wait, ", ")), "day": day})))
		}
	}
}
