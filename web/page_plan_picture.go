package web

import (
	"fmt"

	"needlepace/picture"
	"needlepace/shop"
)

// gantt is a plan as rows of strips. against, if not nil, is the plan it is
// held against: lots that stand there too are pale.
func gantt(p *shop.Plan, d when, name, text string, against *shop.Plan) *picture.Gantt {
	g := p.Gantt(shop.GanttWords{Day: d.Day, Lot: func(l *shop.PlanLot) string { return lotText(l, d) }}, d.loc, against)
	g.Name, g.Text = name, text
	return g
}

// lotText says what a lot is, in a line.
func lotText(l *shop.PlanLot, d when) string {
	s := fmt.Sprintf("%s, %s, %s, %s to %s", l.Name, l.Customer, count(l.Quantity, "piece", "pieces"), d.At(l.From), d.At(l.To))
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

// planSum is what a plan comes to, in a line.
func planSum(p *shop.Plan, d when) string {
	s := fmt.Sprintf("%s on %s", count(len(p.Lots), "lot", "lots"), count(len(p.Machines), "machine", "machines"))
	if len(p.Lots) > 0 {
		s += ", all sewn " + d.At(p.Done)
	}
	if p.Late == 0 {
		return s + "; none is late."
	}
	return s + fmt.Sprintf("; %s late, %s late hours by priority.", count(p.Late, "line is", "lines are"), fixed(p.LateHours, 1))
}

// ganttPic is the plan in the width of a page and of a phone.
func ganttPic(p *shop.Plan, d when, name, text string, against *shop.Plan) pic {
	wide, narrow := gantt(p, d, name, text, against), gantt(p, d, name, text, against)
	wide.Width, narrow.Width = 1070, 350
	return pic{wide, narrow}
}

// boundText says how much better a plan could be.
func boundText(p *shop.Plan) string {
	switch {
	case len(p.Lots) == 0:
		return ""
	case p.Late == 0:
		return "So no other plan does better by its due days."
	case p.BoundHours < 0:
		return ""
	case p.BoundHours < .05:
		return "It is not proved how few late hours there must be."
	case p.Gap <= 1e-9:
		return "No plan has fewer late hours: this is proved."
	}
	return fmt.Sprintf("No plan can have fewer than %s late hours: a gap of at most %.0f %%.", fixed(p.BoundHours, 1), 100*p.Gap+.499)
}
