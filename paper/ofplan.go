package paper

import (
	"fmt"

	"needlepace/book"
	"needlepace/words"
)

// PlanSheets are a plan's lots and its lines' days as tables.
func PlanSheets(p *book.Plan) []Sheet {
	loc := p.Zone.Location()
	lots := Sheet{Name: "Plan", Columns: []Column{
		{Head: "machine", Width: 18}, {Head: "order"}, {Head: "line"}, {Head: "customer", Width: 28},
		{Head: "pieces"}, {Head: "runs"}, {Head: "heads"}, {Head: "cones"},
		{Head: "set_up_from", Width: 18}, {Head: "from", Width: 18}, {Head: "to", Width: 18},
		{Head: "set_up_minutes", Format: "0"}, {Head: "work_hours", Format: "0.00"},
		{Head: "running"}, {Head: "held"}, {Head: "late"},
	}}
	yes := func(b bool) any {
		if b {
			return "yes"
		}
		return nil
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		lots.Rows = append(lots.Rows, []any{l.Machine, l.Number, l.Line, l.Customer, l.Quantity, l.Runs, l.Heads, l.Cones,
			l.SetupFrom.In(loc), l.From.In(loc), l.To.In(loc), l.Setup / 60, l.Work / 3600,
			yes(l.Running), yes(l.Held), yes(l.Late)})
	}
	days := Sheet{Name: "Days", Columns: []Column{
		{Head: "order"}, {Head: "line"}, {Head: "customer", Width: 28}, {Head: "to_sew"},
		{Head: "due", Width: 18}, {Head: "sewn_by_plan", Width: 18}, {Head: "late_hours", Format: "0.0"},
		{Head: "chance_on_time", Format: "0%"}, {Head: "promise", Width: 14}, {Head: "promise_chance", Format: "0%"},
	}}
	for _, e := range p.Ends {
		var due, chance any
		if !e.Due.IsZero() {
			due = e.Due.In(loc)
		}
		if e.OnTime >= 0 {
			chance = e.OnTime
		}
		days.Rows = append(days.Rows, []any{e.Number, e.Line, e.Customer, e.Quantity, due, e.End.In(loc),
			e.Late / 3600, chance, e.Day.String(), p.Chance})
	}
	return []Sheet{lots, days}
}

// PlanCalendar is a plan's lots as appointments: one for each stretch of
// working hours that a lot stands in would be many; one a lot, from its set-up
// to its end, is what a calendar is looked at for.
func PlanCalendar(p *book.Plan, shopName string) *Calendar {
	c, loc := &Calendar{Name: shopName + ": plan", Made: p.Made}, p.Zone.Location()
	for i := range p.Lots {
		l := &p.Lots[i]
		e := Event{
			UID: l.Job + "@" + l.MachineID + ".needlepace", Start: l.SetupFrom, End: l.To,
			Summary: fmt.Sprintf("%s %s: %s on %s",
				l.Name, l.Customer, words.Count(l.Quantity, "piece").Text(nil), l.Machine),
			Description: fmt.Sprintf("%s; set-up %.0f min, %s to put on; sewing from %s", words.Count(l.Runs, "run").Text(nil),
				l.Setup/60, words.Count(l.Cones, "cone").Text(nil), l.From.In(loc).Format("2 January 15:04")),
			Location: l.Machine, Categories: []string{l.Machine},
		}
		if l.Late {
			e.Categories = append(e.Categories, "late")
		}
		c.Events = append(c.Events, e)
	}
	return c
}
